//! A survey drawn from a known board, solved, and held against fresh releases of the same board.
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::drawn::Shape;
use super::*;
use crate::measure::cadence::LossRuns;
use crate::measure::centre::{Rested, centre};
use crate::measure::coupling::CommonCause;
use crate::measure::{Estimate, Measured, Reading, Span};
use crate::rig::{MotorPart, Reach, TriggerPart, ZoneForm};
use crate::survey::{
    AxisFigures, ButtonFigures, Common, Density, Looked, Profile, ReleaseRest, StickFigures,
    StreamFigures, TriggerFigures, short,
};
use crate::trim::apply::Trigger;
use crate::trim::check::check;
use crate::trim::{Doubt, DriftKnown, ZonePlace};
use crate::units::Unit;

const REST: Span = Span { start_us: 0, end_us: 8_000_000 };

/// A stick that is known.
#[derive(Clone, Copy, Debug)]
pub(super) struct Board {
    pub(super) centre: [f64; 2],
    pub(super) travel: [[f64; 2]; 2],
    pub(super) sigma: f64,
    pub(super) shape: Shape,
}

pub(super) const BOARD: Board = Board {
    centre: [518.3, 502.6],
    travel: [[411.0, 389.0], [395.0, 402.0]],
    sigma: 0.7,
    shape: Shape::Round(2.5),
};

impl Board {
    /// Where the stick rests after a push in a direction.
    fn rest(&self, from_deg: f64, rng: &mut ChaCha8Rng) -> [f64; 2] {
        let offset = self.shape.offset(from_deg, rng);
        [self.centre[0] + offset[0], self.centre[1] + offset[1]]
    }

    fn figures(&self, n: usize, rng: &mut ChaCha8Rng) -> StickFigures {
        let releases: Vec<ReleaseRest> = (0..n)
            .map(|k| {
                let from_deg = 45.0 * (k % 8) as f64;
                ReleaseRest { at: self.rest(from_deg, rng), from_deg, t_us: k as u64 * 800_000 }
            })
            .collect();
        let rests: Vec<Rested> =
            releases.iter().map(|r| Rested { at: r.at, from_deg: r.from_deg }).collect();
        let centre = centre(&rests).map(|c| [c.x, c.y].map(|e| e.over(REST, Unit::Counts)));
        let reach = |deg: f64| {
            let (sin, cos) = deg.to_radians().sin_cos();
            let side = |axis: usize, part: f64| self.travel[axis][usize::from(part > 0.0)];
            1.0 / (cos / side(0, cos)).hypot(sin / side(1, sin))
        };
        let sectors = || (0..72).map(|k| 5.0 * f64::from(k));
        StickFigures {
            half: Half::Left,
            centre: match centre {
                Ok([x, y]) => [Ok(x), Ok(y)],
                Err(shortage) => [Err(shortage.clone()), Err(shortage)],
            },
            releases,
            scatter: missing("scatter"),
            hysteresis: [missing("pushes"), missing("pushes")],
            outer_reach: reading(400.0, 1.0, 6, Unit::Counts),
            roundness: missing("turns"),
            mzci: missing("turns"),
            orthogonality_deg: reading(0.4, 0.5, 6, Unit::Degrees),
            rotation_deg: missing("prompted pushes"),
            coverage: reading(1.0, 0.0, 72, Unit::Fraction),
            profile: Profile {
                reach: sectors().map(|_| 1.0).collect(),
                spread: sectors().map(|_| 0.002).collect(),
                raw_counts: sectors().map(reach).collect(),
            },
            shape: missing("turns"),
            deficits: Vec::new(),
            direction_difference: missing("turns"),
            overshoot: missing("releases"),
            settling_ms: missing("releases"),
            press_shift: [missing("presses"), missing("presses")],
        }
    }

