//! The guided run on screen: its prompt above every station, and the review at its end.
use egui::{Label, Rect, ScrollArea, Sense, Ui, UiBuilder, vec2};

use super::actions::{Action, RunVerb, Screen};
use super::look::{Palette, Type, size};
use super::names;
use super::parts::card::{card_at, cut_right, cut_top, page_ui};
use super::parts::finding::state_of;
use super::parts::prompt_card::{self, Prompt, prompt_card_ui};
use super::parts::rail::RunProgress;
use super::parts::state_mark::State;
use super::stations::sheet::constants_ui;
use super::stations::{View, action_button, found, save_buttons};
use crate::desk::{Desk, Guided, Naming, Saved};
use crate::guide::Ending;
use crate::rig::{Rig, Task};

/// Room for the run's buttons in the prompt's card.
const BUTTONS: f32 = 320.0;

/// The station that shows best what a task is about.
pub fn place_of(task: Task) -> Screen {
    match task {
        Task::Rest => Screen::Traces,
        Task::RollCall => Screen::Wiring,
        Task::Roll | Task::Releases => Screen::Sticks,
        Task::Triggers => Screen::Triggers,
        Task::Buttons => Screen::Buttons,
    }
}

/// Progress for the rail.
pub fn progress(desk: &Desk) -> Option<RunProgress> {
    desk.guided().map(|run| {
        let (step, steps) = run.step();
        RunProgress { step, steps }
    })
}

/// Draws the prompt at the top of `page` and gives what is left for the station.
pub fn prompt_ui(
    ui: &mut Ui,
    page: Rect,
    rig: &Rig,
    run: &Guided,
    actions: &mut Vec<Action>,
) -> Rect {
    let (top, rest) = cut_top(page, prompt_card::height(page.width(), BUTTONS));
    let Some(task) = run.task() else { return page };
    if let Some(naming) = run.offered() {
        return offer_ui(ui, top, rest, naming, actions);
    }
    let said = run.prompt();
    let (share, pieces) = match task {
        Task::Rest => (said.share as f32, 8),
        // The ring is the gate: one piece a sector that was seen twice.
        Task::Roll => (said.count as f32 / 72.0, 72),
        Task::Releases => (said.share as f32, 16),
        Task::Triggers => (said.share as f32, 8),
        Task::Buttons | Task::RollCall => (said.share as f32, 0),
    };
    let count = said.count.to_string();
    let detail = with_names(rig, &said.detail);
    let prompt = Prompt {
        title: &said.title,
        detail: &detail,
        refusal: said.refusal.as_deref(),
        share,
        count: &count,
        pieces,
        keys: &[],
        buttons: BUTTONS,
    };
    prompt_card_ui(ui, top, &prompt);
    keys_ui(ui, top, actions);
    rest
}

/// What the roll-call found, to be taken or left before the run goes on.
fn offer_ui(
    ui: &mut Ui,
    top: Rect,
    rest: Rect,
    naming: &Naming,
    actions: &mut Vec<Action>,
) -> Rect {
    let count = naming.named.to_string();
    let prompt = Prompt {
        title: "Take the names found?",
        detail: "Space takes them and goes on, N leaves all as it is, Backspace calls again",
        refusal: None,
        share: naming.named as f32 / naming.asked.max(1) as f32,
        count: &count,
        pieces: 0,
        keys: &[],
        buttons: BUTTONS,
    };
    prompt_card_ui(ui, top, &prompt);
    keys_ui(ui, top, actions);
    let (card, rest) = cut_top(rest, names::height(naming).min(rest.height() * 0.5));
    names::names_ui(ui, card, naming, false, actions);
    rest
}

