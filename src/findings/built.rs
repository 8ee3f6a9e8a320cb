//! A small healthy survey built by hand, for tests of what reads surveys.
use crate::measure::cadence::LossRuns;
use crate::measure::coupling::CommonCause;
use crate::measure::gate::GateShape;
use crate::measure::stability::AllanPoint;
use crate::measure::{Estimate, Measured, Reading, Span};
use crate::rig::{AxisId, Half};
use crate::session::{Drive, StreamLedger, TimeSource, Tracks};
use crate::survey::{
    AxisFigures, ButtonFigures, Common, Density, Driven, Followed, Looked, Profile, ReleaseRest,
    SpectrumLine, StickFigures, StreamFigures, Survey, TriggerFigures, short,
};
use crate::units::Unit;

/// The quiet rest of the built session.
pub const REST: Span = Span { start_us: 1_000_000, end_us: 9_000_000 };

/// A reading with a symmetric interval.
pub fn reading(value: f64, half: f64, n: usize, unit: Unit) -> Reading {
    Estimate { value, low: value - half, high: value + half, n }.over(REST, unit)
}

fn counts(value: f64, half: f64, n: usize) -> Measured {
    Ok(reading(value, half, n, Unit::Counts))
}

/// A survey and the columns that it could have come from.
pub struct Built {
    pub survey: Survey,
    pub tracks: Tracks,
}

/// Ten bits, 250 frames a second, 40 s, nothing wrong.
pub fn healthy() -> Built {
    let rows = 10_000usize;
    let t_us: Vec<u64> = (0..rows as u64).map(|i| i * 4_000).collect();
    let wave = |centre: i32| (0..rows).map(|i| centre + (i % 801) as i32 - 400).collect();
    let tracks = Tracks {
        t_us,
        time_source: TimeSource::Board,
        period_us: 4_000.0,
        axes: AxisId::ALL.map(|_| Some(wave(510))),
        buttons: Some(vec![0; rows]),
        button_count: 3,
        unwired: 0,
        buttons_active_low: false,
        edges: Default::default(),
        remote_age_us: [None, None],
        remote_seq: [None, None],
        host_us: None,
        drives: Vec::new(),
        supply_mv: None,
        reset_causes: Vec::new(),
        scan_order: Vec::new(),
        raw_bits: 10,
        raw_bits_guessed: false,
        codes: Default::default(),
        roles_by_order: false,
        columns: Vec::new(),
        marks: Vec::new(),
        stream: StreamLedger { lost: Some(0), ..StreamLedger::default() },
    };
    let survey = Survey {
        frames: rows as u64,
        duration_s: 40.0,
        time_source: crate::session::TimeSource::Board,
        raw_bits: 10,
        codes: Default::default(),
        raw_bits_guessed: false,
        stream: stream(rows),
        axes: AxisId::ALL.map(axis).into(),
        sticks: Half::ALL.map(stick).into(),
        triggers: Half::ALL.map(trigger).into(),
        buttons: (0..3).map(button).collect(),
        driven: vec![driven()],
        followed: vec![Followed {
            axis: AxisId::Rx,
            by: AxisId::Ly,
            scanned_before: true,
            share: Ok(reading(0.000_2, 0.000_5, 400, Unit::Fraction)),
            correlation: Ok(reading(0.05, 0.09, 400, Unit::Number)),
        }],
        common: Half::ALL.map(common),
        buttons_active_low: false,
        roll_call: None,
        inverted: [false; 6],
        signs_declared: true,
    };
    Built { survey, tracks }
}

fn driven() -> Driven {
    Driven {
        axis: AxisId::Lx,
        by: Drive::Motor(0),
        shift: Ok(reading(0.1, 0.3, 8, Unit::Counts)),
        noise_ratio: Ok(reading(1.02, 0.05, 2_000, Unit::Number)),
        largest: Some(200.0),
    }
}