    pub(super) fn survey(&self, n: usize, seed: u64) -> Survey {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let axes = [AxisId::Lx, AxisId::Ly].iter().enumerate().map(|(i, &id)| AxisFigures {
            low: reading(self.centre[i] - self.travel[i][0], 1.0, 6, Unit::Counts),
            high: reading(self.centre[i] + self.travel[i][1], 1.0, 6, Unit::Counts),
            ..axis(id, self.centre[i], self.sigma)
        });
        Survey {
            frames: 10_000,
            duration_s: 40.0,
            time_source: crate::session::TimeSource::Board,
            raw_bits: 10,
            codes: Default::default(),
            raw_bits_guessed: false,
            stream: stream(),
            axes: axes.chain([axis(AxisId::Lt, 40.3, 0.5)]).collect(),
            sticks: vec![self.figures(n, &mut rng)],
            triggers: vec![TriggerFigures {
                half: Half::Left,
                rest: reading(40.3, 0.8, 8, Unit::Counts),
                full: reading(890.0, 1.0, 8, Unit::Counts),
                rest_scatter: reading(1.1, 0.5, 8, Unit::Counts),
                reversal: missing("pulls"),
                hysteresis: missing("pulls"),
                hysteresis_at: [missing("pulls"), missing("pulls"), missing("pulls")],
                full_scatter: missing("pulls"),
                end_plateau: missing("pulls"),
                rests_high: Some(false),
                pulls: 8,
            }],
            buttons: (0..2).map(button).collect(),
            driven: Vec::new(),
            followed: Vec::new(),
            common: Half::ALL.map(common),
            buttons_active_low: true,
            roll_call: None,
            inverted: [false; 6],
            signs_declared: true,
        }
    }
}

fn missing<T>(what: &str) -> Measured<T> {
    Err(short(what, 0, 3, "do it again"))
}

fn reading(value: f64, half: f64, n: usize, unit: Unit) -> Measured<Reading> {
    Ok(Estimate { value, low: value - half, high: value + half, n }.over(REST, unit))
}

fn axis(axis: AxisId, rest: f64, sigma: f64) -> AxisFigures {
    AxisFigures {
        axis,
        rest: reading(rest, 0.1, 2000, Unit::Counts),
        noise_rms: reading(sigma, 0.02, 2000, Unit::Counts),
        noise_with_lines: missing("rest"),
        noise_pp: missing("rest"),
        noise_free_bits: missing("rest"),
        effective_bits: missing("rest"),
        noise_free_steps: missing("rest"),
        lines: Vec::new(),
        density: Density::default(),
        drift_per_min: reading(0.3, 0.8, 2000, Unit::CountsPerMinute),
        idle_drift_per_min: missing("stays"),
        warm_up_rise: missing("rest"),
        warm_up_tau_s: missing("rest"),
        allan: Vec::new(),
        odd_codes: missing("sweeps"),
        low: missing("turns"),
        high: missing("turns"),
        clipped: missing("turns"),
        centre: missing("releases"),
    }
}

fn common(half: Half) -> Common {
    Common { half, correlation: missing("rest"), rms: None, cause: CommonCause::Undecided }
}

fn stream() -> StreamFigures {
    StreamFigures {
        rate_hz: missing("frames"),
        interval_median_us: missing("frames"),
        interval_p01_us: missing("frames"),
        interval_p95_us: missing("frames"),
        interval_p99_us: missing("frames"),
        interval_max_us: missing("frames"),
        lost: missing("frames"),
        lost_in_file: 0,
        malformed: 0,
        foreign: 0,
        loss_runs: LossRuns::default(),
        duplicated: 0,
        resets: 0,
        clock_ppm: missing("frames"),
        jitter_us: missing("frames"),
        stale: [missing("frames"), missing("frames")],
        half_skew_ms: missing("strapped sticks"),
    }
}

fn button(index: u8) -> ButtonFigures {
    let most = |value: f64| {
        Ok(Estimate { value, low: value - 8.0, high: value, n: 5 }.over(REST, Unit::Millis))
    };
    ButtonFigures {
        index,
        presses: 5 * usize::from(index),
        bounce_press_ms: missing("presses"),
        bounce_press_max_ms: most(12.0),
        bounce_release_ms: missing("presses"),
        bounce_release_max_ms: most(8.0),
        doubles: Ok(0),
        double_share: missing("releases"),
        dropouts: Ok(0),
        closures: Ok(0),
        blips: 0,
        idle_edges_per_hour: missing("time released"),
        edges_max: [Ok(1), Ok(1)],
        longest_wrong_ms: [most(0.0), most(0.0)],
        press_window_ms: most(14.0),
        release_window_ms: most(10.0),
        window_ms: most(14.0),
        stuck: false,
        looked: Looked { every_ms: 4.0, by_log: false },
    }
}

