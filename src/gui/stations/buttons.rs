//! Buttons: press each · see every contact's edges enlarged · read bounce, doubles, window.
use crate::rig::Place;
use egui::{Rect, ScrollArea, Ui, vec2};

use super::traces::channels::{Contacts, button_name};
use super::{Station, View, action_button, copy_corner, found, live, rows};
use crate::desk::{Desk, Results};
use crate::emit::chart;
use crate::gui::actions::{Action, LinkVerb, PartVerb, Screen, TraceVerb};
use crate::gui::look::{Type, size};
use crate::gui::parts::card::{card_at, columns, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::chart::{Hand, chart_ui};
use crate::gui::parts::contact_strip::{ContactStrip, STRIP, contact_strip_ui};
use crate::gui::parts::figures::{Figure, figures_ui};
use crate::gui::parts::numbers::number;
use crate::gui::parts::ruler::Ruler;
use crate::gui::parts::state_mark::State;
use crate::gui::parts::table;
use crate::measure::{DASH, Measured};
use crate::survey::catalogue::Shown;
use crate::survey::{ButtonFigures, Page, value};

/// Time that the strips show, µs: so many rows where nothing tells the time.
const HISTORY_US: u64 = 8_000_000;
/// What the enlarged edge shows, µs, and rows where nothing tells the time.
const ZOOM_US: u64 = 20_000;
const ZOOM_ROWS: u32 = 20;
/// Height of the chosen contact's card with its figures and both pictures, points.
const CHOSEN: f32 = 560.0;
/// Edges kept ready for a strip.
const EDGES: usize = 400;

/// What the station keeps to itself.
#[derive(Default)]
pub struct Buttons {
    contacts: Contacts,
    chosen: u8,
}

impl Station for Buttons {
    fn screen(&self) -> Screen {
        Screen::Buttons
    }

    fn state(&self, view: &View<'_>) -> State {
        let Some(results) = view.judged() else { return State::NotStarted };
        let buttons = &results.survey.buttons;
        super::part_state(results, Page::Buttons, || {
            !buttons.is_empty() && buttons.iter().all(|b| b.presses > 0)
        })
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        use crate::wire::Role;
        let buttons = |role: &Role| matches!(role, Role::Button(_) | Role::Buttons);
        let present = view.desk.session().roles().iter().any(buttons);
        (!present).then_some(
            "Contacts, bounce and doubles will stand here; connect a board with buttons in Link",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        if let Some(sentence) = self.missing(view) {
            return empty_ui(ui, sentence);
        }
        if !self.contacts.follow(view.desk.session()) {
            ui.ctx().request_repaint();
        }
        let folded = ui.available_width() < size::FOLD;
        // Folded, every strip is shown and the page scrolls: no list within a list.
        let strips = self.count(view.desk) as f32 * (STRIP + ui.spacing().item_spacing.y) + 84.0;
        let least = if folded { strips + CHOSEN } else { 560.0 };
        page_ui(ui, least, |ui, page| {
            let (main, side) = if folded {
                cut_top(page, page.height() - CHOSEN + size::PAGE)
            } else {
                cut_right(page, 340.0)
            };
            self.strips_ui(ui, main, view.desk, actions);
            let (above, below) = if folded {
                let [above, below] = columns::<2>(side);
                (above, below)
            } else {
                cut_top(side, (side.height() * 0.72).max(CHOSEN).min(side.height() - 120.0))
            };
            self.chosen_ui(ui, above, view.desk, actions);
            found::found_ui(ui, below, view, Some(Page::Buttons), actions);
        });
    }

    fn copied(&self, view: &View<'_>) -> Option<String> {
        (self.count(view.desk) > 0).then(|| self.as_text(view.desk))
    }

    fn part(&mut self, verb: PartVerb, view: &View<'_>) {
        match verb {
            PartVerb::Go(next) => self.go_on(view.desk, next),
            PartVerb::Zone(_) | PartVerb::ProposedZone | PartVerb::Circles => {}
        }
    }
}

impl Buttons {
    /// The next or the previous button, round and round.
    fn go_on(&mut self, desk: &Desk, next: bool) {
        let count = self.count(desk).max(1);
        let by = if next { 1 } else { count - 1 };
        self.chosen = ((usize::from(self.chosen) + by) % count) as u8;
    }
}

fn figures_of(desk: &Desk, bit: u8) -> Option<&ButtonFigures> {
    desk.results()?.survey.buttons.iter().find(|b| b.index == bit)
}

impl Buttons {
    /// Contacts that were seen, that the rig names, that were measured: whichever are more.
    fn count(&self, desk: &Desk) -> usize {
        let measured = desk.results().map_or(0, |r| r.survey.buttons.len());
        self.contacts.count().max(desk.rig().buttons.len()).max(measured).min(32)
    }

    /// Every button with its figures, one a row.
    fn as_text(&self, desk: &Desk) -> String {
        let Some(results) = desk.results() else { return String::new() };
        let shown = |bit: u8| {
            let mut entries = results.entries_at(Place::Button(bit));
            entries.retain(|e| e.is_shown(Shown::Station));
            entries
        };
        let mut headings = vec!["button".to_owned(), "number".to_owned()];
        headings.extend(shown(0).iter().map(|e| e.label()));
        let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        let rows: Vec<Vec<String>> = (0..self.count(desk) as u8)
            .map(|bit| {
                let mut row = vec![button_name(desk, bit), format!("b{bit}")];
                row.extend(shown(bit).iter().map(|e| e.figure.cell()));
                row.resize(headings.len(), DASH.to_owned());
                row
            })
            .collect();
        table::as_text(&headings, &rows)
    }

    fn strips_ui(&mut self, ui: &mut Ui, rect: Rect, desk: &Desk, actions: &mut Vec<Action>) {
        card_at(ui, rect, "Contacts", |ui| {
            copy_corner(ui, || self.as_text(desk), actions);
            let words = strip_captions(Ruler::of(desk.row_us()));
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let words = Type::Note.fitting(ui, ui.available_width(), &words);
            ui.label(Type::Note.soft(ui, words));
            let count = self.count(desk);
            // The strips share the card's room, as long as they do not grow clumsy.
            let gap = ui.spacing().item_spacing.y;
            let pitch = (ui.available_height() + gap) / count.max(1) as f32;
            let height = (pitch - gap).clamp(STRIP, 1.5 * STRIP);
            ScrollArea::vertical().auto_shrink([false, false]).show_rows(
                ui,
                height,
                count,
                |ui, range| {
                    for bit in range {
                        self.strip_ui(ui, desk, bit as u8, height);
                    }
                },
            );
        });
    }

    fn strip_ui(&mut self, ui: &mut Ui, desk: &Desk, bit: u8, height: f32) {
        let head_us = desk.transport.at_us;
        let last_row = live::row_now(desk).unwrap_or(0);
        let changes = self.contacts.changes(bit);
        let end = changes.partition_point(|row| *row <= last_row);
        let first = end.saturating_sub(EDGES);
        let timebase = desk.timebase();
        let edges: Vec<(u64, bool)> = changes[first..end]
            .iter()
            .map(|row| (timebase.time_us(*row), self.contacts.closed_at(bit, *row)))
            .collect();
        let before = changes.get(first).map_or(last_row, |row| row.saturating_sub(1));
        let figures = figures_of(desk, bit);
        let (note, state) = strip_words(desk, figures, edges.len());
        let window_ms = figures.and_then(|f| value(&f.window_ms));
        let strip = ContactStrip {
            name: &button_name(desk, bit),
            number: &format!("b{bit}"),
            doubles: &doubles(desk, bit),
            chosen: self.chosen == bit,
            edges: &edges,
            closed_before: self.contacts.closed_at(bit, before),
            span_us: [head_us.saturating_sub(HISTORY_US), head_us],
            zoom_us: Ruler::of(desk.row_us()).either(ZOOM_US, ZOOM_ROWS),
            window_us: window_ms.map(|ms| (ms * 1e3) as u64),
            note: &note,
            state,
            height,
        };
        if contact_strip_ui(ui, &strip).clicked() {
            self.chosen = bit;
        }
    }

    fn chosen_ui(&self, ui: &mut Ui, rect: Rect, desk: &Desk, actions: &mut Vec<Action>) {
        let (name, number) = (button_name(desk, self.chosen), format!("b{}", self.chosen));
        let title = if name == number { name } else { format!("{name}, {number}") };
        card_at(ui, rect, &title, |ui| {
            if desk.hand().is_some() {
                let press = Action::Link(LinkVerb::Press(self.chosen));
                if action_button(ui, &press, Ok(())) {
                    actions.push(press);
                }
            }
            let found = desk.results().zip(figures_of(desk, self.chosen));
            let Some((results, figures)) = found else {
                ui.label(Type::Note.soft(ui, "click a contact to see its figures here"));
                return;
            };
            let rows = rows::rows_of(results, Place::Button(figures.index));
            let shown: Vec<Figure> = rows.iter().map(|(row, _)| row.clone()).collect();
            for (response, (_, span)) in figures_ui(ui, &shown).into_iter().zip(&rows) {
                if let (true, Some(span)) = (response.clicked(), span) {
                    actions.push(Action::Trace(TraceVerb::Inspect(*span)));
                }
            }
            ui.add_space(8.0);
            bounce_ui(ui, results, figures, &title);
        });
    }
}

/// What the strips show, in shorter and shorter words.
fn strip_captions(ruler: Ruler) -> [String; 3] {
    let (last, zoom) = (ruler.length(HISTORY_US), ruler.length(ruler.either(ZOOM_US, ZOOM_ROWS)));
    let (window, doubles) = match ruler.is_time() {
        true => (" with the debounce window", "; a triangle marks a second closure"),
        false => ("", ""),
    };
    [
        format!(
            "the last {last}, then the last press and the last release enlarged to \
             {zoom}{window}{doubles}"
        ),
        format!("the last {last}, then last press and last release, {zoom} each{window}"),
        format!("the last {last}; last press and release, {zoom} each"),
    ]
}

/// When second closures came, µs from the first row.
fn doubles(desk: &Desk, bit: u8) -> Vec<u64> {
    // Without a time nobody knows which closures came too soon.
    let results = desk.results().filter(|r| r.row_us().is_none());
    let track = results.and_then(|r| r.segments.buttons.iter().find(|b| b.index == bit));
    let rows = track.map(|t| t.log.doubles()).unwrap_or_default();
    rows.into_iter().map(|row| desk.timebase().time_us(row)).collect()
}

fn strip_words(desk: &Desk, figures: Option<&ButtonFigures>, edges: usize) -> (String, State) {
    let Some(f) = figures else { return (format!("{edges} edges"), State::None) };
    let bounce = |m: &Measured| m.as_ref().ok().map(|r| r.value);
    let worst = bounce(&f.bounce_press_max_ms).into_iter().chain(bounce(&f.bounce_release_max_ms));
    let worst = worst.fold(f64::NAN, f64::max);
    if f.stuck {
        return ("held closed all the time".to_owned(), State::Fault);
    }
    if f.presses == 0 {
        let words = if edges > 0 { "pressed, not measured yet" } else { "never pressed" };
        return (words.to_owned(), State::NotStarted);
    }
    let mut words = format!("{} press{}", f.presses, if f.presses == 1 { "" } else { "es" });
    if worst.is_finite() {
        // Where the words take two lines, the figure stays with its unit.
        words.push_str(&format!(", bounce\u{a0}≤\u{a0}{}\u{a0}ms", number(worst, 1)));
    }
    if let Some(doubles) = f.doubles.as_ref().ok().filter(|n| **n > 0) {
        let more = if *doubles == 1 { "" } else { "s" };
        words.push_str(&format!(", {doubles}\u{a0}double{more}"));
    }
    (words, desk.results().map_or(State::None, |r| rows::worst(r, Place::Button(f.index))))
}

/// Bounce of both edges against its limit, and how long the episodes of a button were.
fn bounce_ui(ui: &mut Ui, results: &Results, figures: &ButtonFigures, name: &str) {
    let bit = figures.index;
    if results.row_us().is_some() {
        let words = "Bounce has no length here, as nothing tells the time: print the board's µs \
                     clock in every line";
        ui.label(Type::Note.soft(ui, words));
        return;
    }
    let Some(track) = results.segments.buttons.iter().find(|b| b.index == bit) else { return };
    let log = track.timed.as_ref().unwrap_or(&track.log);
    let lengths: Vec<f64> = log.episodes.iter().map(|e| e.bounce_us() as f64 / 1e3).collect();
    if lengths.is_empty() {
        return;
    }
    let limit = results.limits.bounce_ms.good.high;
    let wide = ui.available_width();
    chart_ui(ui, &chart::bounce(figures, limit), vec2(wide, 88.0), Hand::Moves);
    let episodes = chart::episodes(name, &lengths, value(&figures.window_ms));
    chart_ui(ui, &episodes, vec2(wide, ui.available_height().clamp(100.0, 180.0)), Hand::Moves);
}
