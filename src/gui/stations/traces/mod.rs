//! Traces: see any channels over time · read off values and intervals · freeze, zoom, inspect.
mod below;
mod block_sums;
pub mod channels;
pub mod figures;
mod kept;
pub mod lanes;
pub mod outputs;
pub mod picture;
pub mod pointer;
pub mod sampling;
mod spread;
mod toolbar;
pub mod travel;
pub mod window;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use egui::{Rect, ScrollArea, Ui};

use self::below::Below;
use self::channels::{Channel, Contacts};
use self::lanes::{Form, LineKey, Plan, Planned, Ranges, lane, rows_of};
use self::outputs::Outputs;
use self::picture::{Cursors, Lane, Layer, Scene, picture_ui};
use self::pointer::Touch;
use self::spread::Spread;
use self::window::{Motion, TimeWindow};
use super::{News, Station, View};
use crate::desk::Desk;
use crate::gui::actions::{Action, Screen, TraceVerb};
use crate::gui::look::{Palette, Type};
use crate::gui::parts::card::{card_at, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::held::Held;
use crate::gui::parts::ruler::Ruler;
use crate::gui::parts::table;
use crate::gui::settings::{Settings, TracesLook};
use crate::rig::AxisId;
use crate::trim::Trim;

/// Below this height the picture has the whole page.
const LOW: f32 = 440.0;
/// The page is never lower than this: it scrolls.
const LEAST: f32 = 420.0;
/// Least height of a lane, points.
const LANE: f32 = 18.0;
/// Below this width the controls of the traces take a row more.
const THREE_ROWS: f32 = 800.0;
/// Below this width of the page the channels stand under the figures.
const NARROW: f32 = 800.0;
/// Width of the list of channels.
const SIDE: f32 = 208.0;

/// What the picture is made of in this frame.
#[derive(Clone, Copy)]
struct Seen<'a> {
    desk: &'a Desk,
    trim: Option<&'a Trim>,
    planned: &'a [Planned],
}

/// What the station keeps to itself.
#[derive(Default)]
pub struct Traces {
    window: TimeWindow,
    /// Channels that a person switched on or off; the others follow the default.
    switched: BTreeMap<Channel, bool>,
    /// Forms of the inputs, and whether they share lanes.
    plan: Plan,
    ranges: Ranges,
    /// The lane that keys act on; `None` = all of them.
    chosen: Option<LineKey>,
    /// The lanes on screen, from top to bottom.
    on_screen: Vec<LineKey>,
    outputs: Outputs,
    /// Inputs whose constants are not known, though their form asks for them.
    missing: BTreeSet<AxisId>,
    /// Outputs are still being worked out.
    working: bool,
    picture: picture::Held,
    contacts: Contacts,
    /// What stands below the traces.
    below: Below,
    /// The table of figures, and what it is of.
    table: (Vec<LineKey>, Cursors, Held<Vec<Vec<String>>>),
    /// Samples in sight, as they are read.
    samples: Held<usize>,
    /// The channel whose spread is shown.
    spread_of: Option<Channel>,
    spread: Spread,
}

impl Station for Traces {
    fn screen(&self) -> Screen {
        Screen::Traces
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        (view.desk.session().rows() == 0)
            .then_some("Any channels over time will stand here; connect a source in Link first")
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        if let Some(sentence) = self.missing(view) {
            return empty_ui(ui, sentence);
        }
        let desk = view.desk;
        if !self.contacts.follow(desk.session()) {
            ui.ctx().request_repaint();
        }
        let all = Channel::all(desk, &self.contacts);
        let shown: Vec<Channel> = all.iter().copied().filter(|c| self.is_on(*c)).collect();
        let trim = view.desk.results().map(|r| &r.solution.trim);
        self.outputs.follow(desk.session(), trim);
        let (planned, missing) = self.plan.lanes(desk, &shown, trim);
        self.missing = missing;
        self.on_screen = planned.iter().map(Planned::key).collect();
        self.chosen = self.chosen.filter(|key| self.on_screen.contains(key));
        // On a narrow page the channels stand below, else the picture would have no width.
        let narrow = ui.available_width() < NARROW;
        let wide = ui.available_width() - if narrow { 0.0 } else { SIDE };
        // Lanes that can be told apart, the controls above them in two or three rows, the figures.
        let controls = if wide < THREE_ROWS { 112.0 } else { 76.0 };
        let picture = planned.len() as f32 * LANE + controls + 88.0;
        let share = if self.below == Below::Figures { 0.72 } else { 0.58 };
        let least = (picture / share).clamp(LEAST, 1600.0);
        let channels = if narrow { 256.0 } else { 0.0 };
        page_ui(ui, least + channels, |ui, page| {
            let (main, side) = match narrow {
                true => cut_top(page, page.height() - 240.0),
                false => cut_right(page, SIDE),
            };
            card_at(ui, side, "Channels", |ui| self.channels_ui(ui, desk, &all));
            let seen = Seen { desk, trim, planned: &planned };
            self.main_ui(ui, main, seen, actions);
        });
    }

