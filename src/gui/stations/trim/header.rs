//! The header's text, what differs from the one saved last, and the constants with their sources.
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

use egui::{Label, Rect, ScrollArea, Sense, Ui, vec2};

use super::{TrimStation, sources};
use crate::desk::{Results, Saved};
use crate::gui::actions::{Action, OutputVerb};
use crate::gui::apply::output_stem;
use crate::gui::look::{Palette, Type};
use crate::gui::parts::card::card_at;
use crate::gui::parts::changes::{Change, changed_lines};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::state_mark::State;
use crate::gui::stations::{View, save_buttons};
use crate::trim::Refusal;

/// How often the saved header is looked for.
const LOOK: Duration = Duration::from_secs(1);
/// A larger file is no header of ours, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// Which text the card shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Shown {
    /// The whole header.
    #[default]
    Whole,
    /// What differs from the one saved last.
    Changes,
    /// Constants beside their readings.
    Constants,
}

/// The header that stands where this one would be saved.
#[derive(Default)]
pub(super) struct LastSaved {
    path: PathBuf,
    looked: Option<Instant>,
    changed: Option<SystemTime>,
    text: Option<String>,
    /// What differs, and from which new text.
    compared: Option<(String, Vec<(Change, String)>)>,
}

impl LastSaved {
    /// Looks at the file again, once a second.
    fn follow(&mut self, path: &Path) {
        let same = self.path == path;
        if same && self.looked.is_some_and(|t| t.elapsed() < LOOK) {
            return;
        }
        let about = std::fs::metadata(path).ok().filter(|a| a.is_file() && a.len() <= MOST_BYTES);
        let changed = about.as_ref().and_then(|a| a.modified().ok());
        if !same || changed != self.changed {
            let text = about.and_then(|_| std::fs::read_to_string(path).ok());
            *self = LastSaved { path: path.to_owned(), changed, text, ..LastSaved::default() };
        }
        self.looked = Some(Instant::now());
    }

    /// The lines that differ; `None` when nothing was saved there.
    fn changes(&mut self, new: &str) -> Option<&[(Change, String)]> {
        let old = self.text.as_deref()?;
        if self.compared.as_ref().is_none_or(|(text, _)| text != new) {
            let changes = changed_lines(old, new);
            let changes = changes.into_iter().map(|(c, line)| (c, line.to_owned())).collect();
            self.compared = Some((new.to_owned(), changes));
        }
        self.compared.as_ref().map(|(_, changes)| changes.as_slice())
    }
}

impl TrimStation {
    pub(super) fn header_ui(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        view: &View<'_>,
        results: &Results,
        actions: &mut Vec<Action>,
    ) {
        let text = view.desk.header_text();
        let stem = output_stem(view.desk);
        self.saved.follow(&view.folder.join(format!("{stem}.{}", Saved::Header.ending())));
        card_at(ui, rect, "Header", |ui| {
            self.controls_ui(ui, &text, results, actions);
            match self.shown {
                Shown::Whole => whole_ui(ui, &text, &results.solution.trim.refusals),
                Shown::Changes => self.changes_ui(ui, &text),
                Shown::Constants => {
                    sources::constants_ui(ui, &results.solution.trim, actions);
                }
            }
        });
    }

    fn controls_ui(
        &mut self,
        ui: &mut Ui,
        text: &Result<String, String>,
        results: &Results,
        actions: &mut Vec<Action>,
    ) {
        ui.horizontal(|ui| {
            save_buttons(ui, text, &[Saved::Header], actions);
            let copy = ui.add_enabled(text.is_ok(), egui::Button::new("Copy"));
            if copy.clicked() {
                actions.push(Action::Output(OutputVerb::Copy(match (self.shown, text) {
                    (Shown::Constants, _) => sources::as_text(&results.solution.trim),
                    (Shown::Changes, Ok(text)) => self.changes_as_text(text),
                    (_, text) => text.clone().unwrap_or_default(),
                })));
            }
            copy.on_hover_text("Put what is shown here on the clipboard")
                .on_disabled_hover_text("There is no header yet");
        });
        let count = text.as_ref().ok().and_then(|t| self.saved.changes(t)).map(<[_]>::len);
        let changes = match count {
            Some(0) => "No changes".to_owned(),
            Some(n) => format!("Changes, {n} lines"),
            None => "Changes".to_owned(),
        };
        let names = ["Whole text", changes.as_str(), "Constants"];
        if let Some(k) = choice_ui(ui, &names, self.shown as usize) {
            self.shown = [Shown::Whole, Shown::Changes, Shown::Constants][k];
        }
    }