fn common(half: Half) -> Common {
    Common {
        half,
        correlation: Ok(reading(0.02, 0.09, 500, Unit::Number)),
        rms: Some(0.1),
        cause: CommonCause::Undecided,
    }
}

fn stream(rows: usize) -> StreamFigures {
    let us = |value: f64| Ok(reading(value, 2.0, rows, Unit::Micros));
    let stale = || Ok(reading(0.001, 0.0005, 2_000, Unit::Fraction));
    StreamFigures {
        rate_hz: Ok(reading(250.0, 0.01, rows, Unit::Hertz)),
        interval_median_us: us(4_000.0),
        interval_p01_us: us(3_950.0),
        interval_p95_us: us(4_030.0),
        interval_p99_us: us(4_060.0),
        interval_max_us: us(4_200.0),
        lost: Ok(0),
        lost_in_file: 0,
        malformed: 0,
        foreign: 1,
        loss_runs: LossRuns::default(),
        duplicated: 0,
        resets: 0,
        clock_ppm: Ok(reading(35.0, 4.0, rows, Unit::Ppm)),
        jitter_us: us(210.0),
        stale: [stale(), stale()],
        half_skew_ms: no("strapped sticks"),
    }
}

fn axis(axis: AxisId) -> AxisFigures {
    let turns = 6;
    let reach = |value| if axis.is_trigger() { no("turns") } else { counts(value, 1.5, turns) };
    AxisFigures {
        axis,
        rest: counts(512.3, 0.1, 2_000),
        noise_rms: counts(0.71, 0.02, 2_000),
        noise_with_lines: counts(0.72, 0.02, 2_000),
        noise_pp: counts(5.0, 1.0, 2_000),
        noise_free_bits: Ok(reading(7.77, 0.04, 2_000, Unit::Bits)),
        effective_bits: Ok(reading(8.60, 0.04, 2_000, Unit::Bits)),
        noise_free_steps: Ok(reading(85.0, 2.5, 2_000, Unit::Number)),
        lines: vec![SpectrumLine { hz: 50.0, amplitude: 0.2, false_alarm: 1e-6 }],
        density: Density {
            hz: (1..=125).map(f64::from).collect(),
            counts2_per_hz: (1..=125).map(|i| 0.004 + 0.001 * f64::from(i % 7)).collect(),
        },
        drift_per_min: Ok(reading(0.3, 0.8, 2_000, Unit::CountsPerMinute)),
        idle_drift_per_min: Ok(reading(0.05, 0.1, 60, Unit::CountsPerMinute)),
        warm_up_rise: no("rest from cold"),
        warm_up_tau_s: no("rest from cold"),
        allan: [1.0, 2.0, 4.0]
            .map(|m: f64| AllanPoint {
                tau_s: 0.004 * m,
                deviation: Estimate {
                    value: 0.71 / m.sqrt(),
                    low: 0.69 / m.sqrt(),
                    high: 0.73 / m.sqrt(),
                    n: 2_000,
                },
            })
            .to_vec(),
        odd_codes: Ok(Vec::new()),
        low: reach(112.0),
        high: reach(911.0),
        clipped: if axis.is_trigger() {
            no("turns")
        } else {
            Ok(reading(0.012, 0.004, 3_600, Unit::Fraction))
        },
        centre: if axis.is_trigger() { no("releases") } else { counts(512.1, 1.2, 16) },
    }
}

/// A shortage for tests.
pub fn no<T>(what: &str) -> Measured<T> {
    Err(short(what, 0, 3, "do it again"))
}

