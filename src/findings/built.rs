//! A small healthy survey built by hand, for tests of what reads surveys.
use crate::measure::{Estimate, Measured, Reading, Span};
use crate::rig::{AxisId, Half};
use crate::session::{StreamLedger, TimeSource, Tracks};
use crate::survey::{
    AxisFigures, ButtonFigures, Density, Profile, ReleaseRest, SpectrumLine, StickFigures,
    StreamFigures, Survey, TriggerFigures, short,
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
        buttons_active_low: false,
        remote_age_us: [None, None],
        remote_seq: [None, None],
        raw_bits: 10,
        raw_bits_guessed: false,
        marks: Vec::new(),
        stream: StreamLedger { lost: Some(0), ..StreamLedger::default() },
    };
    let survey = Survey {
        frames: rows as u64,
        duration_s: 40.0,
        raw_bits: 10,
        raw_bits_guessed: false,
        stream: stream(rows),
        axes: AxisId::ALL.map(axis).into(),
        sticks: Half::ALL.map(stick).into(),
        triggers: Half::ALL.map(trigger).into(),
        buttons: (0..3).map(button).collect(),
        buttons_active_low: false,
    };
    Built { survey, tracks }
}

fn stream(rows: usize) -> StreamFigures {
    let us = |value: f64| Ok(reading(value, 2.0, rows, Unit::Micros));
    let stale = || Ok(reading(0.001, 0.0005, 2_000, Unit::Fraction));
    StreamFigures {
        rate_hz: Ok(reading(250.0, 0.01, rows, Unit::Hertz)),
        interval_median_us: us(4_000.0),
        interval_p01_us: us(3_950.0),
        interval_p99_us: us(4_060.0),
        interval_max_us: us(4_200.0),
        lost: Ok(0),
        malformed: 0,
        foreign: 1,
        duplicated: 0,
        resets: 0,
        clock_ppm: Ok(reading(35.0, 4.0, rows, Unit::Ppm)),
        stale: [stale(), stale()],
    }
}

fn axis(axis: AxisId) -> AxisFigures {
    let turns = 6;
    let reach = |value| if axis.is_trigger() { no("turns") } else { counts(value, 1.5, turns) };
    AxisFigures {
        axis,
        rest: counts(512.3, 0.1, 2_000),
        noise_rms: counts(0.71, 0.02, 2_000),
        noise_pp: counts(5.0, 1.0, 2_000),
        noise_free_bits: Ok(reading(7.77, 0.04, 2_000, Unit::Bits)),
        lines: vec![SpectrumLine { hz: 50.0, amplitude: 0.2, false_alarm: 1e-6 }],
        density: Density {
            hz: (1..=125).map(f64::from).collect(),
            counts2_per_hz: (1..=125).map(|i| 0.004 + 0.001 * f64::from(i % 7)).collect(),
        },
        drift_per_min: Ok(reading(0.3, 0.8, 2_000, Unit::CountsPerMinute)),
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
        pulls: 8,
    }
}

fn button(index: u8) -> ButtonFigures {
    let ms = |value: f64| Ok(reading(value, 2.0, 5, Unit::Millis));
    ButtonFigures {
        index,
        presses: 5,
        bounce_press_ms: ms(1.6),
        bounce_press_max_ms: ms(12.0),
        bounce_release_ms: ms(0.0),
        bounce_release_max_ms: ms(8.0),
        doubles: 0,
        window_ms: Ok(18.0),
        stuck: false,
    }
}