    fn changes_as_text(&mut self, text: &str) -> String {
        let changes = self.saved.changes(text).unwrap_or_default();
        let lines: Vec<String> =
            changes.iter().map(|(c, line)| format!("{} {line}", sign(*c))).collect();
        lines.join("\n")
    }

    /// Draws the lines that differ from the header that was saved last.
    fn changes_ui(&mut self, ui: &mut Ui, text: &Result<String, String>) {
        let text = match text {
            Ok(text) => text,
            Err(why) => {
                ui.add(Label::new(Type::Label.soft(ui, why.as_str())).wrap());
                return;
            }
        };
        let place = self.saved.path.display().to_string();
        let Some(changes) = self.saved.changes(text) else {
            let words =
                format!("Nothing was saved yet as {place}; what changes since will stand here");
            ui.add(Label::new(Type::Label.soft(ui, words)).wrap());
            return;
        };
        let words = match changes.len() {
            0 => format!("The same as {place}"),
            _ => format!("− in {place}, + now"),
        };
        ui.add(Label::new(Type::Note.soft(ui, words)).wrap());
        ScrollArea::both().id_salt("changes").auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            for (change, line) in changes {
                let line = format!("{} {line}", sign(*change));
                let line = match change {
                    Change::Gone => Type::Raw.soft(ui, line),
                    Change::New => Type::Raw.text(ui, line),
                };
                ui.add(Label::new(line).selectable(true).extend());
            }
        });
    }
}

fn sign(change: Change) -> &'static str {
    match change {
        Change::Gone => "−",
        Change::New => "+",
    }
}

fn whole_ui(ui: &mut Ui, text: &Result<String, String>, refusals: &[Refusal]) {
    ScrollArea::both().id_salt("header").auto_shrink([false, false]).show(ui, |ui| {
        for words in refusal_words(refusals) {
            ui.horizontal_wrapped(|ui| {
                let (mark, _) = ui.allocate_exact_size(vec2(20.0, 18.0), Sense::hover());
                State::Warning.paint(ui.painter(), mark.center(), Palette::of(ui));
                ui.add(Label::new(Type::Note.text(ui, words)).wrap());
            });
        }
        match text {
            Ok(text) => {
                ui.add(Label::new(Type::Raw.text(ui, text.as_str())).selectable(true).extend());
            }
            Err(why) => {
                ui.add(Label::new(Type::Label.soft(ui, why.as_str())).wrap());
            }
        }
    });
}

/// One line a reason: parts refused for the same reason with the same advice stand together.
fn refusal_words(refusals: &[Refusal]) -> Vec<String> {
    let mut groups: Vec<(&Refusal, Vec<&str>)> = Vec::new();
    for refusal in refusals {
        let same = |g: &&mut (&Refusal, Vec<&str>)| {
            (&g.0.why, &g.0.advice) == (&refusal.why, &refusal.advice)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.1.push(&refusal.what),
            None => groups.push((refusal, vec![&refusal.what])),
        }
    }
    groups
        .into_iter()
        .map(|(refusal, parts)| {
            let parts = match parts.as_slice() {
                [first, .., last] if parts.len() > 3 => {
                    format!("{first} to {last}, {} parts", parts.len())
                }
                few => few.join(", "),
            };
            format!("{parts}: {}; {}", refusal.why, refusal.advice)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{Half, Place};
    use crate::survey::Code;

    #[test]
    fn parts_refused_alike_stand_together() {
        let refusal =
            |place, why: &str| Refusal::of(place, Code::NotEnoughData, why.to_owned(), "press it");
        let list: Vec<Refusal> = (0..5)
            .map(|k| refusal(Place::Button(k), "no presses"))
            .chain([refusal(Place::Stick(Half::Left), "no releases")])
            .collect();
        let words = refusal_words(&list);
        assert_eq!(words.len(), 2);
        assert!(words[0].starts_with("button b0 to button b4, 5 parts: no presses"), "{words:?}");
    }
}
