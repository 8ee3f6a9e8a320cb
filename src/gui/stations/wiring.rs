//! Wiring: what answered each control, the names found, and every finding with what to do.
use egui::{Key, Rect, ScrollArea, TextEdit, Ui};

use super::{Station, View, action_button};
use crate::desk::{Checked, Desk, by_what_blocks};
use crate::findings::{Finding, Severity};
use crate::gui::actions::{Action, EditVerb, LinkVerb, Screen, TraceVerb};
use crate::gui::look::{Type, size};
use crate::gui::names;
use crate::gui::parts::card::{card_at, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::finding::{finding_ui, state_of, title, unfolded};
use crate::gui::parts::response::{Response, response_ui};
use crate::gui::parts::state_mark::State;
use crate::gui::practice;
use crate::rig::{Place, Task};
use crate::survey::{Channel, Code, HeardAll};
use crate::wire::Role;

/// Width of the findings beside the matrix.
const SIDE: f32 = 384.0;
/// Below this width of the page they stand under one another.
const NARROW: f32 = 900.0;

/// What the station keeps to itself: the finding whose reason is being typed, and the reason.
#[derive(Default)]
pub struct Wiring {
    asked: Option<(Code, Place)>,
    reason: String,
    /// The field has just been opened and wants the keyboard.
    fresh: bool,
    /// What the person is about to name under practice.
    naming: Option<&'static str>,
}

impl Station for Wiring {
    fn screen(&self) -> Screen {
        Screen::Wiring
    }

    fn state(&self, view: &View<'_>) -> State {
        let Some(results) = view.desk.results() else { return State::NotStarted };
        if view.desk.keeps_back() {
            return State::Now;
        }
        let checked = view.desk.checked();
        let open = results.findings.iter().find(|f| !is_checked(&checked, f));
        match open.map(|f| f.severity) {
            Some(severity) if severity < Severity::Note => state_of(severity),
            _ if results.naming.is_some() => State::Done,
            _ => State::NotStarted,
        }
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        (view.desk.session().rows() == 0).then_some(
            "What answers each control, and what is wrong, will stand here; connect a board in Link",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        if let Some(sentence) = self.missing(view) {
            empty_ui(ui, sentence);
            let coming = view.desk.practice_is_coming();
            let can = if coming { Err("A board is being built") } else { Ok(()) };
            let button = |ui: &mut Ui| action_button(ui, &Action::Link(LinkVerb::Practise), can);
            if ui.vertical_centered(button).inner {
                actions.push(Action::Link(LinkVerb::Practise));
            }
            return;
        }
        // On a narrow page the findings stand below the matrix, else it would have no columns.
        let narrow = ui.available_width() < NARROW;
        page_ui(ui, if narrow { 1040.0 } else { 420.0 }, |ui, page| {
            let (main, side) = match narrow {
                true => cut_top(page, 640.0),
                false => cut_right(page, SIDE.min(page.width() * 0.36)),
            };
            let offered = view.desk.guided().is_some_and(|run| run.offered().is_some());
            let main = match view.desk.names_found().filter(|_| !offered) {
                Some(naming) => {
                    let (top, rest) =
                        cut_top(main, names::height(naming).min(main.height() * 0.45));
                    names::names_ui(ui, top, naming, true, actions);
                    rest
                }
                None => main,
            };
            matrix_ui(ui, main, view.desk, actions);
            match view.desk.keeps_back() {
                true => practice::ask_ui(ui, side, &mut self.naming, actions),
                false => self.findings_ui(ui, side, view, actions),
            }
        });
    }
}

fn is_checked(checked: &[Checked], finding: &Finding) -> bool {
    checked.iter().any(|c| c.covers(finding))
}

/// The roll-call under way, else that of the newest results: what was heard, and what the controls
/// are called.
fn heard(desk: &Desk) -> Option<(&HeardAll, Vec<String>)> {
    if let Some(heard) = desk.guided().and_then(|run| run.heard()) {
        let called = heard.asked.iter().map(|c| desk.rig().control_words(*c)).collect();
        return Some((heard, called));
    }
    let naming = desk.results()?.naming.as_ref()?;
    Some((&naming.heard, naming.called.clone()))
}

/// The row of the control that is asked for at this moment: the last one of a roll-call that goes on.
fn under_way(desk: &Desk, heard: &HeardAll) -> Option<usize> {
    let run = desk.guided()?;
    let asking = run.task() == Some(Task::RollCall) && run.offered().is_none();
    heard.asked.len().checked_sub(1).filter(|_| asking && run.heard().is_some())
}

fn matrix_ui(ui: &mut Ui, rect: Rect, desk: &Desk, actions: &mut Vec<Action>) {
    card_at(ui, rect, "What answered the roll-call", |ui| {
        let Some((heard, called)) = heard(desk) else {
            let words = "Each control is asked for once in the guided run; what moves stands here";
            ui.label(Type::Label.soft(ui, words));
            let start = Action::Run(crate::gui::actions::RunVerb::Start);
            if desk.guided().is_none() && action_button(ui, &start, Ok(())) {
                actions.push(start);
            }
            return;
        };
        let words = "filled = the reading rose, open = it fell, the larger the farther; \
            the frame marks the answer";
        ui.label(Type::Note.soft(ui, words));
        let channels: Vec<String> = heard.channels.iter().map(|c| channel_name(desk, *c)).collect();
        let column = |k: usize| {
            let channel = heard.of(*heard.asked.get(k)?)?.channel;
            heard.channels.iter().position(|c| *c == channel)
        };
        let answered: Vec<Option<usize>> = (0..heard.asked.len()).map(column).collect();
        let matrix = Response {
            controls: &called,
            channels: &channels,
            shares: &heard.shares,
            answered: &answered,
            under_way: under_way(desk, heard),
        };
        let height = ui.available_height();
        ScrollArea::vertical().id_salt("matrix").auto_shrink([false, false]).show(ui, |ui| {
            response_ui(ui, &matrix, height);
        });
    });
}

/// A channel in a few letters: by the role in force, else by its place in the line.
fn channel_name(desk: &Desk, channel: Channel) -> String {
    let role = |field: usize| desk.session().roles().get(field).copied();
    match channel {
        Channel::Field(field) => match role(field) {
            Some(Role::Axis(axis)) => axis.key().to_owned(),
            _ => format!("f{}", field + 1),
        },
        Channel::Bit(field, bit) => match role(field) {
            Some(Role::Buttons) => format!("b{bit}"),
            Some(Role::Button(n)) => format!("b{n}"),
            _ => format!("f{}.{bit}", field + 1),
        },
    }
}

impl Wiring {
    fn findings_ui(&mut self, ui: &mut Ui, rect: Rect, view: &View<'_>, actions: &mut Vec<Action>) {
        card_at(ui, rect, "What stands out, what blocks most first", |ui| {
            let Some(results) = view.desk.results() else {
                ui.label(Type::Note.soft(ui, "nothing measured yet"));
                return;
            };
            if let Some(answer) = view.desk.practice().and_then(|p| p.answer()) {
                practice::answer_ui(ui, view.desk, &answer, actions);
            }
            let checked = view.desk.checked();
            let all = by_what_blocks(&results.findings);
            let (aside, open): (Vec<&Finding>, Vec<&Finding>) =
                all.into_iter().partition(|f| is_checked(&checked, f));
            if open.is_empty() {
                ui.label(Type::Note.soft(ui, "nothing, as far as the data go"));
            }
            // What is no note has a button below it, what was set aside a line or two.
            let buttons = open.iter().filter(|f| f.severity != Severity::Note).count() as f32;
            let rooms = unfolded(ui, &open, 8.0, buttons * 40.0 + aside.len() as f32 * 56.0 + 40.0);
            ScrollArea::vertical().id_salt("findings").auto_shrink([false, false]).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = size::PAGE / 2.0;
                for (finding, room) in open.into_iter().zip(rooms) {
                    let key = (finding.code, finding.place);
                    ui.push_id(key, |ui| self.card_ui(ui, finding, room, actions));
                }
                if !aside.is_empty() {
                    ui.label(Type::Chosen.text(ui, "Checked and set aside"));
                }
                for finding in aside {
                    let key = ("aside", finding.code, finding.place);
                    ui.push_id(key, |ui| aside_ui(ui, finding, &checked, actions));
                }
            });
        });
    }

    /// A finding with its way to the traces and its way out.
    fn card_ui(&mut self, ui: &mut Ui, finding: &Finding, room: bool, actions: &mut Vec<Action>) {
        if finding_ui(ui, finding, room)
            && let Some(span) = finding.span
        {
            actions.push(Action::Trace(TraceVerb::Inspect(span)));
        }
        if finding.severity == Severity::Note {
            return;
        }
        let me = (finding.code, finding.place);
        if self.asked.as_ref() != Some(&me) {
            let name = format!("Checked, ignore {}", title(finding));
            let button = ui.button(Type::Note.text(ui, "Checked, ignore…"));
            button
                .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, name.as_str()));
            if button.clicked() {
                (self.asked, self.fresh) = (Some(me), true);
                self.reason.clear();
            }
            return;
        }
        ui.horizontal(|ui| {
            let hint = "why it is as it should be";
            let wide = (ui.available_width() - 168.0).max(80.0);
            let field = TextEdit::singleline(&mut self.reason).hint_text(hint).char_limit(200);
            let field = ui.add(field.desired_width(wide)).accessible_name("Reason");
            if std::mem::take(&mut self.fresh) {
                field.request_focus();
            }
            let entered = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            let ready = !self.reason.trim().is_empty();
            let pressed = ui.add_enabled(ready, egui::Button::new("Set aside")).clicked();
            if ready && (entered || pressed) {
                let reason = std::mem::take(&mut self.reason);
                actions.push(Action::Edit(EditVerb::CheckOff(me.0, me.1, reason)));
                self.asked = None;
            } else if ui.button("Cancel").clicked() {
                self.asked = None;
            }
        });
    }
}