/// Says above a station that the review waits; gives what is left for the station.
pub fn waiting_ui(ui: &mut Ui, page: Rect, actions: &mut Vec<Action>) -> Rect {
    let (top, rest) = cut_top(page, 56.0);
    card_at(ui, top, "", |ui| {
        ui.horizontal(|ui| {
            ui.label(Type::Title.text(ui, "The review of the guided run waits"));
            for action in [Action::Run(RunVerb::Review), Action::Run(RunVerb::Stop)] {
                if action_button(ui, &action, Ok(())) {
                    actions.push(action);
                }
            }
        });
    });
    rest
}

/// Buttons by their names in the parts list, where the prompt has numbers: "b12" is "select".
fn with_names(rig: &Rig, detail: &str) -> String {
    let named = |word: &str| -> Option<String> {
        let digits = word.strip_prefix('b')?.trim_end_matches([',', ';']);
        let name = rig.buttons.get(digits.parse::<usize>().ok()?).filter(|n| !n.is_empty())?;
        Some(format!("{name}{}", &word[1 + digits.len()..]))
    };
    let words = detail.split(' ').map(|word| named(word).unwrap_or_else(|| word.to_owned()));
    words.collect::<Vec<_>>().join(" ")
}

/// The run's verbs with their keys, left of the ring.
fn keys_ui(ui: &mut Ui, card: Rect, actions: &mut Vec<Action>) {
    let rect = prompt_card::buttons_rect(card, BUTTONS);
    if prompt_card::is_narrow(card.width(), BUTTONS) {
        let verbs = [RunVerb::Accept, RunVerb::Redo, RunVerb::Skip, RunVerb::Stop];
        ui.scope_builder(UiBuilder::new().max_rect(rect), |ui| {
            ui.horizontal(|ui| {
                for action in verbs.map(Action::Run) {
                    if action_button(ui, &action, Ok(())) {
                        actions.push(action);
                    }
                }
            });
        });
        return;
    }
    ui.scope_builder(UiBuilder::new().max_rect(rect), |ui| {
        for pair in [[RunVerb::Accept, RunVerb::Redo], [RunVerb::Skip, RunVerb::Stop]] {
            let layout = egui::Layout::right_to_left(egui::Align::Center);
            ui.allocate_ui_with_layout(vec2(rect.width(), 32.0), layout, |ui| {
                for verb in pair.into_iter().rev() {
                    let action = Action::Run(verb);
                    if action_button(ui, &action, Ok(())) {
                        actions.push(action);
                    }
                }
            });
        }
    });
}

/// The review: one sentence a part, and what to do next.
pub fn review_ui(
    ui: &mut Ui,
    page: Rect,
    view: &View<'_>,
    run: &Guided,
    actions: &mut Vec<Action>,
) {
    let desk = view.desk;
    let (top, rest) = cut_top(page, prompt_card::height(page.width(), 0.0));
    let current = desk.review_is_ready();
    let ready = desk.header_text();
    let prompt = Prompt {
        title: "Look at the verdicts, then save",
        detail: "Space saves the header and ends the run, Backspace does the last step again",
        refusal: ready.as_ref().err().map(String::as_str).filter(|_| current),
        share: match current {
            true => 1.0,
            false => desk.measuring().map_or(0.0, |m| m as f32 / 1000.0),
        },
        count: if current { "ready" } else { "…" },
        pieces: 0,
        keys: &[],
        buttons: 0.0,
    };
    prompt_card_ui(ui, top, &prompt);
    let builder = UiBuilder::new().max_rect(rest).id_salt("review");
    ui.scope_builder(builder, |ui| verdicts_page_ui(ui, view, run, &ready, actions));
}

/// Verdicts above the constants, what stands out beside them; on a narrow page below them.
fn verdicts_page_ui(
    ui: &mut Ui,
    view: &View<'_>,
    run: &Guided,
    ready: &Result<String, String>,
    actions: &mut Vec<Action>,
) {
    let desk = view.desk;
    let narrow = ui.available_width() < NARROW;
    page_ui(ui, if narrow { 1080.0 } else { 680.0 }, |ui, page| {
        let (main, side) = match narrow {
            true => cut_top(page, page.height() - 300.0),
            false => cut_right(page, (page.width() * 0.36).clamp(340.0, 480.0)),
        };
        let (above, below) = cut_top(main, main.height() - CONSTANTS - size::PAGE);
        card_at(ui, above, "Review", |ui| {
            review_card_ui(ui, desk, run, ready, actions);
        });
        constants_card_ui(ui, below, desk);
        found::found_ui(ui, side, view, None, actions);
    });
}