fn stick(half: Half) -> StickFigures {
    let releases = (0..16)
        .map(|i| {
            let angle = f64::from(i) * 45.0;
            let far = 2.0 + f64::from(i % 5) * 0.6;
            let at = |turn: f64| (angle + turn).to_radians();
            ReleaseRest {
                at: [512.1 + far * at(20.0).cos(), 512.1 + far * at(20.0).sin()],
                from_deg: angle.rem_euclid(360.0),
                t_us: 20_000_000 + i as u64 * 800_000,
            }
        })
        .collect();
    let around = |k: usize| 1.0 + 0.01 * (2.0 * (5.0 * k as f64).to_radians()).cos();
    StickFigures {
        half,
        centre: [counts(512.1, 1.2, 16), counts(512.1, 1.3, 16)],
        releases,
        scatter: counts(3.4, 0.7, 16),
        hysteresis: [counts(1.0, 1.5, 16), counts(0.7, 1.5, 16)],
        outer_reach: counts(399.0, 1.2, 6),
        roundness: Ok(reading(0.02, 0.004, 6, Unit::Fraction)),
        mzci: Ok(reading(0.019, 0.004, 6, Unit::Fraction)),
        orthogonality_deg: Ok(reading(0.4, 0.3, 6, Unit::Degrees)),
        rotation_deg: no("prompted pushes"),
        coverage: Ok(reading(1.0, 0.0, 72, Unit::Fraction)),
        profile: Profile {
            reach: (0..72).map(around).collect(),
            spread: vec![0.003; 72],
            raw_counts: (0..72).map(|k| 399.0 * around(k)).collect(),
        },
        shape: Ok(GateShape::Circle),
        deficits: Vec::new(),
        direction_difference: Ok(reading(0.006, 0.004, 6, Unit::Fraction)),
        overshoot: Ok(reading(0.04, 0.01, 16, Unit::Fraction)),
        settling_ms: Ok(reading(52.0, 6.0, 16, Unit::Millis)),
        press_shift: [counts(1.0, 1.5, 5), counts(-0.5, 1.5, 5)],
    }
}

fn trigger(half: Half) -> TriggerFigures {
    TriggerFigures {
        half,
        rest: counts(40.0, 0.8, 8),
        full: counts(890.0, 1.0, 8),
        rest_scatter: counts(1.1, 0.5, 8),
        reversal: counts(1.0, 0.8, 4),
        hysteresis: counts(4.0, 3.0, 4),
        hysteresis_at: [counts(3.0, 3.0, 4), counts(4.0, 3.0, 4), counts(5.0, 3.0, 4)],
        full_scatter: counts(0.6, 0.3, 8),
        end_plateau: Ok(reading(0.21, 0.04, 4, Unit::Fraction)),
        rests_high: Some(false),
        pulls: 8,
    }
}

/// The bound of a bounce of which so much was seen by looks every 4 ms.
pub(super) fn bounce(seen: f64) -> Reading {
    let most = seen + 2.0 * 4.0 + 16.0;
    Estimate { value: most, low: seen, high: most, n: 5 }.over(REST, Unit::Millis)
}

fn button(index: u8) -> ButtonFigures {
    let ms = |value: f64| Ok(reading(value, 2.0, 5, Unit::Millis));
    ButtonFigures {
        index,
        presses: 5,
        bounce_press_ms: ms(1.6),
        bounce_press_max_ms: Ok(bounce(4.0)),
        bounce_release_ms: ms(0.0),
        bounce_release_max_ms: Ok(bounce(0.0)),
        doubles: Ok(0),
        double_share: Ok(
            Estimate { value: 0.0, low: 0.0, high: 0.52, n: 5 }.over(REST, Unit::Fraction)
        ),
        dropouts: Ok(0),
        closures: Ok(0),
        blips: 0,
        idle_edges_per_hour: Ok(
            Estimate { value: 0.0, low: 0.0, high: 340.0, n: 0 }.over(REST, Unit::Number)
        ),
        edges_max: [Ok(3), Ok(1)],
        longest_wrong_ms: [ms(4.0), ms(0.0)],
        press_window_ms: ms(18.0),
        release_window_ms: ms(8.0),
        window_ms: ms(18.0),
        stuck: false,
        looked: Looked { every_ms: 4.0, by_log: false },
    }
}
