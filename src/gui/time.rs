//! The timeline over the whole session: overview kept between frames, play controls, marks.
use egui::{Context, Rect, Ui, UiBuilder, pos2, vec2};

use super::actions::{Action, TimeVerb};
use super::look::{Palette, Type, size};
use super::parts::area::note;
use super::parts::finding::state_of;
use super::parts::held::Held;
use super::parts::lane::Band;
use super::parts::ruler::Ruler;
use super::parts::state_mark::State;
use super::parts::timeline::{OverviewLane, Timeline, jumps_rect, overview_rect, timeline_ui};
use super::stations::traces::channels::FieldRows;
use super::stations::traces::sampling::{column_rows, extents, on_entries};
use crate::desk::{Desk, SPEEDS, Sight};
use crate::rig::{AxisId, Word};
use crate::wire::Role;

/// A step along the session, µs: so many rows where nothing tells the time.
pub const STEP_US: u64 = 1_000_000;

/// One lane of the overview: its columns and its range.
type OverviewOf = (AxisId, Band, [f32; 2]);

/// Lanes of the overview, computed anew only when the session or the width changed.
#[derive(Default)]
pub struct Overview {
    made_of: (usize, usize),
    lanes: Held<Vec<OverviewOf>>,
    /// The time of the head, as it is read.
    read_us: Held<u64>,
}

impl Overview {
    /// Draws the timeline and its controls.
    /// `window_us` is the stretch that the station on screen looks at.
    pub fn timeline_ui(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        window_us: Option<[u64; 2]>,
        actions: &mut Vec<Action>,
    ) {
        let p = Palette::of(ui);
        let rect = ui.available_rect_before_wrap();
        self.follow(ui.ctx(), desk, overview_rect(rect).width() as usize);
        let made = self.lanes.last().into_iter().flatten();
        let lanes: Vec<OverviewLane<'_>> = made.map(|made| lane(made, p)).collect();
        let session = desk.session();
        let marks: Vec<(u64, &str)> = session
            .marks()
            .iter()
            // Calls and pushes within a task would hide the tasks; they stand in the traces.
            .filter(|s| !matches!(s.word, Word::Call | Word::Push))
            .map(|s| (desk.timebase().time_us(session.row_of(s)), s.word.as_str()))
            .collect();
        let findings = findings(desk);
        let transport = desk.transport;
        let live = desk.link().state.is_some();
        let timeline = Timeline {
            state: match (transport.following, transport.playing, live) {
                (true, _, true) => "live",
                (true, _, false) => "at the end",
                (false, true, _) => "playing",
                (false, false, _) => "paused",
            },
            span_us: [0, desk.timebase().end_us()],
            head_us: transport.at_us,
            read_us: *self.read_us.of(ui.ctx(), || transport.at_us),
            lanes: &lanes,
            marks: &marks,
            findings: &findings,
            window_us,
            ruler: Ruler::of(desk.row_us()),
            // Speeds stand there while the session is played by hand.
            spare_line: transport.following,
        };
        if let (_, Some(t_us)) = timeline_ui(ui, &timeline) {
            actions.push(Action::Time(TimeVerb::Seek(t_us)));
        }
        let left = Rect::from_min_max(
            rect.min + vec2(16.0, 34.0),
            pos2(rect.left() + size::RAIL - 8.0, rect.top() + 60.0),
        );
        ui.scope_builder(UiBuilder::new().max_rect(left), |ui| {
            ui.spacing_mut().button_padding = vec2(8.0, 1.0);
            ui.spacing_mut().interact_size.y = 24.0;
            ui.spacing_mut().item_spacing.x = 4.0;
            ui.horizontal(|ui| controls_ui(ui, desk, actions));
        });
        let speed = Rect::from_min_max(
            rect.min + vec2(16.0, 62.0),
            pos2(rect.left() + size::RAIL - 8.0, rect.bottom() - 4.0),
        );
        ui.scope_builder(UiBuilder::new().max_rect(speed), |ui| {
            ui.horizontal(|ui| speed_ui(ui, desk, actions));
        });
        ui.scope_builder(UiBuilder::new().max_rect(jumps_rect(rect)), |ui| {
            jumps_ui(ui, desk, actions);
        });
    }

    fn follow(&mut self, ctx: &Context, desk: &Desk, width: usize) {
        let session = desk.session();
        if self.made_of == (session.rows(), width) {
            return;
        }
        // While live, a new picture for every thousandth of the session is soon enough.
        let grown = session.rows().abs_diff(self.made_of.0);
        if width == self.made_of.1 && grown * 1000 < session.rows() {
            return;
        }
        if width != self.made_of.1 {
            self.lanes.forget();
        }
        let made_of = &mut self.made_of;
        self.lanes.of(ctx, || {
            *made_of = (session.rows(), width);
            overview(desk, width)
        });
    }
}

fn lane<'a>((axis, band, range): &'a OverviewOf, p: &Palette) -> OverviewLane<'a> {
    OverviewLane { name: axis.key(), band, range: *range, colour: p.axis(*axis) }
}