/// A finding set aside: a line with its reason, and the way back.
fn aside_ui(ui: &mut Ui, finding: &Finding, checked: &[Checked], actions: &mut Vec<Action>) {
    let found = checked.iter().find(|c| c.covers(finding));
    let reason = found.map_or("", |c| c.reason.as_str());
    ui.vertical(|ui| {
        let words = Type::Note.text(ui, format!("{}: {reason}", title(finding)));
        ui.add(egui::Label::new(words).wrap());
        // On a line of its own: a link that broke in two would be missed.
        if ui.link(Type::Note.text(ui, "Count it again")).clicked() {
            actions.push(Action::Edit(EditVerb::CheckOff(
                finding.code,
                finding.place,
                String::new(),
            )));
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::rig::AxisId;

    #[test]
    fn a_finding_is_set_aside_by_code_and_place() {
        let checked = [Checked {
            code: Code::NoisyInput,
            place: Place::Axis(AxisId::Lx),
            reason: "a long cable".to_owned(),
        }];
        let finding = |code, axis| Finding {
            code,
            place: Place::Axis(axis),
            severity: Severity::Fault,
            evidence: String::new(),
            remedy: String::new(),
            caution: None,
            span: None,
        };
        assert!(is_checked(&checked, &finding(Code::NoisyInput, AxisId::Lx)));
        assert!(!is_checked(&checked, &finding(Code::NoisyInput, AxisId::Ly)));
        assert!(!is_checked(&checked, &finding(Code::WornTrack, AxisId::Lx)));
    }
}
