//! Practice in the Wiring station: what may be named, and what it was.
use crate::survey::Code;
use egui::{Label, Rect, ScrollArea, Sense, Stroke, Ui, vec2};

use super::actions::{Action, LinkVerb};
use super::look::{Palette, Type};
use super::parts::card::card_at;
use super::parts::state_mark::State;
use super::stations::action_button;
use crate::desk::{Answer, Desk, NOTHING_WRONG, practice_names};

/// Draws what can be named in `rect`; the findings would stand there.
pub fn ask_ui(
    ui: &mut Ui,
    rect: Rect,
    chosen: &mut Option<&'static str>,
    actions: &mut Vec<Action>,
) {
    card_at(ui, rect, "Practice: what is wrong with this board?", |ui| {
        let words = "One fault, or none. Look at Traces, Sticks, Triggers and Buttons; no finding \
            is shown before you name it.";
        ui.add(Label::new(Type::Note.soft(ui, words)).wrap());
        ui.horizontal(|ui| {
            let ready = chosen.is_some();
            let button = ui.add_enabled(ready, egui::Button::new("Name it"));
            let button = button.on_disabled_hover_text("Choose a name below first");
            if let (true, Some(code)) = (button.clicked(), *chosen) {
                actions.push(Action::Link(LinkVerb::NameFault(code.to_owned())));
                *chosen = None;
            }
            if action_button(ui, &Action::Link(LinkVerb::LeavePractice), Ok(())) {
                actions.push(Action::Link(LinkVerb::LeavePractice));
            }
        });
        ScrollArea::vertical().id_salt("names").auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            // A ring that stands off the card in both themes.
            let p = Palette::of(ui);
            let rings = &mut ui.visuals_mut().widgets.inactive;
            (rings.bg_fill, rings.bg_stroke) = (p.card, Stroke::new(1.25, p.soft));
            for code in practice_names() {
                let name = Type::Label.text(ui, title(code));
                if ui.radio(*chosen == Some(code), name).clicked() {
                    *chosen = Some(code);
                }
            }
        });
    });
}

/// Draws what was named and what it was, above the findings.
pub fn answer_ui(ui: &mut Ui, desk: &Desk, answer: &Answer<'_>, actions: &mut Vec<Action>) {
    let (state, words) = verdict(answer);
    ui.horizontal(|ui| {
        let (place, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
        state.paint(ui.painter(), place.center(), Palette::of(ui));
        let label = ui.add(Label::new(Type::Chosen.text(ui, words.as_str())).wrap());
        label.accessible_name(state.spoken(&words));
    });
    ui.add(Label::new(Type::Note.text(ui, format!("Planted: {}.", answer.line))).wrap());
    let score = desk.practice_score();
    let words = format!("Named right so far: {} of {}", score.right, score.all);
    ui.label(Type::Note.soft(ui, words));
    ui.horizontal(|ui| {
        let next = egui::Button::new("Next board")
            .shortcut_text(Action::Link(LinkVerb::Practise).key_words(ui.ctx()));
        let coming = desk.practice_is_coming();
        let button = ui.add_enabled(!coming, next).on_disabled_hover_text("It is being built");
        if button.on_hover_text(Action::Link(LinkVerb::Practise).hint()).clicked() {
            actions.push(Action::Link(LinkVerb::Practise));
        }
        if action_button(ui, &Action::Link(LinkVerb::LeavePractice), Ok(())) {
            actions.push(Action::Link(LinkVerb::LeavePractice));
        }
    });
    ui.separator();
}

fn verdict(answer: &Answer<'_>) -> (State, String) {
    let (named, truth) = (title(answer.named), title(answer.code));
    match answer.right {
        true => (State::Done, format!("Right: \u{201c}{truth}\u{201d}")),
        false => {
            let words = format!("You said \u{201c}{named}\u{201d}; it is \u{201c}{truth}\u{201d}");
            (State::Warning, words)
        }
    }
}

/// A name in words.
fn title(code: &str) -> String {
    let known = Code::parse(code).map(Code::title);
    known.unwrap_or(if code == NOTHING_WRONG { "Nothing is wrong" } else { code }).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_verdict_names_both_where_they_differ() {
        let answer = |named, right| Answer { named, code: "worn-track", line: "", right };
        assert_eq!(
            verdict(&answer("worn-track", true)).1,
            "Right: \u{201c}A worn spot on the track\u{201d}"
        );
        let wrong = verdict(&answer(NOTHING_WRONG, false)).1;
        let said = "You said \u{201c}Nothing is wrong\u{201d}";
        assert_eq!(wrong, format!("{said}; it is \u{201c}A worn spot on the track\u{201d}"));
    }
}
