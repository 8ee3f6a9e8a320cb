//! A made session in which every coupling and every motion is known.
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

use super::{Survey, survey};
use crate::rig::{AxisId, Half, Rig, StickPart, TriggerPart};
use crate::segment::find;
use crate::session::{Drive, DriveTrack, StreamLedger, TimeSource, Tracks};

const RATE_HZ: f64 = 500.0;
const RESTS: [f64; 6] = [512.0, 503.0, 520.0, 498.0, 40.0, 44.0];
/// Counts of the left stick a count of the right trigger, which is scanned before it.
const CROSS_TALK: f64 = 0.04;
/// Counts that the motor takes from both axes of the left stick.
const MOTOR: f64 = -4.0;
/// Counts that a press of the left stick adds to its x.
const PRESS: f64 = 35.0;
/// Damping of the left stick's return at 12 Hz.
const ZETA: f64 = 0.3;

/// A board that prints everything for 80 s.
struct Made {
    axes: [Vec<f64>; 6],
    motor: Vec<i32>,
    masks: Vec<u32>,
}

impl Made {
    fn rows(seconds: f64) -> usize {
        (seconds * RATE_HZ) as usize
    }

    fn new() -> Made {
        let rows = Made::rows(80.0);
        let mut made = Made {
            axes: RESTS.map(|rest| vec![rest; rows]),
            motor: vec![0; rows],
            masks: vec![0; rows],
        };
        made.drive();
        made.pulls();
        made.releases();
        made.presses();
        made
    }

    /// From 10 s on: the motor on and off, two seconds each.
    fn drive(&mut self) {
        for row in Made::rows(10.0)..Made::rows(30.0) {
            if row / Made::rows(2.0) % 2 == 1 {
                self.motor[row] = 200;
                self.axes[0][row] += MOTOR;
                self.axes[1][row] += MOTOR;
            }
        }
    }

    /// From 30 s on: four slow pulls of the right trigger, which the left stick's x follows.
    fn pulls(&mut self) {
        for row in Made::rows(30.0)..Made::rows(50.0) {
            let t = (row as f64 / RATE_HZ).rem_euclid(5.0);
            let share = match t {
                t if t < 1.6 => t / 1.6,
                t if t < 2.0 => 1.0,
                t if t < 3.6 => (3.6 - t) / 1.6,
                _ => 0.0,
            };
            self.axes[5][row] += 850.0 * share;
            self.axes[0][row] += CROSS_TALK * 850.0 * share;
        }
    }

    /// From 50 s on: eight pushes of the left stick, let go to swing.
    fn releases(&mut self) {
        let omega = std::f64::consts::TAU * 12.0;
        let damped = omega * (1.0 - ZETA * ZETA).sqrt();
        for k in 0..8 {
            let (sin, cos) = (f64::from(k) * std::f64::consts::FRAC_PI_4).sin_cos();
            let start = Made::rows(50.0 + 2.0 * f64::from(k));
            for row in start..start + Made::rows(2.0) {
                let t = (row - start) as f64 / RATE_HZ;
                let out = if t < 0.2 {
                    t / 0.2
                } else if t < 0.6 {
                    1.0
                } else {
                    let t = t - 0.6;
                    let swing = (damped * t).cos() + ZETA * omega / damped * (damped * t).sin();
                    (-ZETA * omega * t).exp() * swing
                };
                self.axes[0][row] += 400.0 * out * cos;
                self.axes[1][row] += 400.0 * out * sin;
            }
        }
    }

    /// From 67 s on: six presses of the left stick's own switch, b0.
    fn presses(&mut self) {
        for k in 0..6 {
            let start = Made::rows(67.0 + 2.0 * f64::from(k));
            for row in start..start + Made::rows(0.3) {
                self.masks[row] |= 1;
                self.axes[0][row] += PRESS;
            }
        }
    }

    fn tracks(&self, seed: u64) -> Tracks {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, 0.7).expect("finite");
        let mut read = |column: &Vec<f64>| -> Vec<i32> {
            column.iter().map(|v| (v + noise.sample(&mut rng)).round() as i32).collect()
        };
        let rows = self.masks.len() as u64;
        let period_us = (1e6 / RATE_HZ) as u64;
        let t_us: Vec<u64> = (0..rows).map(|row| row * period_us).collect();
        // The host sees a clock that runs 40 ppm slow, after waits of 0–900 µs.
        let host = |t: &u64| t + t / 25_000 + t / period_us * 7919 % 900;
        Tracks {
            host_us: Some(t_us.iter().map(host).collect()),
            t_us,
            time_source: TimeSource::Board,
            period_us: period_us as f64,
            axes: self.axes.each_ref().map(|column| Some(read(column))),
            buttons: Some(self.masks.clone()),
            button_count: 2,
            unwired: 0,
            buttons_active_low: false,
            edges: Default::default(),
            remote_age_us: [None, None],
            remote_seq: [None, None],
            drives: vec![DriveTrack { drive: Drive::Motor(0), level: self.motor.clone() }],
            supply_mv: None,
            reset_causes: Vec::new(),
            scan_order: AxisId::ALL.to_vec(),
            raw_bits: 10,
            raw_bits_guessed: false,
            codes: Default::default(),
            roles_by_order: false,
            columns: Vec::new(),
            marks: Vec::new(),
            stream: StreamLedger {
                lost: Some(9),
                gaps: vec![(4000, 4), (9000, 5)],
                ..StreamLedger::default()
            },
        }
    }
}