#[test]
fn a_healthy_board_is_solved_whole_and_sound() {
    let solution = solve(&BOARD.survey(16, 1), &Rig::default(), "2026-01-01");
    let trim = &solution.trim;
    assert_eq!((trim.axes.len(), trim.sticks.len(), trim.triggers.len()), (2, 1, 1));
    // The button that was never pressed is the only refusal.
    assert_eq!(trim.refusals.len(), 1);
    assert_eq!((trim.refusals[0].what.as_str(), trim.buttons.len()), ("button b0", 1));
    let result = check(trim);
    assert!(result.sound(), "{result:?}");
    assert!(result.sticks[0].least_magnitude >= 32_750, "{result:?}");
    for axis in &trim.axes {
        // Within the reach, and by no more than 2 % of the travel.
        let i = axis.axis.index();
        let [low, high] =
            [BOARD.centre[i] - BOARD.travel[i][0], BOARD.centre[i] + BOARD.travel[i][1]];
        assert!((low..low + 9.0).contains(&f64::from(axis.low)), "{axis:?}");
        assert!((high - 9.0..high).contains(&f64::from(axis.high)), "{axis:?}");
    }
    assert_eq!(trim.clone().checked().as_ref(), Ok(trim));
    assert_eq!(Trim::from_ron(&trim.to_ron()).as_ref(), Ok(trim));
}

#[test]
fn the_dead_zone_is_the_sum_of_its_terms_by_hand() {
    // Sixteen rests at ±3 counts on x, exact centre, no noise beyond rounding and the 0.3 bound.
    let mut survey = BOARD.survey(16, 1);
    let stick = &mut survey.sticks[0];
    for (k, release) in stick.releases.iter_mut().enumerate() {
        release.at = [518.0 + if k % 2 == 0 { 3.0 } else { -3.0 }, 503.0];
    }
    stick.centre = [518.25, 503.0].map(|c| reading(c, 1.0, 16, Unit::Counts));
    survey.axes[0].noise_rms = missing("quantised");
    let solution = solve(&survey, &Rig::default(), "");
    let x = solution.zones.iter().find(|z| z.place == ZonePlace::Axis(AxisId::Lx)).expect("x");
    // s² = 16·9/15 and Howe's factor for n = 16, 99.5 %: 2.807·√(15·1.0625/7.261) = 4.158; the same on
    // the stick with 2.576. σ² = 0.3² + 1/12; the mean is the whole-count centre, nothing is added.
    let spread = 4.158 * (16.0f64 * 9.0 / 15.0).sqrt();
    let noise = 3.3 * (0.09f64 + 1.0 / 12.0).sqrt();
    assert!((x.spread_term - spread).abs() < 0.01, "{x:?}");
    assert!((x.noise_term - noise).abs() < 1e-9 && x.centre_term.abs() < 1e-9);
    assert_eq!(x.radius_counts, (spread + noise).ceil());
    // The farthest of 16 holds 0.05^(1/16) = 0.829: √(ln 0.005/ln 0.171) = 1.732 times 3 counts.
    assert!((x.farthest_term - 1.732 * 3.0).abs() < 0.005, "{x:?}");
    assert_eq!(f64::from(solution.trim.axes[0].dead), x.radius_counts);
    assert_eq!((x.drift, x.drift_term), (DriftKnown::Unmeasured, 0.0));
}

#[test]
fn the_leak_bound_falls_as_the_radius_grows() {
    let solution = solve(&BOARD.survey(16, 3), &Rig::default(), "");
    for zone in &solution.zones {
        assert_eq!(zone.leak.len(), 9);
        for pair in zone.leak.windows(2) {
            assert!(pair[1].radius_counts > pair[0].radius_counts);
            assert!(pair[1].leak_upper <= pair[0].leak_upper);
            assert!(pair[1].lost_travel > pair[0].lost_travel);
        }
        let promised = zone.leak.iter().find(|p| (1.0 - zone.coverage - p.leak_upper).abs() < 1e-9);
        let exact = promised.expect("the promised coverage is on the curve").radius_counts;
        assert!(exact <= zone.radius_counts && zone.radius_counts - exact < 1.0, "{zone:?}");
    }
}

