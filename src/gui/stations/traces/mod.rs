//! Traces: see any channels over time · read off values and intervals · freeze, zoom, inspect.
pub mod channels;
pub mod figures;
pub mod picture;
pub mod sampling;
mod spread;
pub mod window;

use std::collections::BTreeMap;
use std::ops::Range;

use egui::{ScrollArea, Ui};

use self::channels::{Channel, ContactRows, Contacts, FieldRows};
use self::picture::{Cursors, Lane, LaneForm, Scene, picture_ui};
use self::sampling::Rows;
use self::spread::{Kind, Spread};
use self::window::{Motion, TimeWindow};
use super::{Station, View, action_button};
use crate::desk::Desk;
use crate::gui::actions::{Action, Place};
use crate::gui::look::{Palette, Type};
use crate::gui::parts::area::round_step;
use crate::gui::parts::card::{card_at, cut_right, empty_ui};
use crate::gui::parts::choice::{choice_ui, toggle_ui};
use crate::gui::parts::table;

/// Below this height the picture has the whole page.
const LOW: f32 = 440.0;
/// Width of the list of channels.
const SIDE: f32 = 208.0;

/// What stands below the traces.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Below {
    #[default]
    Figures,
    Spectrum,
    Histogram,
}

/// What the station keeps to itself.
#[derive(Default)]
pub struct Traces {
    window: TimeWindow,
    cursors: Cursors,
    /// Channels that a person switched on or off; the others follow the default.
    switched: BTreeMap<Channel, bool>,
    /// Vertical range of each channel, so that it does not tremble with the noise.
    ranges: BTreeMap<Channel, [f64; 2]>,
    contacts: Contacts,
    /// What stands below the traces.
    below: Below,
    /// The channel whose spread is shown.
    spread_of: Option<Channel>,
    spread: Spread,
}

impl Station for Traces {
    fn place(&self) -> Place {
        Place::Traces
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
        let (main, side) = cut_right(ui.max_rect(), SIDE);
        card_at(ui, side, "Channels", |ui| self.channels_ui(ui, desk, &all));
        let low = (shown.len() as f32 + 1.0) * table::ROW + 84.0;
        // On a low screen the picture has the greater need of the room.
        let most = if main.height() < 600.0 { 0.28 } else { 0.36 };
        let low = match self.below {
            Below::Figures => low.min(main.height() * most),
            Below::Spectrum | Below::Histogram => (main.height() * 0.42).min(400.0),
        };
        let room = main.height();
        let (main, below) = match room < LOW {
            true => (main, None),
            false => {
                let (main, below) = split_bottom(main, low);
                (main, Some(below))
            }
        };
        let mut on_screen = 0..0;
        card_at(ui, main, "", |ui| {
            self.toolbar_ui(ui, actions);
            on_screen = self.traces_ui(ui, desk, &shown);
        });
        if let Some(below) = below {
            card_at(ui, below, "", |ui| {
                self.below_ui(ui, desk, &shown, on_screen, actions);
            });
        }
    }

    fn told(&mut self, action: &Action, view: &View<'_>) {
        let end_us = head_us(view.desk);
        match action {
            Action::Freeze => self.window.toggle_freeze(end_us),
            Action::Zoom(by) => {
                let [left, right] = self.window.edges(end_us);
                let factor = if *by > 0 { 0.5 } else { 2.0 };
                self.window.zoom(factor, (left as f64 + right as f64) / 2.0, end_us);
            }
            Action::Inspect(span) => {
                // Readings carry the board's own time; the time axis begins with the first row.
                let results = view.desk.results();
                let origin = results.and_then(|r| r.tracks.t_us.first().copied()).unwrap_or(0);
                let [from, to] = [span.start_us, span.end_us].map(|t| t.saturating_sub(origin));
                self.window.show(from, to);
            }
            Action::Follow | Action::Connect(_) | Action::Open(_) => self.window.held_at_us = None,
            _ => {}
        }
    }
}

/// The newest time that is looked at: the play head.
fn head_us(desk: &Desk) -> u64 {
    desk.transport.at_us
}