    fn copied(&self, view: &View<'_>) -> Option<String> {
        let desk = view.desk;
        let all = Channel::all(desk, &self.contacts);
        let shown: Vec<Channel> = all.into_iter().filter(|c| self.is_on(*c)).collect();
        let trim = desk.results().map(|r| &r.solution.trim);
        let (planned, _) = self.plan.lanes(desk, &shown, trim);
        let [left, right] = self.window.edges(head_us(desk));
        let timebase = desk.timebase();
        let rows = timebase.row_at(left)..timebase.row_at(right + 1).min(desk.session().rows());
        let lines = self.figure_lines(Seen { desk, trim, planned: &planned });
        (!lines.is_empty()).then(|| figures::as_text(desk, &lines, rows, self.picture.cursors))
    }

    fn window_us(&self, desk: &Desk) -> Option<[u64; 2]> {
        let [left, right] = self.window.edges(head_us(desk));
        Some([left, right.min(desk.timebase().end_us())])
    }

    fn restore(&mut self, settings: &Settings) {
        let TracesLook { forms, shared, sweeps } = settings.traces;
        self.plan.shared = shared;
        if forms != [false; 3] {
            self.plan.forms = forms;
        }
        self.window.motion = if sweeps { Motion::Sweep } else { Motion::Scroll };
    }

    fn remember(&self, settings: &mut Settings) {
        let Plan { forms, shared } = self.plan;
        settings.traces = TracesLook { forms, shared, sweeps: self.window.motion == Motion::Sweep };
    }

    fn trace(&mut self, verb: TraceVerb, view: &View<'_>) {
        let end_us = head_us(view.desk);
        let cursors = &mut self.picture.cursors;
        match verb {
            TraceVerb::Freeze => self.window.toggle_freeze(end_us),
            TraceVerb::Zoom(nearer) => {
                let [left, right] = self.window.edges(end_us);
                let factor = if nearer { 0.5 } else { 2.0 };
                self.window.zoom(factor, (left as f64 + right as f64) / 2.0, end_us);
            }
            TraceVerb::Inspect(span) => {
                // Readings carry the board's own time; the time axis begins with the first row.
                let results = view.desk.results();
                let origin = results.and_then(|r| r.tracks.t_us.first().copied()).unwrap_or(0);
                let [from, to] = [span.start_us, span.end_us].map(|t| t.saturating_sub(origin));
                self.window.show(from, to);
            }
            TraceVerb::CursorA => cursors.a = Some(end_us),
            TraceVerb::CursorB => cursors.b = Some(end_us),
            TraceVerb::BetweenCursors => {
                if let (Some(a), Some(b)) = (cursors.a, cursors.b) {
                    self.window.show_exactly(a.min(b), a.max(b));
                }
            }
            TraceVerb::Motion => self.window.motion = self.window.motion.other(),
            TraceVerb::Forms => self.plan.next(),
            TraceVerb::Shared => self.plan.shared ^= true,
            TraceVerb::Lane(below) => self.choose_lane(below),
            TraceVerb::Fix => self.fix_or_free(),
            TraceVerb::Tall(larger) => {
                let factor = if larger { 0.5 } else { 2.0 };
                self.aimed().into_iter().for_each(|key| self.ranges.zoom(key, factor, 0.5));
            }
            TraceVerb::Raise(up) => {
                let share = if up { 0.1 } else { -0.1 };
                self.aimed().into_iter().for_each(|key| self.ranges.shift(key, share));
            }
        }
    }

