//! Proof: take the record · hold a fresh session of the flashed board against it · every check.
use egui::{Align, Label, Layout, Rect, ScrollArea, Sense, Stroke, TextEdit, Ui, vec2};

use super::{Station, View, action_button};
use crate::desk::proving::Proved;
use crate::gui::actions::{Action, OutputVerb, Screen};
use crate::gui::look::{Palette, Type, size};
use crate::gui::parts::card::{card_at, cut_right, cut_top, page_ui};
use crate::gui::parts::sectors::{HEIGHT as PICTURE, sectors_ui};
use crate::gui::parts::state_mark::State;
use crate::limits::Decision;
use crate::proof::Check;

/// Height of the card with the record.
const RECORD: f32 = 104.0;
/// Below this width its buttons take a row more, and limits stand below their figures.
const NARROW: f32 = 760.0;
/// Width of the column with the pictures.
const SIDE: f32 = 440.0;
/// Widths of the columns before the figures: check, part; and of the limit behind them.
const COLUMNS: [f32; 3] = [148.0, 112.0, 176.0];

/// What the station keeps to itself.
#[derive(Default)]
pub struct ProofStation {
    /// Path of a record as it is being typed.
    typed: String,
}

impl Station for ProofStation {
    fn screen(&self) -> Screen {
        Screen::Proof
    }

    fn state(&self, view: &View<'_>) -> State {
        match (view.desk.record(), view.desk.judgement()) {
            (None, _) | (_, None) => State::NotStarted,
            (_, Some(Err(_))) => State::Warning,
            (_, Some(Ok(proved))) => mark(Some(proved.proof.decision())),
        }
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        if view.desk.record().is_none() {
            return Some(
                "Verdicts on the flashed board will stand here; open the record of its constants \
                 (the file that ends in .trim.ron) first",
            );
        }
        (view.desk.session().rows() == 0).then_some(
            "Verdicts on the flashed board will stand here; connect it in Link, roll, release, \
             pull and press, or open a fresh session",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let folded = ui.available_width() < size::FOLD;
        let proved = view.desk.judgement().and_then(|j| j.as_ref().ok());
        let pictures = proved.is_some_and(|p| !p.proof.reach.is_empty());
        let least = if folded && pictures { 640.0 + PICTURE } else { 420.0 };
        page_ui(ui, least, |ui, page| {
            let more = if page.width() < NARROW { 76.0 } else { 0.0 };
            let (above, rest) = cut_top(page, RECORD + more);
            self.record_ui(ui, above, view, actions);
            let main = match proved.filter(|_| pictures) {
                None => rest,
                Some(proved) if folded => {
                    let (main, side) = cut_top(rest, rest.height() - PICTURE - size::PAGE);
                    pictures_ui(ui, side, proved);
                    main
                }
                Some(proved) => {
                    let (main, side) = cut_right(rest, SIDE);
                    pictures_ui(ui, side, proved);
                    main
                }
            };
            self.verdicts_ui(ui, main, view, actions);
        });
    }
}

impl ProofStation {
    fn record_ui(&mut self, ui: &mut Ui, rect: Rect, view: &View<'_>, actions: &mut Vec<Action>) {
        card_at(ui, rect, "", |ui| {
            ui.horizontal_wrapped(|ui| {
                let label = ui.label("Record");
                let field = TextEdit::singleline(&mut self.typed).desired_width(300.0);
                let field = field.hint_text("path of a .trim.ron file");
                let response = ui.add(field).labelled_by(label.id);
                let entered =
                    response.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
                let take = egui::Button::new(
                    Action::Output(OutputVerb::TakeRecord(std::path::PathBuf::new())).label(),
                );
                let typed = !self.typed.trim().is_empty();
                let pressed = ui
                    .add_enabled(typed, take)
                    .on_disabled_hover_text("Type the path of a record first")
                    .clicked();
                if typed && (entered || pressed) {
                    actions.push(Action::Output(OutputVerb::TakeRecord(self.typed.trim().into())));
                }
                if action_button(ui, &Action::Output(OutputVerb::ChooseRecord), Ok(())) {
                    actions.push(Action::Output(OutputVerb::ChooseRecord));
                }
            });
            ui.horizontal_wrapped(|ui| {
                let solved = view.desk.results().is_some_and(|r| !r.solution.trim.is_empty());
                let own = if solved { Ok(()) } else { Err("No constant is solved yet") };
                let held = view.desk.record().map(|_| ()).ok_or("There is no record yet");
                let proved = view.desk.judgement().is_some_and(Result::is_ok);
                let proof = if proved { Ok(()) } else { Err("There is no proof yet") };
                for (action, enabled) in [
                    (Action::Output(OutputVerb::TakeOwnConstants), own),
                    (Action::Output(OutputVerb::PutRecordAway), held),
                    (Action::Output(OutputVerb::SaveProof), proof),
                ] {
                    if action_button(ui, &action, enabled) {
                        actions.push(action);
                    }
                }
            });
        });
    }