#[test]
fn sticky_and_split_returns_get_no_promise() {
    let mut survey = BOARD.survey(16, 1);
    survey.sticks[0].releases[5].at[0] += 40.0;
    let far = solve(&survey, &Rig::default(), "");
    assert!(far.zones.iter().all(|z| matches!(z.doubt, Some(Doubt::FarRest { .. }))));
    assert!(far.zones.iter().all(|z| !z.promise().contains("95 % sure")), "{:?}", far.zones);
    let mut survey = BOARD.survey(16, 1);
    for (k, release) in survey.sticks[0].releases.iter_mut().enumerate() {
        release.at[0] += if k % 2 == 0 { 20.0 } else { -20.0 };
    }
    let split = solve(&survey, &Rig::default(), "");
    assert!(split.zones.iter().all(|z| matches!(z.doubt, Some(Doubt::TwoGroups { .. }))));
}

#[test]
fn what_is_missing_is_refused_by_name() {
    let refused = |change: fn(&mut Survey)| {
        let mut survey = BOARD.survey(16, 1);
        change(&mut survey);
        let trim = solve(&survey, &Rig::default(), "").trim;
        assert!(trim.clone().checked().is_ok());
        let parts = (trim.axes.len(), trim.sticks.len(), trim.triggers.len());
        (parts, trim.refusals.into_iter().map(|r| (r.what, r.code)).collect::<Vec<_>>())
    };
    let has = |list: &[(String, Code)], what: &str, code: Code| {
        list.iter().any(|(w, c)| w == what && *c == code)
    };
    let (parts, list) = refused(|s| s.sticks[0].releases.truncate(5));
    assert!(parts == (0, 0, 1) && has(&list, "left stick", Code::NotEnoughData), "{list:?}");
    let (parts, list) = refused(|s| s.axes[0].high = reading(600.0, 1.0, 6, Unit::Counts));
    assert!(parts == (1, 0, 1) && has(&list, "left x", Code::ShortTravel), "{list:?}");
    let (parts, list) = refused(|s| s.sticks[0].profile.raw_counts[..20].fill(f64::NAN));
    assert!(parts == (2, 0, 1) && has(&list, "left stick", Code::NotEnoughData), "{list:?}");
    let (parts, list) = refused(|s| s.triggers[0].full = reading(120.0, 1.0, 8, Unit::Counts));
    assert!(parts == (2, 1, 0) && has(&list, "left trigger", Code::ShortTravel), "{list:?}");
    let (_, list) = refused(|s| s.buttons[1].stuck = true);
    assert!(has(&list, "button b1", Code::StuckRail), "{list:?}");
}

#[test]
fn an_inverted_trigger_rises_from_a_high_rest() {
    let mut survey = BOARD.survey(16, 1);
    survey.triggers[0].rest = reading(900.0, 0.8, 8, Unit::Counts);
    survey.triggers[0].full = reading(120.0, 1.0, 8, Unit::Counts);
    let trim = solve(&survey, &Rig::default(), "").trim;
    let t = &trim.triggers[0];
    assert!(t.sign == -1 && t.off > t.on && t.on > t.full && t.rest > t.off, "{t:?}");
    let trigger = Trigger::of(&trim, Half::Left).expect("solved");
    assert_eq!((trigger.run(900), trigger.run(120)), (0, 32767));
    assert!(check(&trim).sound());
}

#[test]
fn signs_follow_the_rig_and_the_destination() {
    let survey = BOARD.survey(16, 1);
    let stick = |x_inverted, y_inverted| StickPart {
        x_inverted,
        y_inverted,
        zone: ZoneForm::Axial,
        ..StickPart::plain(Half::Left)
    };
    let signs = |rig: &Rig| solve(&survey, rig, "").trim.axes.iter().map(|a| a.sign).collect();
    let plain: Vec<i8> = signs(&Rig::default());
    assert_eq!(plain, [1, -1], "away from the person is negative unless the rig says otherwise");
    let mut rig = Rig { sticks: vec![stick(true, true)], ..Rig::default() };
    let turned: Vec<i8> = signs(&rig);
    assert_eq!(turned, [-1, 1]);
    rig.vertical = crate::rig::Vertical::AwayPositive;
    let away: Vec<i8> = signs(&rig);
    assert_eq!(away, [-1, -1]);
    assert_eq!(solve(&survey, &rig, "").trim.sticks[0].form, ZoneForm::Axial);
}