/// Height of the constants' card.
const CONSTANTS: f32 = 268.0;
/// Below this width of the page what stands out goes under the other cards.
const NARROW: f32 = 900.0;

fn review_card_ui(
    ui: &mut Ui,
    desk: &Desk,
    run: &Guided,
    ready: &Result<String, String>,
    actions: &mut Vec<Action>,
) {
    ui.horizontal_wrapped(|ui| {
        save_buttons(ui, ready, &[Saved::Header, Saved::Sheet], actions);
        for verb in [RunVerb::Redo, RunVerb::Stop] {
            if action_button(ui, &Action::Run(verb), Ok(())) {
                actions.push(Action::Run(verb));
            }
        }
    });
    ui.add_space(8.0);
    verdicts_ui(ui, desk, run);
}

fn constants_card_ui(ui: &mut Ui, rect: Rect, desk: &Desk) {
    card_at(ui, rect, "Constants", |ui| {
        ScrollArea::vertical().id_salt("constants").auto_shrink([false, false]).show(ui, |ui| {
            match desk.results() {
                Some(results) => constants_ui(ui, results),
                None => drop(ui.label(Type::Label.soft(ui, "Nothing is measured yet"))),
            }
        });
    });
}

/// One line a part of the controller, then the steps that were cut short.
fn verdicts_ui(ui: &mut Ui, desk: &Desk, run: &Guided) {
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 12.0;
        for verdict in desk.verdicts() {
            let state = match (verdict.severity, verdict.refused) {
                (_, true) => State::Fault,
                (Some(severity), false) => state_of(severity),
                (None, false) => State::Done,
            };
            line_ui(ui, state, &verdict.part, &verdict.sentence);
        }
        for (task, ending) in run.tasks() {
            if let Some(Ending::Skipped | Ending::Accepted) = ending {
                let how = match ending {
                    Some(Ending::Skipped) => "left out",
                    _ => "taken with less than was asked for",
                };
                line_ui(ui, State::Warning, "Step", &format!("{} was {how}", task.word()));
            }
        }
    });
}

fn line_ui(ui: &mut Ui, state: State, part: &str, sentence: &str) {
    let p = Palette::of(ui);
    ui.horizontal_top(|ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(24.0, 22.0), Sense::hover());
        state.paint(ui.painter(), rect.center(), p);
        let (rect, _) = ui.allocate_exact_size(vec2(112.0, 22.0), Sense::hover());
        let at = egui::pos2(rect.left(), rect.center().y);
        ui.painter().text(at, egui::Align2::LEFT_CENTER, part, Type::Chosen.font(), p.ink);
        ui.vertical(|ui| {
            // The sentence's first line stands level with the part's name.
            ui.add_space(3.0);
            let label = ui.add(Label::new(Type::Label.text(ui, sentence)).wrap());
            label.accessible_name(state.spoken(&format!("{part}: {sentence}")));
        });
    });
    ui.painter().hline(
        ui.max_rect().x_range(),
        ui.cursor().top() - size::PAGE / 4.0,
        egui::Stroke::new(1.0, p.rule),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn buttons_are_called_by_their_names() {
        let buttons = ["south", "east", ""].map(String::from).to_vec();
        let rig = Rig { buttons, ..Rig::default() };
        let said = with_names(&rig, "7 of 15 presses; still short: b0 2, b1 0, b2 1, b9 4; both");
        assert_eq!(said, "7 of 15 presses; still short: south 2, east 0, b2 1, b9 4; both");
    }
}