impl Traces {
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

    fn below_ui(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        shown: &[Channel],
        rows: Range<usize>,
        actions: &mut Vec<Action>,
    ) {
        let levels: Vec<Channel> =
            shown.iter().copied().filter(|c| c.field(desk.session()).is_some()).collect();
        let chosen = self.spread_of.filter(|c| levels.contains(c)).or(levels.first().copied());
        ui.horizontal(|ui| {
            ui.label(Type::Title.text(ui, "Visible span"));
            let names = ["Figures", "Spectrum", "Histogram"];
            if let Some(k) = choice_ui(ui, &names, self.below as usize) {
                self.below = [Below::Figures, Below::Spectrum, Below::Histogram][k];
            }
            match (self.below, chosen) {
                (Below::Figures, _) | (_, None) => {
                    figures::cursors_ui(ui, rows.len(), self.cursors);
                }
                (_, Some(chosen)) => {
                    let list = egui::ComboBox::from_id_salt("spread of").width(128.0);
                    let list = list.selected_text(chosen.name(desk)).show_ui(ui, |ui| {
                        for channel in &levels {
                            let name = channel.name(desk);
                            if ui.selectable_label(*channel == chosen, name).clicked() {
                                self.spread_of = Some(*channel);
                            }
                        }
                    });
                    list.response.accessible_name("Channel of the picture");
                }
            }
        });
        let kind = match self.below {
            Below::Spectrum => Kind::Spectrum,
            Below::Histogram => Kind::Histogram,
            Below::Figures => {
                figures::figures_ui(ui, desk, shown, &self.contacts, rows, self.cursors, actions);
                return;
            }
        };
        match chosen.and_then(|c| c.field(desk.session())) {
            Some(field) => self.spread.ui(ui, desk, kind, field, rows),
            None => drop(ui.label(Type::Label.soft(ui, "Tick a channel that is no contact"))),
        }
    }

    fn toolbar_ui(&mut self, ui: &mut Ui, actions: &mut Vec<Action>) {
        ui.horizontal(|ui| {
            let frozen = self.window.held_at_us.is_some();
            let hint = format!("{} (F)", Action::Freeze.hint());
            if toggle_ui(ui, "Freeze", frozen, &hint) {
                actions.push(Action::Freeze);
            }
            ui.separator();
            if let Some(k) = choice_ui(ui, &["Scroll", "Sweep"], self.window.motion as usize) {
                self.window.motion = [Motion::Scroll, Motion::Sweep][k];
            }
            ui.separator();
            for action in [Action::Zoom(-1), Action::Zoom(1)] {
                if action_button(ui, &action, Ok(())) {
                    actions.push(action);
                }
            }
            let span = ui.label(Type::Value.text(ui, span_words(self.window.span_us)));
            let hint = "wheel zooms, drag moves, click sets a cursor, double click clears both";
            // Where there is no room for it, the same stands on the time span.
            if ui.available_width() > 460.0 {
                ui.label(Type::Note.soft(ui, hint));
            } else {
                span.on_hover_text(hint);
            }
        });
    }

    fn traces_ui(&mut self, ui: &mut Ui, desk: &Desk, shown: &[Channel]) -> Range<usize> {
        if shown.is_empty() {
            empty_ui(ui, "No channel is chosen; tick some on the right");
            return 0..0;
        }
        let p = Palette::of(ui);
        let (session, timebase) = (desk.session(), desk.timebase());
        let end_us = head_us(desk);
        let [left, right] = self.window.edges(end_us);
        let visible = timebase.row_at(left)..timebase.row_at(right + 1).min(session.rows());
        let names: Vec<String> = shown.iter().map(|c| c.name(desk)).collect();
        let rows: Vec<Box<dyn Rows + '_>> =
            shown.iter().map(|c| rows_of(desk, &self.contacts, *c)).collect();
        let lanes: Vec<Lane<'_>> = shown
            .iter()
            .zip(names.iter().zip(&rows))
            .map(|(channel, (name, rows))| Lane {
                name,
                colour: match channel {
                    Channel::Axis(axis) => p.axis(*axis),
                    _ => p.ink,
                },
                dashed: channel.is_right(),
                form: match channel {
                    Channel::Button(_) => LaneForm::Contact,
                    _ => {
                        let now = rows.min_max(visible.clone());
                        LaneForm::Level(steady(self.ranges.entry(*channel).or_default(), now))
                    }
                },
                rows: rows.as_ref(),
            })
            .collect();
        let stamps: Vec<(u64, &str)> = session
            .stamps()
            .iter()
            .map(|s| (timebase.time_us(session.row_of(s)), s.word.as_str()))
            .collect();
        let scene = Scene {
            lanes: &lanes,
            end_us,
            period_us: timebase.period_us(),
            broken: timebase.gaps(),
            marks: &stamps,
        };
        picture_ui(ui, &scene, &mut self.window, &mut self.cursors).1
    }
}