/// The lanes of the sticks over the whole session, a column a point of `width`.
fn overview(desk: &Desk, width: usize) -> Vec<OverviewOf> {
    let session = desk.session();
    let end_us = desk.timebase().end_us().max(1);
    let columns: Vec<_> = (0..width as u64)
        .map(|k| Some([end_us * k / width as u64, end_us * (k + 1) / width as u64 + 1]))
        .collect();
    let of = |axis: AxisId| Some((axis, session.field_of(Role::Axis(axis))?));
    let sticks = [AxisId::Lx, AxisId::Ly, AxisId::Rx, AxisId::Ry].into_iter().filter_map(of);
    let mut rows = None;
    sticks
        .map(|(axis, field)| {
            let source = FieldRows { session, timebase: desk.timebase(), field };
            let rows = rows.get_or_insert_with(|| on_entries(&column_rows(&source, &columns)));
            let (low, high) = session.span_of(field, 0..session.rows()).unwrap_or((0, 1));
            // Noise alone must not fill a lane: at least a tenth of the greatest reading.
            let least = high.abs().max(low.abs()) as f32 * 0.1;
            let pad = (least - (high - low) as f32).max(2.0) / 2.0;
            let range = [low as f32 - pad, high as f32 + pad];
            (axis, extents(&source, rows).into(), range)
        })
        .collect()
}

fn controls_ui(ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
    let transport = desk.transport;
    let some = if desk.session().rows() > 0 { Ok(()) } else { Err("There is no session yet") };
    let play = if transport.playing { "Pause" } else { "Play" };
    let button = ui.add_enabled(some.is_ok(), egui::Button::new(play));
    if button.on_hover_text("Play or pause (P)").clicked() {
        actions.push(Action::Time(TimeVerb::Play));
    }
    if transport.following {
        return;
    }
    if ui.button("Newest").on_hover_text("Stay at the newest frame (L)").clicked() {
        actions.push(Action::Time(TimeVerb::Follow));
    }
}

/// Slower, the speed, faster; while a session is played.
fn speed_ui(ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
    let transport = desk.transport;
    if transport.following {
        return;
    }
    ui.spacing_mut().button_padding = vec2(6.0, 1.0);
    ui.spacing_mut().interact_size.y = 22.0;
    ui.spacing_mut().item_spacing.x = 8.0;
    let ends = [SPEEDS[0], SPEEDS[SPEEDS.len() - 1]];
    let verbs = [
        ("½×", Action::Time(TimeVerb::Speed(false)), ends[0], "slowest"),
        ("2×", Action::Time(TimeVerb::Speed(true)), ends[1], "fastest"),
    ];
    for (k, (sign, action, end, name)) in verbs.into_iter().enumerate() {
        if k == 1 {
            let words = Ruler::of(desk.row_us()).speed(transport.speed);
            ui.label(Type::Note.text(ui, words));
        }
        let can = transport.speed != end;
        let button = ui.add_enabled(can, egui::Button::new(Type::Note.text(ui, sign)));
        let clicked = button.clicked();
        let said = format!("{} ({})", action.label(), action.key_words(ui.ctx()));
        button
            .accessible_name(action.label())
            .on_hover_text(said)
            .on_disabled_hover_text(format!("This is the {name} speed"));
        if clicked {
            actions.push(action);
        }
    }
}

/// One row each: to the mark, the finding, the second (or as many rows) before and behind.
fn jumps_ui(ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
    ui.spacing_mut().button_padding = vec2(6.0, 1.0);
    ui.spacing_mut().item_spacing = vec2(4.0, 2.0);
    ui.spacing_mut().interact_size.y = 22.0;
    let step = match Ruler::of(desk.row_us()) {
        Ruler::Time => "one second".to_owned(),
        rows => rows.length(STEP_US),
    };
    let rows = [("mark", Some(Sight::Mark)), ("finding", Some(Sight::Finding)), (&step, None)];
    for (name, sight) in rows {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(68.0, 22.0), egui::Sense::hover());
            let p = Palette::of(ui);
            let at = pos2(rect.right(), rect.center().y);
            note(ui.painter(), at, egui::Align2::RIGHT_CENTER, name, p.soft);
            ui.add_space(4.0);
            for forward in [false, true] {
                jump_ui(ui, desk, sight, forward, actions);
            }
        });
    }
}

/// Back or forward to a sight, or by a second.
fn jump_ui(
    ui: &mut Ui,
    desk: &Desk,
    sight: Option<Sight>,
    forward: bool,
    actions: &mut Vec<Action>,
) {
    let (can, why) = match sight {
        None => (desk.session().rows() > 0, "There is no session yet"),
        Some(sight) => {
            let why = match (sight, forward) {
                (Sight::Mark, false) => "There is no mark before this place",
                (Sight::Mark, true) => "There is no mark behind this place",
                (Sight::Finding, false) => "There is no finding before this place",
                (Sight::Finding, true) => "There is no finding behind this place",
            };
            (desk.sight_from_here(sight, forward).is_some(), why)
        }
    };
    let word = if forward { "Forward" } else { "Back" };
    let verb = sight.map_or(TimeVerb::Step(forward), |sight| TimeVerb::Jump(sight, forward));
    let verb = Action::Time(verb);
    let button = ui.add_enabled(can, egui::Button::new(Type::Note.text(ui, word)));
    let clicked = button.clicked();
    let said = format!("{} ({})", verb.label(), verb.key_words(ui.ctx()));
    button.accessible_name(verb.label()).on_hover_text(said).on_disabled_hover_text(why);
    if clicked {
        actions.push(verb);
    }
}

/// Where in the session findings come from, the gravest last so that it lies on top.
fn findings(desk: &Desk) -> Vec<(u64, State)> {
    let Some(results) = desk.results() else { return Vec::new() };
    let first_us = results.tracks.t_us.first().copied().unwrap_or(0);
    let found = results.findings.iter().rev();
    found
        .filter_map(|f| Some((f.span?.start_us.saturating_sub(first_us), state_of(f.severity))))
        .collect()
}