    fn verdicts_ui(&self, ui: &mut Ui, rect: Rect, view: &View<'_>, actions: &mut Vec<Action>) {
        let missing = self.missing(view);
        card_at(ui, rect, "", |ui| match (view.desk.judgement(), missing) {
            (_, Some(sentence)) => {
                record_line(ui, view);
                ui.add(Label::new(Type::Label.soft(ui, sentence)).wrap());
            }
            (None, None) => {
                record_line(ui, view);
                ui.label(Type::Label.soft(ui, "The session is being held against the record"));
            }
            (Some(Err(why)), None) => {
                record_line(ui, view);
                marked_ui(ui, State::Warning, why);
            }
            (Some(Ok(proved)), None) => checks_ui(ui, view, proved, actions),
        });
    }
}

/// Name, board, date and checksum of the record.
fn record_line(ui: &mut Ui, view: &View<'_>) {
    let Some(record) = view.desk.record() else { return };
    let trim = &record.trim;
    let mut words = vec![record.name.clone()];
    if !trim.board_id.is_empty() {
        words.push(format!("board {}", trim.board_id));
    }
    if !trim.session_date.is_empty() {
        words.push(format!("fitted on {}", trim.session_date));
    }
    if let Ok(crc) = trim.crc() {
        words.push(format!("CRC 0x{crc:04X}"));
    }
    ui.add(Label::new(Type::Note.soft(ui, words.join(", "))).wrap());
}

/// Every check with its limit, in the order of the parts, below the verdict on all of them.
fn checks_ui(ui: &mut Ui, view: &View<'_>, proved: &Proved, actions: &mut Vec<Action>) {
    let proof = &proved.proof;
    let [pass, fail, open] = [Decision::Pass, Decision::Fail, Decision::CannotTell]
        .map(|decision| proof.count(decision));
    let left = proof.checks.len() - pass - fail - open;
    let verdict = match proof.decision() {
        Decision::Pass => "The limits are met",
        Decision::Fail => "A limit is missed",
        Decision::CannotTell => "Undecided: do what is said below",
    };
    ui.horizontal(|ui| {
        let (at, _) = ui.allocate_exact_size(vec2(24.0, 28.0), Sense::hover());
        let state = mark(Some(proof.decision()));
        state.paint(ui.painter(), at.center(), Palette::of(ui));
        let label = ui.label(Type::Key.text(ui, verdict));
        label.accessible_name(state.spoken(verdict));
        let counts = format!("{pass} pass, {fail} fail, {open} cannot tell, {left} left out");
        ui.label(Type::Label.soft(ui, counts));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let copy = ui.button("Copy").on_hover_text("Put the checks on the clipboard");
            if copy.clicked() {
                actions.push(Action::Output(OutputVerb::Copy(crate::emit::proof_text(
                    proof,
                    &proved.facts,
                    crate::emit::Width::FULL,
                ))));
            }
        });
    });
    record_line(ui, view);
    ui.add(Label::new(Type::Note.soft(ui, format!("judged: {}", proof.judged.words()))).wrap());
    ScrollArea::vertical().id_salt("checks").auto_shrink([false, false]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        for check in &proof.checks {
            check_ui(ui, check);
        }
    });
}

