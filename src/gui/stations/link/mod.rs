//! Link: choose a source · see lines, fields and stream health · connect, send, set roles.
mod fields;
mod lines;
pub mod roles;
mod source;

use crate::survey::Page;
use egui::{Rect, Ui};

use super::{News, Station, View};
use crate::desk::FeedKind;
use crate::gui::actions::{Action, Screen};
use crate::gui::look::size;
use crate::gui::parts::card::{card_at, cut_right, cut_top, page_ui};
use crate::gui::parts::figures::{self, Figure, figures_ui};
use crate::gui::parts::held::Held;
use crate::gui::parts::numbers::{grouped, number};
use crate::gui::parts::state_mark::State;
use crate::source::LinkState;
use crate::wire::{Role, Why};

/// What the station keeps to itself.
#[derive(Default)]
pub struct Link {
    source: source::SourceForm,
    lines: lines::LinesPane,
    /// The newest value of each field, as it is read.
    newest: Held<Vec<String>>,
    /// The stream's figures, as they are read.
    health: Held<Vec<Figure>>,
}

impl Station for Link {
    fn screen(&self) -> Screen {
        Screen::Link
    }

    fn state(&self, view: &View<'_>) -> State {
        let link = view.desk.link();
        match (link.kind, link.state) {
            (FeedKind::Nothing, _) => State::NotStarted,
            (_, Some(LinkState::Waiting | LinkState::HandedOver)) => State::Warning,
            _ if view.desk.session().rows() == 0 => State::Now,
            _ => match view.judged() {
                Some(results) => super::part_state(results, Page::Link, || true),
                None => State::Done,
            },
        }
    }

    fn missing(&self, _view: &View<'_>) -> Option<&'static str> {
        None
    }

    fn told(&mut self, news: &News<'_>, _view: &View<'_>) {
        self.source.told(news);
        // What another source said is not to be read even for a moment.
        if !matches!(news, News::Followed) {
            self.newest.forget();
            self.health.forget();
        }
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let newest = self.newest.of(ui.ctx(), || fields::newest(view.desk));
        let health = self.health.of(ui.ctx(), || health_figures(view));
        // Where two columns would cut their rows, the cards stand under one another.
        if ui.available_width() < NARROW {
            return page_ui(ui, STACKED, |ui, page| {
                let (source, rest) = cut_top(page, source::HEIGHT);
                let (fields, rest) = cut_top(rest, 340.0);
                let (low, lines) = cut_top(rest, 240.0);
                card_at(ui, source, "Source", |ui| self.source.ui(ui, view, actions));
                card_at(ui, fields, "Fields", |ui| fields::fields_ui(ui, view, newest, actions));
                health_ui(ui, low, health);
                card_at(ui, lines, "", |ui| self.lines.ui(ui, view, actions));
            });
        }
        page_ui(ui, source::HEIGHT + size::PAGE + LINES, |ui, page| {
            let side = (page.width() * 0.3).clamp(424.0, 480.0);
            let (main, side) = cut_right(page, side);
            let (top, rest) = cut_top(main, source::HEIGHT);
            card_at(ui, top, "Source", |ui| self.source.ui(ui, view, actions));
            card_at(ui, rest, "", |ui| self.lines.ui(ui, view, actions));
            let tall = figures::height(ui, health, side.width() - 2.0 * size::CARD) + 58.0;
            let (fields, below) = split_bottom(side, tall.min(side.height() * 0.44));
            card_at(ui, fields, "Fields", |ui| fields::fields_ui(ui, view, newest, actions));
            health_ui(ui, below, health);
        });
    }
}

/// Below this width of the page the two columns become one.
const NARROW: f32 = 960.0;
/// Least height of the lines with their verbs.
const LINES: f32 = 216.0;
/// Height of the one column.
const STACKED: f32 = 1200.0;

fn health_ui(ui: &mut Ui, rect: Rect, health: &[Figure]) {
    card_at(ui, rect, "Stream health", |ui| {
        egui::ScrollArea::vertical().id_salt("health").auto_shrink([false, false]).show(ui, |ui| {
            figures_ui(ui, health);
        });
    });
}

/// Cuts a band of `height` off the bottom; gives what is left above the gap, and the band.
fn split_bottom(rect: Rect, height: f32) -> (Rect, Rect) {
    let (top, bottom) = cut_top(rect, rect.height() - height - size::PAGE);
    (top, bottom)
}

/// What the counters say of the stream.
fn health_figures(view: &View<'_>) -> Vec<Figure> {
    let desk = view.desk;
    let link = desk.link();
    let session = desk.session();
    let mut rows = vec![Figure::plain("frames", grouped(link.frames), "")];
    if let Some(hz) = link.rate_hz {
        rows.push(Figure::plain("rate", number(hz, 1), "frames/s, last second"));
    }
    let period_ms = desk.timebase().period_us() / 1e3;
    if period_ms > 0.0 && session.tells_time() {
        rows.push(Figure::plain("usual interval", number(period_ms, 2), "ms"));
    }
    match link.lost {
        Some(lost) => rows.push(marked("lost", lost, "by counter or clock")),
        None => rows.push(Figure {
            label: "lost".to_owned(),
            note: unknown_lost(view).to_owned(),
            ..Figure::default()
        }),
    }
    rows.push(match session.tells_time() {
        true => Figure::plain("gaps", grouped(desk.timebase().gaps().len() as u64), "in time"),
        false => Figure {
            label: "gaps".to_owned(),
            note: "needs a board clock".to_owned(),
            ..Figure::default()
        },
    });
    let before = session.refusals().before_first();
    if before > 0 {
        rows.push(Figure::plain("lines before the first frame", grouped(before), "no frames"));
    }
    for why in Why::ALL {
        let count = session.refusals().count(why);
        if count > 0 {
            let row = Figure::plain("lines refused", grouped(count), why.words());
            rows.push(if why.is_damage() { row.marked(State::Warning) } else { row });
        }
    }
    rows.push(Figure::plain("bytes", grouped(session.bytes()), ""));
    rows
}

/// Why nobody knows what was lost.
fn unknown_lost(view: &View<'_>) -> &'static str {
    let session = view.desk.session();
    let told = [Role::Seq, Role::Clock].iter().any(|role| session.field_of(*role).is_some());
    match (told, session.rows()) {
        (_, 0) => "no frames yet",
        (true, _) => "counted with the next figures",
        (false, _) => "needs a counter or a board clock",
    }
}

fn marked(label: &str, count: u64, note: &str) -> Figure {
    let row = Figure::plain(label, grouped(count), note);
    if count > 0 { row.marked(State::Warning) } else { row }
}