fn rig() -> Rig {
    Rig {
        sticks: Half::ALL.map(StickPart::plain).to_vec(),
        triggers: Half::ALL.map(TriggerPart::plain).to_vec(),
        buttons: vec!["left stick".to_owned(), "south".to_owned()],
        ..Rig::default()
    }
}

fn made() -> Survey {
    let tracks = Made::new().tracks(3);
    survey(&tracks, &find(&tracks), &rig(), &mut |_| true).expect("not stopped")
}

#[test]
fn couplings_presses_and_returns_are_found_as_made() {
    let survey = made();
    for d in &survey.driven {
        let want = if d.axis.half() == Half::Left && !d.axis.is_trigger() { MOTOR } else { 0.0 };
        let shift = d.shift.as_ref().unwrap_or_else(|s| panic!("{:?}: {s}", d.axis));
        assert!((shift.value - want).abs() < 0.3 && shift.low <= want + 0.1, "{d:?}");
        let ratio = d.noise_ratio.as_ref().unwrap_or_else(|s| panic!("{:?}: {s}", d.axis));
        assert!((ratio.value - 1.0).abs() < 0.1, "{d:?}");
        assert_eq!((d.by, d.largest), (Drive::Motor(0), Some(200.0)));
    }
    assert_eq!(survey.driven.len(), 6);

    let follows = |axis, by| {
        let found = survey.followed.iter().find(|f| f.axis == axis && f.by == by);
        found.unwrap_or_else(|| panic!("{axis:?} {by:?}"))
    };
    let talk = follows(AxisId::Lx, AxisId::Rt);
    let share = talk.share.as_ref().expect("pulls");
    assert!(talk.scanned_before && (share.value - CROSS_TALK).abs() < 0.003, "{talk:?}");
    assert!(talk.correlation.as_ref().expect("pulls").low > 0.9, "{talk:?}");
    let none = follows(AxisId::Rx, AxisId::Rt);
    let share = none.share.as_ref().expect("pulls");
    assert!(share.low <= 0.0 && 0.0 <= share.high && !none.scanned_before, "{none:?}");
    assert!(survey.followed.iter().all(|f| !(f.axis == AxisId::Ly && f.by == AxisId::Lx)));
    assert!(survey.common[0].correlation.is_ok() && survey.common[1].rms.is_some());

    let left = survey.stick(Half::Left).expect("a stick");
    let [x, y] = left.press_shift.each_ref().map(|s| s.as_ref().expect("six presses"));
    assert!((x.value - PRESS).abs() < 1.0 && y.value.abs() < 1.0 && x.n >= 5, "{x:?} {y:?}");
    let overshoot = left.overshoot.as_ref().expect("eight releases");
    let wanted = (-std::f64::consts::PI * ZETA / (1.0 - ZETA * ZETA).sqrt()).exp();
    assert!((overshoot.value - wanted).abs() < 0.02 && overshoot.n >= 6, "{overshoot:?} {wanted}");
    // To 2 %: some 4/(ζω) = 177 ms.
    let settling = left.settling_ms.as_ref().expect("eight releases");
    assert!((120.0..240.0).contains(&settling.value), "{settling:?}");
    let right = survey.stick(Half::Right).expect("a stick");
    assert!(right.overshoot.is_err() && right.press_shift[0].is_err());
}

#[test]
fn stream_and_rest_figures_of_the_made_session() {
    let survey = made();
    let stream = &survey.stream;
    let ppm = stream.clock_ppm.as_ref().expect("80 s");
    assert!((ppm.value + 40.0).abs() < 3.0 && ppm.low.is_finite(), "{ppm:?}");
    let jitter = stream.jitter_us.as_ref().expect("both clocks");
    assert!(jitter.low > 100.0 && jitter.high < 600.0, "{jitter:?}");
    assert!(stream.half_skew_ms.is_err());
    assert_eq!((stream.loss_runs.runs, stream.loss_runs.longest), (2, 5));
    assert!(stream.loss_runs.bursts());

    let lx = survey.axis(AxisId::Lx).expect("an axis");
    let deviation = lx.allan[0].deviation;
    // σ 0.7 and the rounding to whole codes.
    let wanted = (0.49f64 + 1.0 / 12.0).sqrt();
    assert!((deviation.value - wanted).abs() < 0.03, "{deviation:?}");
    assert!(lx.warm_up_rise.is_err(), "20 s are no warm-up");
    let rt = survey.axis(AxisId::Rt).expect("an axis");
    assert!(rt.odd_codes.is_ok() || rt.odd_codes.as_ref().is_err_and(|s| s.have < s.need));
    let steps = rt.noise_free_steps.as_ref().expect("pulls and rest");
    assert!((steps.value - 850.0 / (6.6 * 0.7)).abs() < 20.0, "{steps:?}");

    let trigger = survey.trigger(Half::Right).expect("a trigger");
    let plateau = trigger.end_plateau.as_ref().expect("four pulls");
    // 0.4 s at the stop of 3.6 s, and what lies within the noise of it.
    assert!((plateau.value - 0.11).abs() < 0.05, "{plateau:?}");
    assert_eq!(trigger.rests_high, Some(false));

    let b0 = &survey.buttons[0];
    assert_eq!((b0.presses, &b0.doubles, &b0.dropouts), (6, &Ok(0), &Ok(0)));
    let share = b0.double_share.as_ref().expect("six releases");
    assert!(share.value == 0.0 && (share.high - 0.459).abs() < 0.01 && share.n == 6, "{share:?}");
    assert!(b0.press_window_ms.is_ok() && b0.idle_edges_per_hour.is_ok());
}