#[test]
fn a_sure_skew_is_offered_and_used_only_when_accepted() {
    let mut survey = BOARD.survey(16, 1);
    survey.sticks[0].orthogonality_deg = reading(6.0, 0.5, 6, Unit::Degrees);
    let plain = solve(&survey, &Rig::default(), "");
    assert_eq!(plain.offers.len(), 1);
    assert_eq!(plain.trim.sticks[0].matrix, None);
    let choices = Choices { corrected: [true, false], ..Choices::default() };
    let used = solve_with(&survey, &Rig::default(), "", &choices);
    assert_eq!(used.trim.sticks[0].matrix, Some(plain.offers[0].matrix));
    survey.sticks[0].orthogonality_deg = reading(3.2, 0.5, 6, Unit::Degrees);
    assert!(solve(&survey, &Rig::default(), "").offers.is_empty());
}

/// A rig that asks for everything optional on the left half.
fn asking() -> Rig {
    let stick = StickPart {
        reach: Reach::ByDirection,
        curve_at_half: Some(0.4),
        smoothing_ms: Some(7.5),
        ..StickPart::plain(Half::Left)
    };
    let trigger = TriggerPart { curve_at_half: Some(0.7), ..TriggerPart::plain(Half::Left) };
    let motor = MotorPart { start: 70, stop: None, most: 180, kick_ms: 40, off_ms: 5000 };
    Rig {
        sticks: vec![stick],
        triggers: vec![trigger],
        deployed_rate_hz: Some(1000.0),
        motors: vec![motor],
        ..Rig::default()
    }
}

#[test]
fn what_the_rig_asks_for_is_solved_and_sound() {
    let trim = solve(&BOARD.survey(16, 1), &asking(), "").trim;
    assert_eq!(trim.clone().checked().as_ref(), Ok(&trim));
    assert_eq!(Trim::from_ron(&trim.to_ron()).as_ref(), Ok(&trim));
    let o = &trim.options;
    assert_eq!((o.curves.len(), o.reaches.len(), o.motors.len()), (2, 1, 1));
    // The time constant is kept, the shift follows the deployed rate: 7.49 scans are k = 3.
    let shifts: Vec<u8> = o.smoothing.iter().map(|s| s.shift).collect();
    assert_eq!((o.scan_rate_hz, shifts), (1000, vec![3, 3]));
    let slower = Rig { deployed_rate_hz: Some(250.0), ..asking() };
    let slower = solve(&BOARD.survey(16, 1), &slower, "").trim;
    assert_eq!(slower.options.smoothing[0].shift, 1);
    // Half-way from the farthest push to the rail on both sides.
    let guard = o.guards.iter().find(|g| g.axis == AxisId::Lx).expect("room on both sides");
    let lx = trim.axis(AxisId::Lx).expect("solved");
    assert!(guard.least > lx.low / 3 && guard.least < lx.low / 2, "{guard:?}");
    assert!(guard.most > lx.high + 30 && guard.most < 1000, "{guard:?}");
    let outcome = check(&trim);
    assert!(outcome.sound(), "{outcome:?}");
    assert!(outcome.sticks[0].least_magnitude >= 32_750, "{outcome:?}");
    assert!(outcome.smoothing.iter().all(|s| s.rise_scans > 8 && s.rise_scans < 24));
    // A round gate goes as far in every direction as in the least.
    let (outer, radii) = (trim.sticks[0].outer, &o.reaches[0].radii);
    assert!(radii.iter().all(|r| *r >= outer.min(32767) && *r < outer + 800), "{outer} {radii:?}");
}

#[test]
fn a_wish_that_cannot_be_met_is_said_and_the_rest_is_solved() {
    let mut rig = asking();
    rig.sticks[0].smoothing_ms = Some(0.3);
    rig.guard_ms = 0;
    let trim = solve(&BOARD.survey(16, 1), &rig, "").trim;
    assert!(trim.options.smoothing.is_empty() && trim.options.guards.is_empty());
    assert_eq!(trim.sticks.len(), 1);
    let said = trim.refusals.iter().find(|r| r.what == "left x smoothing").expect("said");
    assert!(said.why.contains("0.3 ms") && said.code == Code::Rig, "{said:?}");
}

#[test]
fn a_rail_without_room_leaves_its_side_unguarded() {
    let mut survey = BOARD.survey(16, 1);
    survey.axes[0].low = reading(8.0, 1.0, 6, Unit::Counts);
    let trim = solve(&survey, &Rig::default(), "").trim;
    let guard = trim.options.guards.iter().find(|g| g.axis == AxisId::Lx).expect("one side");
    assert!(guard.least == 0 && guard.most < 1000, "{guard:?}");
}
