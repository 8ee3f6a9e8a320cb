//! Triggers: pull and let go · read rest, full, scatter, reversal · see strokes and thresholds.
use egui::{Rect, Sense, Ui, WidgetInfo, vec2};

use super::trim::stairs::output_ui;
use super::{Station, View, copy_corner, found, live, rows};
use crate::desk::Results;
use crate::emit::chart::{self, Chart, Output};
use crate::gui::actions::{Action, LinkVerb, Screen, Touch, TraceVerb};
use crate::gui::look::{Palette, Type, size};
use crate::gui::parts::area::{Area, round_steps};
use crate::gui::parts::card::{card_at, columns, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::chart::{Hand, chart_ui};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::figures::{self, Figure, figures_ui};
use crate::gui::parts::numbers::number;
use crate::gui::parts::ruler::Ruler;
use crate::gui::parts::state_mark::State;
use crate::gui::parts::travel::{Travel, travel_ui};
use crate::measure::Span;
use crate::rig::{Half, Place};
use crate::survey::{Page, TriggerFigures, value};
use crate::wire::Role;

/// Height that a trigger's card needs.
const LEAST: f32 = 640.0;

/// What the station keeps to itself.
#[derive(Default)]
pub struct Triggers {
    /// Outputs are shown in place of strokes.
    output: bool,
    /// The strokes of each trigger, with what they were made of.
    strokes: [Option<(Made, Chart)>; 2],
}

/// What strokes were made of: rows of the results, level that counts as pressed.
type Made = (usize, Option<u16>);

impl Station for Triggers {
    fn screen(&self) -> Screen {
        Screen::Triggers
    }

    fn state(&self, view: &View<'_>) -> State {
        let Some(results) = view.judged() else { return State::NotStarted };
        let triggers = &results.survey.triggers;
        super::part_state(results, Page::Triggers, || {
            !triggers.is_empty() && triggers.iter().all(|t| t.rest.is_ok() && t.full.is_ok())
        })
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        let session = view.desk.session();
        let present = Half::ALL.iter().any(|h| session.field_of(Role::Axis(h.trigger())).is_some());
        (!present).then_some(
            "Travel and thresholds of the triggers will stand here; connect a board with triggers in Link",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        if let Some(sentence) = self.missing(view) {
            return empty_ui(ui, sentence);
        }
        let folded = ui.available_width() < size::FOLD;
        // In a narrow column the notes of the figures take further lines.
        let narrow = if ui.available_width() < 800.0 { 100.0 } else { 0.0 };
        let least = if folded { LEAST + 260.0 + narrow } else { LEAST };
        page_ui(ui, least, |ui, page| {
            let (main, side) = if folded {
                cut_top(page, page.height() - 260.0 + size::PAGE)
            } else {
                cut_right(page, found::WIDTH)
            };
            for (half, rect) in Half::ALL.into_iter().zip(columns::<2>(main)) {
                self.trigger_card(ui, rect, view, half, actions);
            }
            found::found_ui(ui, side, view, Some(Page::Triggers), actions);
        });
    }

    fn copied(&self, view: &View<'_>) -> Option<String> {
        let results = view.desk.results()?;
        let triggers = results.survey.triggers.iter().map(|trigger| as_text(results, trigger));
        let text: Vec<String> = triggers.collect();
        (!text.is_empty()).then(|| text.join("\n"))
    }
}

fn title(half: Half) -> &'static str {
    match half {
        Half::Left => "Left trigger",
        Half::Right => "Right trigger",
    }
}

/// The figures of a trigger, one a line.
fn as_text(results: &Results, trigger: &TriggerFigures) -> String {
    let rows: Vec<Figure> = rows::rows_of(results, Place::trigger(trigger.half))
        .into_iter()
        .map(|(row, _)| row)
        .collect();
    format!("{}\n{}", title(trigger.half), figures::as_text(&rows))
}

impl Triggers {
    /// The strokes of a trigger, laid over one another once for each set of results.
    fn strokes_of(&mut self, results: &Results, figures: &TriggerFigures) -> &Chart {
        let (half, trim) = (figures.half, &results.solution.trim);
        let made = (results.rows, trim.trigger(half).map(|t| t.on));
        let kept = self.strokes[half as usize].take().filter(|(of, _)| *of == made);
        let make = || {
            let codes = results.tracks.axis(half.trigger()).unwrap_or_default();
            let pulls = &results.segments.pulls[half as usize];
            let by_rows = results.row_us().is_some();
            // A row stands for a second where nothing tells the time, so that strokes are along rows.
            let rows: Vec<u64> = match by_rows {
                true => (0..results.rows as u64).map(|row| row * 1_000_000).collect(),
                false => Vec::new(),
            };
            let along = if by_rows { &rows } else { &results.tracks.t_us };
            let strokes = chart::strokes_of(pulls, codes, along);
            let mut chart = chart::strokes(figures, &strokes, Some(trim));
            if by_rows {
                "rows".clone_into(&mut chart.x.label);
                chart.x.unit = "";
            }
            (made, chart)
        };
        &self.strokes[half as usize].insert(kept.unwrap_or_else(make)).1
    }

    fn trigger_card(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        view: &View<'_>,
        half: Half,
        actions: &mut Vec<Action>,
    ) {
        card_at(ui, rect, title(half), |ui| {
            let now = live::reading(view.desk, half.trigger());
            let Some(results) = view.desk.results() else {
                ui.label(Type::Label.soft(ui, "no reading of this trigger has come yet"));
                return;
            };
            let Some(figures) = results.survey.trigger(half) else {
                ui.label(Type::Label.soft(ui, "the board sends no reading of this trigger"));
                return;
            };
            copy_corner(ui, || as_text(results, figures), actions);
            let trim = results.solution.trim.trigger(half);
            let travel = Travel {
                full_scale: f64::from(results.solution.trim.full_scale()),
                rest: value(&figures.rest),
                full: value(&figures.full),
                thresholds: trim.map(|t| [f64::from(t.on), f64::from(t.off)]),
                now,
                draggable: view.desk.hand().is_some(),
            };
            if let Some(pull) = pull_ui(ui, half, &travel) {
                actions.push(Action::Link(LinkVerb::Hand(Touch::Trigger(half, pull))));
            }
            let solved = Output::of(&results.solution.trim, half.trigger());
            let (rows, spans): (Vec<Figure>, Vec<Option<Span>>) =
                rows::rows_of(results, Place::trigger(figures.half)).into_iter().unzip();
            let below = figures::height(ui, &rows, ui.available_width());
            // A caption, the choice of the picture, and the gaps between.
            let room = ui.available_height() - below - 86.0;
            let recent = (room * 0.3).clamp(60.0, 260.0);
            recent_ui(ui, view, half, recent);
            let names = ["Strokes", "Raw to output"];
            if let Some(k) = choice_ui(ui, &names, usize::from(self.output)) {
                self.output = k == 1;
            }
            let height = (room - recent).clamp(120.0, 460.0);
            match solved {
                Some(input) if self.output => {
                    let title = format!("Output by raw code of {}", half.trigger().words());
                    let codes = [0, results.solution.trim.full_scale()];
                    output_ui(ui, &title, input, codes, now.map(|v| v as u16), height);
                }
                _ => {
                    let chart = self.strokes_of(results, figures);
                    chart_ui(ui, chart, vec2(ui.available_width(), height), Hand::Moves);
                }
            }
            ui.add_space(8.0);
            for (response, span) in figures_ui(ui, &rows).into_iter().zip(spans) {
                if let (true, Some(span)) = (response.clicked(), span) {
                    actions.push(Action::Trace(TraceVerb::Inspect(span)));
                }
            }
        });
    }
}

/// Length of the trace of a trigger, µs: so many rows where nothing tells the time.
const RECENT_US: u64 = 8_000_000;

/// The trigger over the last stretch, from nothing to full scale.
fn recent_ui(ui: &mut Ui, view: &View<'_>, half: Half, height: f32) {
    let p = Palette::of(ui);
    let axis = half.trigger();
    let Some(field) = view.desk.session().field_of(Role::Axis(axis)) else { return };
    let full = view.desk.results().map_or(1023, |r| r.solution.trim.full_scale());
    let span = Ruler::of(view.desk.row_us()).length(RECENT_US);
    ui.label(Type::Note.soft(ui, format!("the last {span}, counts")));
    let size = vec2(ui.available_width(), height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| {
        let said = format!("The last {span} of the {}", axis.words());
        WidgetInfo::labeled(egui::Role::Image, true, said)
    });
    let inner = Rect::from_min_max(rect.min + vec2(60.0, 4.0), rect.max - vec2(16.0, 4.0));
    let area = Area { rect: inner, x: [-8.0, 0.0], y: [0.0, f64::from(full)] };
    // The lower and the upper end at least, however low the picture.
    for y in round_steps(0.0, f64::from(full), ((height / 40.0) as usize).max(2)) {
        area.rule_y(ui.painter(), p, y, &number(y, 0));
    }
    let range = Some([0.0, f32::from(full)]);
    live::strip(ui.painter(), view.desk, field, inner, RECENT_US, range, p.axis(axis));
}

/// The bar; gives the share of travel that the trigger is dragged to, or that it was let go.
fn pull_ui(ui: &mut Ui, half: Half, travel: &Travel) -> Option<Option<f64>> {
    let (response, to) = travel_ui(ui, half.trigger().words(), travel);
    if !travel.draggable {
        return None;
    }
    // Before the first pull the ends are not known: the whole scale stands for them.
    let rest = travel.rest.unwrap_or(0.0);
    let full =
        travel.full.unwrap_or(if rest > travel.full_scale / 2.0 { 0.0 } else { travel.full_scale });
    let pulled = to.map(|counts| ((counts - rest) / (full - rest)).clamp(0.0, 1.0));
    let freed = response.drag_stopped() || response.clicked();
    response.on_hover_text("Drag to pull the virtual trigger; it springs back when let go");
    match pulled {
        Some(share) => Some(Some(share)),
        None => freed.then_some(None),
    }
}