/// One check: mark, what, where, figures, limit; below it what to do when it is no pass.
fn check_ui(ui: &mut Ui, check: &Check) {
    let p = Palette::of(ui);
    let state = mark(check.decision);
    let part = check.part();
    let place = if part.is_empty() { "session" } else { part.as_str() };
    let limit = check.limit_words();
    ui.painter().hline(ui.max_rect().x_range(), ui.cursor().top(), Stroke::new(1.0, p.rule));
    ui.add_space(4.0);
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        let (at, _) = ui.allocate_exact_size(vec2(28.0, 20.0), Sense::hover());
        state.paint(ui.painter(), at.center() - vec2(2.0, 0.0), p);
        let (what, part) = (Type::Chosen.text(ui, check.words()), Type::Label.soft(ui, place));
        cell(ui, COLUMNS[0], what);
        cell(ui, COLUMNS[1], part);
        let narrow = ui.available_width() < NARROW - COLUMNS[0] - COLUMNS[1];
        let beside = if narrow { 0.0 } else { COLUMNS[2] };
        let width = (ui.available_width() - beside).max(120.0);
        ui.allocate_ui_with_layout(vec2(width, 20.0), Layout::top_down(Align::Min), |ui| {
            ui.set_width(width - 12.0);
            let said = format!("{place}, {}: {}; {limit}", check.words(), check.figures);
            // The figures are written for files as well: here a minus is a minus.
            let figures = Type::Label.text(ui, check.figures.replace(" -", " \u{2212}"));
            let label = ui.add(Label::new(figures).wrap());
            label.accessible_name(format!("{}, {}", said, decision_words(check.decision)));
            if narrow && !limit.is_empty() {
                ui.add(Label::new(Type::Note.soft(ui, limit.as_str())).wrap());
            }
            if !check.advice.is_empty() {
                let advice = format!("To do: {}", check.advice);
                ui.add(Label::new(Type::Note.soft(ui, advice)).wrap());
            }
        });
        if !narrow {
            let limit = Type::Note.soft(ui, limit.as_str());
            cell(ui, COLUMNS[2], limit);
        }
    });
}

fn cell(ui: &mut Ui, width: f32, text: egui::RichText) {
    ui.allocate_ui_with_layout(vec2(width, 20.0), Layout::top_down(Align::Min), |ui| {
        ui.set_width(width);
        ui.add(Label::new(text).wrap());
    });
}

fn marked_ui(ui: &mut Ui, state: State, words: &str) {
    ui.horizontal_top(|ui| {
        let (at, _) = ui.allocate_exact_size(vec2(24.0, 20.0), Sense::hover());
        state.paint(ui.painter(), at.center(), Palette::of(ui));
        let label = ui.add(Label::new(Type::Label.text(ui, words)).wrap());
        label.accessible_name(state.spoken(words));
    });
}

fn pictures_ui(ui: &mut Ui, rect: Rect, proved: &Proved) {
    let checks = proved.proof.checks.iter();
    let limit = checks.filter(|c| c.key == "reach-16-sectors").find_map(|c| c.limit);
    card_at(ui, rect, "Output in 16 directions", |ui| {
        sectors_ui(ui, &proved.proof.reach, limit);
    });
}

/// The mark of a decision; nothing for what was left out.
fn mark(decision: Option<Decision>) -> State {
    match decision {
        Some(Decision::Pass) => State::Done,
        Some(Decision::Fail) => State::Fault,
        Some(Decision::CannotTell) => State::Warning,
        None => State::None,
    }
}

fn decision_words(decision: Option<Decision>) -> &'static str {
    match decision {
        Some(Decision::Pass) => "pass",
        Some(Decision::Fail) => "fail",
        Some(Decision::CannotTell) => "cannot tell",
        None => "left out",
    }
}