/// The rows behind a channel.
fn rows_of<'a>(desk: &'a Desk, contacts: &'a Contacts, channel: Channel) -> Box<dyn Rows + 'a> {
    let (session, timebase) = (desk.session(), desk.timebase());
    match (channel, channel.field(session)) {
        (Channel::Button(bit), _) => Box::new(ContactRows { timebase, contacts, bit }),
        (_, field) => {
            // A channel whose field went away shows nothing: the session has no such column.
            Box::new(FieldRows { session, timebase, field: field.unwrap_or(usize::MAX) })
        }
    }
}

/// A vertical range that holds what is visible, grows at once and shrinks only by halves.
fn steady(kept: &mut [f64; 2], now: Option<(i32, i32)>) -> [f64; 2] {
    let Some((low, high)) = now.map(|(l, h)| (f64::from(l), f64::from(h))) else {
        return if kept[0] < kept[1] { *kept } else { [0.0, 1.0] };
    };
    let need = (high - low).max(4.0);
    let have = kept[1] - kept[0];
    if have <= 0.0 || low < kept[0] || high > kept[1] || need < have * 0.3 {
        let step = round_step(need / 4.0);
        let from = ((low - need * 0.1) / step).floor() * step;
        let to = ((high + need * 0.1) / step).ceil() * step;
        *kept = [from, to];
    }
    *kept
}

/// Length of the shown stretch in words.
fn span_words(span_us: u64) -> String {
    let s = span_us as f64 / 1e6;
    if s < 1.0 {
        format!("{:.0}\u{a0}ms", s * 1e3)
    } else if s < 120.0 {
        format!("{}\u{a0}s", (s * 10.0).round() / 10.0)
    } else if s < 7200.0 {
        format!("{:.1}\u{a0}min", s / 60.0)
    } else {
        format!("{:.1}\u{a0}h", s / 3600.0)
    }
}

/// Cuts a band of `height` off the bottom; gives what is left above the gap, and the band.
fn split_bottom(rect: egui::Rect, height: f32) -> (egui::Rect, egui::Rect) {
    use crate::gui::look::size::PAGE;
    let y = rect.bottom() - height;
    let top = egui::Rect::from_min_max(rect.min, egui::pos2(rect.right(), y - PAGE));
    (top, egui::Rect::from_min_max(egui::pos2(rect.left(), y), rect.max))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_grows_at_once_and_does_not_tremble() {
        let mut kept = [0.0; 2];
        let first = steady(&mut kept, Some((500, 520)));
        assert!(first[0] < 500.0 && first[1] > 520.0);
        assert_eq!(steady(&mut kept, Some((501, 519))), first);
        let wider = steady(&mut kept, Some((100, 900)));
        assert!(wider[0] < 100.0 && wider[1] > 900.0);
        assert_eq!(steady(&mut kept, None), wider);
        assert!(steady(&mut kept, Some((500, 520)))[1] < 600.0, "shrinks when far too wide");
    }

    #[test]
    fn spans_are_written_in_fitting_units() {
        assert_eq!(span_words(5_000), "5\u{a0}ms");
        assert_eq!(span_words(5_000_000), "5\u{a0}s");
        assert_eq!(span_words(3_600_000_000), "60.0\u{a0}min");
    }
}
