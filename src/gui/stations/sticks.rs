//! Sticks: roll, let go · read reach, roundness, rests and dead zone · see where a figure came from.
use egui::{Rect, Ui, vec2};

use super::undulations::undulations_ui;
use super::{News, Station, View, copy_corner, found, live, rows};
use crate::desk::Results;
use crate::emit::chart;
use crate::gui::actions::{Action, LinkVerb, PartVerb, Screen, Touch, TraceVerb};
use crate::gui::look::{Type, size};
use crate::gui::parts::card::{card_at, columns, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::chart::{Hand, chart_ui};
use crate::gui::parts::choice::toggle_ui;
use crate::gui::parts::figures::{self, Figure, figures_ui};
use crate::gui::parts::gate_outline::{Circles, GateOutline, Led, gate_outline_ui};
use crate::gui::parts::rest_cloud::{self, Asked, RestCloud, rest_cloud_ui};
use crate::gui::parts::state_mark::State;
use crate::measure::Span;
use crate::measure::roundness;
use crate::rig::{Half, Place, Rig, Task};
use crate::survey::{Page, Profile, StickFigures, value};
use crate::trim::{DeadZone, ZonePlace};
use crate::wire::Role;

/// Height that a stick's card needs.
const LEAST: f32 = 680.0;
/// Height of the captions and gaps of a stick's pictures.
const PICTURES: f32 = 78.0;
/// Least height of those pictures with the card's title and margins.
const LEAST_PICTURES: f32 = 380.0;

/// What the station keeps to itself.
#[derive(Default)]
pub struct Sticks {
    /// The release of each stick that is looked at.
    rests: [Option<usize>; 2],
    /// Reference circles are shown.
    circles: bool,
    /// Height of the figures of the stick that needs more.
    figures: f32,
    /// The circles of the results of so many rows.
    fitted: (usize, [Option<Circles>; 2]),
}

impl Station for Sticks {
    fn screen(&self) -> Screen {
        Screen::Sticks
    }

    fn state(&self, view: &View<'_>) -> State {
        let Some(results) = view.judged() else { return State::NotStarted };
        let sticks = &results.survey.sticks;
        super::part_state(results, Page::Sticks, || {
            !sticks.is_empty()
                && sticks.iter().all(|s| s.centre[0].is_ok() && s.outer_reach.is_ok())
        })
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        let session = view.desk.session();
        let any = Half::ALL.iter().flat_map(|h| h.stick());
        let mut present = any.filter(|a| session.field_of(Role::Axis(*a)).is_some());
        present.next().is_none().then_some(
            "Reach, roundness and rests of the sticks will stand here; connect a board in Link first",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        if let Some(sentence) = self.missing(view) {
            return empty_ui(ui, sentence);
        }
        let folded = ui.available_width() < size::FOLD;
        // In a narrow column the notes of the figures take further lines.
        let side = if folded { 0.0 } else { found::WIDTH + size::PAGE };
        let column = (ui.available_width() - side - 12.0 - size::PAGE) / 2.0 - 2.0 * size::CARD;
        self.figures = figures_height(ui, view, column);
        let least = LEAST.max(self.figures + PICTURES + LEAST_PICTURES);
        let least = if folded { least + 320.0 } else { least };
        page_ui(ui, least, |ui, page| {
            let (main, side) = if folded {
                cut_top(page, page.height() - 320.0 + size::PAGE)
            } else {
                cut_right(page, found::WIDTH)
            };
            for (half, rect) in Half::ALL.into_iter().zip(columns::<2>(main)) {
                self.stick_card(ui, rect, view, half, actions);
            }
            let (above, below) = if folded {
                let [above, below] = columns::<2>(side);
                (above, below)
            } else {
                cut_top(side, side.height() - 320.0)
            };
            found::found_ui(ui, above, view, Some(Page::Sticks), actions);
            card_at(ui, below, "Undulations per turn", |ui| {
                undulations_ui(ui, view);
                let verb = Action::Part(PartVerb::Circles);
                let hint = format!("{} ({})", verb.hint(), verb.key_words(ui.ctx()));
                if toggle_ui(ui, verb.label(), self.circles, &hint) {
                    actions.push(verb);
                }
            });
        });
    }

    fn copied(&self, view: &View<'_>) -> Option<String> {
        let results = view.desk.results()?;
        let sticks = results.survey.sticks.iter().map(|stick| as_text(results, stick));
        let text: Vec<String> = sticks.collect();
        (!text.is_empty()).then(|| text.join("\n"))
    }

    fn part(&mut self, verb: PartVerb, view: &View<'_>) {
        match verb {
            PartVerb::Circles => self.circles ^= true,
            PartVerb::Go(on) => self.go_on(view, on),
            PartVerb::Zone(_) | PartVerb::ProposedZone => {}
        }
    }

    fn told(&mut self, news: &News<'_>, _view: &View<'_>) {
        match news {
            News::Opened(_) | News::Connected(_) => self.rests = [None; 2],
            News::Disconnected | News::Followed => {}
        }
    }
}

impl Sticks {
    /// The next release, those of the left stick first.
    fn go_on(&mut self, view: &View<'_>, on: bool) {
        let Some(results) = view.desk.results() else { return };
        let counts = Half::ALL.map(|h| results.survey.stick(h).map_or(0, |s| s.releases.len()));
        let all = counts[0] + counts[1];
        if all == 0 {
            return;
        }
        let now = match self.rests {
            [Some(k), _] => Some(k),
            [None, Some(k)] => Some(counts[0] + k),
            [None, None] => None,
        };
        let k = rest_cloud::next(now, all, on);
        self.rests = match k.checked_sub(counts[0]) {
            None => [Some(k), None],
            Some(right) => [None, Some(right)],
        };
    }

    /// The reference circles of a stick, fitted once for each set of results.
    fn circles_of(&mut self, results: &Results, half: Half) -> Option<Circles> {
        if self.fitted.0 != results.rows {
            let of = |half| circles(&results.survey.stick(half)?.profile);
            self.fitted = (results.rows, Half::ALL.map(of));
        }
        self.fitted.1[half as usize].filter(|_| self.circles)
    }
}

/// The circles that the roundness of a profile is measured against.
fn circles(profile: &Profile) -> Option<Circles> {
    let points = roundness::points_of_profile(&profile.reach);
    let fitted = roundness::least_squares(&points).ok()?.circle;
    let zone = roundness::minimum_zone(&points).ok()?;
    Some(Circles {
        fitted: [fitted.x, fitted.y, fitted.r],
        zone: [zone.x, zone.y, zone.inner, zone.outer],
    })
}

/// The figures of a stick, one a line.
fn as_text(results: &Results, stick: &StickFigures) -> String {
    let rows = rows::rows_of(results, Place::Stick(stick.half));
    let rows: Vec<Figure> = rows.into_iter().map(|(row, _)| row).collect();
    format!("{}\n{}", title(stick.half), figures::as_text(&rows))
}

fn title(half: Half) -> &'static str {
    match half {
        Half::Left => "Left stick",
        Half::Right => "Right stick",
    }
}

impl Sticks {
    fn stick_card(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        view: &View<'_>,
        half: Half,
        actions: &mut Vec<Action>,
    ) {
        card_at(ui, rect, title(half), |ui| {
            let results = view.desk.results();
            let Some((results, stick)) = results.and_then(|r| Some((r, r.survey.stick(half)?)))
            else {
                let words = if view.desk.measuring().is_some() {
                    "measuring what has come so far"
                } else {
                    "no reading of this stick has come yet"
                };
                ui.label(Type::Label.soft(ui, words));
                return;
            };
            copy_corner(ui, || as_text(results, stick), actions);
            let zone = zone_of(results, half);
            let rows = rows::rows_of(results, Place::Stick(half));
            let (rows, spans): (Vec<Figure>, Vec<Option<Span>>) = rows.into_iter().unzip();
            // Both sticks' pictures are as large, whichever has the longer notes.
            let room = ui.available_height() - self.figures;
            let side = (ui.available_width() / 2.0 - 8.0).min(room * 0.42).clamp(100.0, 260.0);
            let height = (room - side - PICTURES).max(120.0);
            let circles = self.circles_of(results, half);
            let shown = Shown { zone, circles, rest: self.rests[half as usize], side, height };
            let (touch, asked) = pictures_ui(ui, view, stick, &shown);
            actions.extend(touch.map(|touch| LinkVerb::Hand(touch).into()));
            match asked {
                Some(Asked::Look(rest)) => {
                    self.rests = [None; 2];
                    self.rests[half as usize] = rest;
                }
                Some(Asked::Show(k)) => {
                    let span = stick.releases.get(k).map(|r| span_round(r.t_us));
                    actions.extend(span.map(|span| TraceVerb::Inspect(span).into()));
                }
                None => {}
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

/// The stretch in which a release came to rest: the let-go before it and some rest.
fn span_round(t_us: u64) -> Span {
    Span { start_us: t_us.saturating_sub(800_000), end_us: t_us + 400_000 }
}

/// Height of the figures of the stick that needs more, in a column of so much width.
fn figures_height(ui: &Ui, view: &View<'_>, width: f32) -> f32 {
    let Some(results) = view.desk.results() else { return 0.0 };
    let of = |stick: &StickFigures| {
        let rows = rows::rows_of(results, Place::Stick(stick.half));
        let rows: Vec<Figure> = rows.into_iter().map(|(row, _)| row).collect();
        figures::height(ui, &rows, width)
    };
    results.survey.sticks.iter().map(of).fold(0.0, f32::max)
}

/// What the pictures of a stick show beside its figures.
struct Shown<'a> {
    zone: Option<&'a DeadZone>,
    circles: Option<Circles>,
    /// The release that is looked at.
    rest: Option<usize>,
    /// Side of the small pictures and height of the large one, points.
    side: f32,
    height: f32,
}

/// Direction in degrees and share of the profile, while the stick is near its rim.
fn on_rim(stick: &StickFigures, at: [f64; 2], centre: [f64; 2], reach: f64) -> Option<[f64; 2]> {
    let (dx, dy) = (at[0] - centre[0], at[1] - centre[1]);
    let (deg, radius) = (dy.atan2(dx).to_degrees(), dx.hypot(dy));
    (radius > 0.8 * reach).then(|| [deg, rim_share(&stick.profile, deg, radius, reach)])
}

/// The reach unrolled, and where on it the stick is now (direction, share of the reach).
fn reach_ui(
    ui: &mut Ui,
    view: &View<'_>,
    stick: &StickFigures,
    now: Option<[f64; 2]>,
    height: f32,
) {
    let desk = view.desk;
    let limit = desk.results().and_then(|r| r.limits.roundness.good.high).map(|l| l / 2.0);
    let directions = live::directions(desk.rig(), stick.half);
    let chart = chart::reach(&stick.profile, stick.half, limit, directions);
    let size = vec2(ui.available_width(), height + 24.0);
    let drawn = chart_ui(ui, &chart, size, Hand::Moves);
    if let Some([deg, share]) = now {
        let [low, high] = chart.y.range;
        let deviation = ((share - 1.0) * 100.0).clamp(low, high);
        drawn.now(ui, &chart, [deg.rem_euclid(360.0), deviation]);
    }
}

fn pictures_ui(
    ui: &mut Ui,
    view: &View<'_>,
    stick: &StickFigures,
    shown: &Shown<'_>,
) -> (Option<Touch>, Option<Asked>) {
    let side = shown.side;
    let desk = view.desk;
    let half = stick.half;
    let now = live::stick(desk, half);
    let centre = [0, 1].map(|k| value(&stick.centre[k]));
    let centre = match centre {
        [Some(x), Some(y)] => Some([x, y]),
        _ => None,
    };
    let reach = value(&stick.outer_reach);
    let rim = now.zip(centre).zip(reach).and_then(|((at, c), r)| on_rim(stick, at, c, r));
    reach_ui(ui, view, stick, rim, shown.height);
    let trail = live::trail(desk, half);
    // Before the first release, the quiet rest stands in for the centre, else where the stick is.
    let middle =
        centre.or(quiet_rest(view, half)).or(trail.last().map(|t| t.0)).unwrap_or_default();
    // Before the first roll the scale is that of a usual stick: four fifths of the converter's half.
    let nominal = desk.results().map_or(100.0, |r| 2f64.powi(r.survey.raw_bits.into()) * 0.39);
    let scale = reach.unwrap_or(nominal);
    let (mut touch, mut asked) = (None, None);
    let rolling = desk.guided().filter(|run| run.task() == Some(Task::Roll));
    let visits = rolling.and_then(|run| run.prompt().visits.iter().find(|(h, _)| *h == half));
    ui.horizontal(|ui| {
        let gap = (ui.available_width() - 2.0 * side) / 3.0;
        ui.spacing_mut().item_spacing.x = 0.0;
        ui.add_space(gap.max(0.0));
        let outline = GateOutline {
            profile: &stick.profile,
            centre: middle,
            reach: scale,
            dashed: half == Half::Right,
            trail: &trail,
            seen: visits.map_or(&[], |(_, seen)| seen),
            circles: shown.circles,
            draggable: desk.hand().is_some(),
        };
        touch = match gate_outline_ui(ui, outline, side) {
            Some(Led::To(at)) => {
                Some(Touch::Stick(half, Some(travel_of(desk.rig(), half, at, scale))))
            }
            Some(Led::Free) => Some(Touch::Stick(half, None)),
            None => None,
        };
        ui.add_space(gap.max(0.0));
        let dead = shown.zone.map(|z| z.radius_counts);
        let share = desk.results().and_then(|r| r.limits.dead_zone_share.good.high);
        let limit = reach.zip(share).map(|(reach, share)| reach * share);
        let chart = chart::rests(half, &stick.releases, middle, dead, limit);
        let now = now.map(|at| [at[0] - middle[0], at[1] - middle[1]]);
        let cloud = RestCloud { chart: &chart, now, chosen: shown.rest };
        asked = rest_cloud_ui(ui, cloud, side);
    });
    (touch, asked)
}

/// A place in raw counts from the centre as a person means it: units of travel, right and away.
fn travel_of(rig: &Rig, half: Half, at: [f64; 2], reach: f64) -> (f64, f64) {
    let part = rig.sticks.iter().find(|s| s.half == half);
    let (x, y) = part.map_or((false, false), |s| (s.x_inverted, s.y_inverted));
    let sign = |inverted: bool| if inverted { -1.0 } else { 1.0 };
    (sign(x) * at[0] / reach, sign(y) * at[1] / reach)
}

/// Where the stick lies in the quiet rest, counts.
fn quiet_rest(view: &View<'_>, half: Half) -> Option<[f64; 2]> {
    let survey = &view.desk.results()?.survey;
    let [x, y] = half.stick().map(|axis| value(&survey.axis(axis)?.rest));
    Some([x?, y?])
}

/// How far out the stick is on the scale of the profile, which takes each side's own reach for one.
fn rim_share(profile: &Profile, deg: f64, radius: f64, reach: f64) -> f64 {
    let sectors = profile.reach.len().max(1);
    let sector = (deg.rem_euclid(360.0) / 360.0 * sectors as f64).round() as usize % sectors;
    match (profile.raw_counts.get(sector), profile.reach.get(sector)) {
        (Some(counts), Some(share)) if counts.is_finite() && share.is_finite() && *counts > 0.0 => {
            radius / counts * share
        }
        _ => radius / reach,
    }
}

fn zone_of(results: &Results, half: Half) -> Option<&DeadZone> {
    results.solution.zones.iter().find(|z| z.place == ZonePlace::Stick(half))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stick_on_the_rim_rides_on_the_profile() {
        let profile = Profile {
            reach: vec![1.0, 1.02, f64::NAN, 0.97],
            raw_counts: vec![410.0, 380.0, f64::NAN, 400.0],
            spread: vec![0.0; 4],
        };
        let share = |deg, radius| rim_share(&profile, deg, radius, 400.0);
        assert!((share(92.0, 380.0) - 1.02).abs() < 1e-12);
        assert!((share(-91.0, 200.0) - 0.485).abs() < 1e-12);
        assert!((share(180.0, 300.0) - 0.75).abs() < 1e-12, "unseen: the mean reach stands in");
    }
}