    fn told(&mut self, news: &News<'_>, _view: &View<'_>) {
        match news {
            News::Followed | News::Connected(_) | News::Opened(_) => self.window.held_at_us = None,
            News::Disconnected => {}
        }
    }
}

/// The newest time that is looked at: the play head.
fn head_us(desk: &Desk) -> u64 {
    desk.transport.at_us
}

impl Traces {
    /// The picture, and below it the figures of what is seen.
    fn main_ui(&mut self, ui: &mut Ui, main: Rect, seen: Seen<'_>, actions: &mut Vec<Action>) {
        let lines: usize = seen.planned.iter().map(|lane| lane.lines.len()).sum();
        let low = (lines as f32 + 1.0) * table::ROW + 84.0;
        // On a low screen the picture has the greater need of the room.
        let most = if main.height() < 600.0 { 0.28 } else { 0.36 };
        let low = match self.below {
            Below::Figures => low.min(main.height() * most),
            Below::Spectrum | Below::Histogram | Below::Allan => (main.height() * 0.42).min(400.0),
        };
        let room = main.height();
        let (main, below) = match room < LOW {
            true => (main, None),
            false => {
                let (main, below) = split_bottom(main, low);
                (main, Some(below))
            }
        };
        let mut rows = 0..0;
        card_at(ui, main, "", |ui| {
            self.toolbar_ui(ui, seen.desk, actions);
            rows = self.traces_ui(ui, seen);
        });
        if let Some(below) = below {
            card_at(ui, below, "", |ui| {
                self.below_ui(ui, seen, rows, actions);
            });
        }
    }

    /// Analog inputs are on by themselves, and contacts once they have moved.
    fn is_on(&self, channel: Channel) -> bool {
        self.switched.get(&channel).copied().unwrap_or_else(|| match channel {
            Channel::Axis(_) => true,
            Channel::Button(k) => k < 6 && !self.contacts.changes(k).is_empty(),
            Channel::Field(_) => false,
        })
    }

    fn channels_ui(&mut self, ui: &mut Ui, desk: &Desk, all: &[Channel]) {
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 4.0;
            for channel in all {
                let mut on = self.is_on(*channel);
                let name = channel.name(desk);
                if ui.checkbox(&mut on, Type::Label.text(ui, name)).changed() {
                    self.switched.insert(*channel, on);
                }
            }
        });
    }

    /// Fixes the ranges that keys act on, or frees them when all are fixed.
    fn fix_or_free(&mut self) {
        let all_fixed = self.aimed().iter().all(|key| self.ranges.is_fixed(*key));
        for key in self.aimed() {
            if all_fixed { self.ranges.free(key) } else { self.ranges.fix(key) }
        }
    }

    /// The lanes that keys act on: the chosen one, or all of them.
    fn aimed(&self) -> Vec<LineKey> {
        let contact = |key: &LineKey| matches!(key.channel, Channel::Button(_));
        match self.chosen {
            Some(key) => vec![key],
            None => self.on_screen.iter().copied().filter(|key| !contact(key)).collect(),
        }
    }

    fn choose_lane(&mut self, below: bool) {
        let now = self.chosen.and_then(|key| self.on_screen.iter().position(|k| *k == key));
        let last = self.on_screen.len().checked_sub(1);
        let next = match (now, below) {
            (None, true) => (!self.on_screen.is_empty()).then_some(0),
            (None, false) => last,
            (Some(k), true) => Some(k + 1).filter(|k| Some(*k) <= last),
            (Some(k), false) => k.checked_sub(1),
        };
        self.chosen = next.and_then(|k| self.on_screen.get(k).copied());
    }

    fn traces_ui(&mut self, ui: &mut Ui, seen: Seen<'_>) -> Range<usize> {
        let Seen { desk, trim, planned } = seen;
        if planned.is_empty() {
            empty_ui(ui, "No channel is chosen; tick some on the right");
            return 0..0;
        }
        let (session, timebase) = (desk.session(), desk.timebase());
        let end_us = head_us(desk);
        let [left, right] = self.window.edges(end_us);
        // Behind the newest sample of a sweep stands what is one span older.
        let first_us = match self.window.sweeps() {
            true => end_us.saturating_sub(self.window.span_us),
            false => left,
        };
        let visible = timebase.row_at(first_us)..timebase.row_at(right + 1).min(session.rows());
        self.prepare(ui, desk, planned, visible.clone());
        let lines = planned.iter().flat_map(|lane| &lane.lines);
        let names: Vec<String> = lines.map(|line| line.channel.name(desk)).collect();
        let mut names = names.iter();
        let mut lanes: Vec<Lane<'_>> = Vec::with_capacity(planned.len());
        for plan in planned {
            let layers: Vec<Layer<'_>> = plan
                .lines
                .iter()
                .map(|key| Layer {
                    key: *key,
                    name: names.next().map_or("", String::as_str),
                    colour: match key.channel {
                        Channel::Axis(axis) => Palette::of(ui).axis(axis),
                        _ => Palette::of(ui).ink,
                    },
                    dashed: key.channel.is_right(),
                    rows: rows_of(desk, &self.contacts, &self.outputs, trim, *key),
                })
                .collect();
            lanes.push(lane(plan, layers, &mut self.ranges, &visible, self.chosen, trim));
        }
        let marks: Vec<(u64, &str)> = session
            .marks()
            .iter()
            .map(|s| (timebase.time_us(session.row_of(s)), s.word.as_str()))
            .collect();
        let scene = Scene {
            lanes: &lanes,
            reading: session.reading(),
            end_us,
            period_us: timebase.period_us(),
            broken: timebase.gaps(),
            rule: Palette::of(ui).rule,
            marks: &marks,
            ruler: Ruler::of(desk.row_us()),
        };
        let shown = picture_ui(ui, &scene, &mut self.window, &mut self.picture);
        drop(lanes);
        if let Some((k, touch)) = shown.touch
            && let Some(plan) = planned.get(k)
        {
            self.touched(plan.key(), touch);
        }
        // A picture that sweeps has a blank; any other shows columns that begin before its edge.
        if self.window.sweeps() { shown.rows } else { visible }
    }

    /// Works out the outputs that come on screen.
    fn prepare(&mut self, ui: &Ui, desk: &Desk, planned: &[Planned], visible: Range<usize>) {
        let axes = |form: Form| -> Vec<AxisId> {
            let lines = planned.iter().flat_map(|lane| &lane.lines);
            lines.filter(|line| line.form == form).filter_map(|line| line.channel.axis()).collect()
        };
        let session = desk.session();
        let summed = self.outputs.travels.prepare(session, &axes(Form::Travel), visible.clone());
        // One row beyond either edge is drawn as well.
        let rows = visible.start.saturating_sub(1)..visible.end + 1;
        let fine = outputs::wants_rows(rows.len(), ui.available_width());
        let through = axes(Form::Output);
        let ready = through.is_empty() || self.outputs.prepare(session, &through, rows, fine);
        self.working = !(ready && summed);
        if self.working {
            ui.ctx().request_repaint();
        }
    }

    fn touched(&mut self, key: LineKey, touch: Touch) {
        let contact = matches!(key.channel, Channel::Button(_));
        match touch {
            Touch::Choose => self.chosen = (self.chosen != Some(key)).then_some(key),
            _ if contact => {}
            Touch::Zoom(factor, share) => self.ranges.zoom(key, factor, share),
            Touch::Shift(share) => self.ranges.shift(key, share),
            Touch::Free => self.ranges.free(key),
        }
    }
}

/// Cuts a band of `height` off the bottom; gives what is left above the gap, and the band.
fn split_bottom(rect: egui::Rect, height: f32) -> (egui::Rect, egui::Rect) {
    use crate::gui::look::size::PAGE;
    let y = rect.bottom() - height;
    let top = egui::Rect::from_min_max(rect.min, egui::pos2(rect.right(), y - PAGE));
    (top, egui::Rect::from_min_max(egui::pos2(rect.left(), y), rect.max))
}
