//! A hand-built report for the tests of everything that leaves.
use crate::emit::{Report, SessionFacts};
use crate::findings::built::{Built, healthy, reading};
use crate::findings::{Finding, examine};
use crate::limits::Limits;
use crate::rig::{AxisId, Half, ZoneForm};
use crate::segment::Segments;
use crate::session::{ColumnRead, Fate};
use crate::survey::Code;
use crate::trim::{
    AxisSource, AxisTrim, ButtonSource, ButtonTrim, DeadZone, DriftKnown, FORMAT, Harm, LeakPoint,
    Options, Origin, Refusal, Solution, StickSource, StickTrim, TriggerSource, TriggerTrim, Trim,
    ZonePlace,
};
use crate::units::Unit;
use crate::wire::{Base, Role};

/// Owns what a [`Report`] borrows.
pub struct Whole {
    pub facts: SessionFacts,
    pub built: Built,
    pub findings: Vec<Finding>,
    pub solution: Solution,
    pub limits: Limits,
}

impl Whole {
    pub fn report(&self) -> Report<'_> {
        Report {
            facts: &self.facts,
            survey: &self.built.survey,
            findings: &self.findings,
            solution: &self.solution,
            limits: &self.limits,
        }
    }
}

/// A healthy board whose right trigger was refused.
pub fn whole() -> Whole {
    of(healthy())
}

/// The same for a survey that a test has changed.
pub fn of(built: Built) -> Whole {
    let limits = Limits::for_bits(built.survey.raw_bits);
    let findings = examine(&built.survey, &built.tracks, &Segments::default(), &limits);
    let facts = SessionFacts {
        rig_name: "Heron rig".to_owned(),
        board_id: "7C".to_owned(),
        created: "2026-03-04T10:12:00Z".to_owned(),
        button_names: vec!["south".to_owned(), "east".to_owned()],
        notes: vec!["case open".to_owned()],
        columns: columns("spare"),
        lines: Default::default(),
        origin: origin("heron-7c.session"),
    };
    Whole { facts, built, findings, solution: solution(), limits }
}

/// Text that tries to break out of wherever it is put.
pub const HOSTILE: &str = "</svg><script>alert('x')</script>\" onload=\"y\u{1b}[31m\u{0}\r\n]]>&";

/// The same report with hostile text in every field that a rig or a session fills.
pub fn hostile() -> Whole {
    let mut whole = whole();
    let text = || HOSTILE.to_owned();
    whole.facts = SessionFacts {
        rig_name: text(),
        board_id: text(),
        created: text(),
        button_names: vec![text(); 3],
        notes: vec![text()],
        columns: columns(HOSTILE),
        lines: Default::default(),
        origin: origin(HOSTILE),
    };
    for finding in &mut whole.findings {
        finding.evidence = text();
        finding.remedy = text();
        finding.caution = Some(text());
    }
    for refusal in &mut whole.solution.trim.refusals {
        *refusal = Refusal { what: text(), why: text(), advice: text(), ..refusal.clone() };
    }
    whole
}

/// A recording with one damaged place, all of its text `text`.
pub fn origin(text: &str) -> Origin {
    let text = || text.to_owned();
    Origin {
        source: text(),
        sha256: text(),
        of: text(),
        bytes: 1_685_758,
        tool: text(),
        time: text(),
        inputs: vec![text()],
        damage: vec![Harm { kind: text(), what: text(), line: 3, rows: 7, ..Harm::default() }],
        more_damage: 0,
        rows_lost: 7,
    }
}

/// Two columns: one that is used, one that moves and is not.
fn columns(name: &str) -> Vec<ColumnRead> {
    let column = |place, name: &str, role, fate| ColumnRead {
        place,
        name: name.to_owned(),
        role,
        guessed: false,
        base: Base::Decimal,
        range: Some([12, 900]),
        fate,
    };
    vec![
        column(1, "lx", Role::Axis(AxisId::Lx), Fate::Used),
        column(2, name, Role::Ignore, Fate::Moves),
    ]
}

fn solution() -> Solution {
    let trim = Trim {
        format: FORMAT,
        board_id: "7C".to_owned(),
        rig_name: "Heron rig".to_owned(),
        session_date: "2026-03-04T10:12:00Z".to_owned(),
        raw_bits: 10,
        raw_bits_guessed: false,
        frac_bits: 8,
        axes: AxisId::ALL[..4].iter().map(|&a| axis(a)).collect(),
        sticks: Half::ALL.map(stick).into(),
        triggers: vec![trigger()],
        buttons: (0..3).map(button).collect(),
        options: Options::default(),
        fitted_to: Default::default(),
        origin: None,
        guessed: Vec::new(),
        refusals: vec![Refusal::of(
            AxisId::Rt,
            Code::ShortTravel,
            "its span of 60 counts is below 128 of 1024".to_owned(),
            "bring the magnet nearer to the sensor",
        )],
    };
    let places = Half::ALL
        .map(ZonePlace::Stick)
        .into_iter()
        .chain(AxisId::ALL[..4].iter().map(|&a| ZonePlace::Axis(a)));
    Solution { trim, zones: places.map(zone).collect(), offers: Vec::new() }
}

fn axis(axis: AxisId) -> AxisTrim {
    let from = AxisSource {
        centre: Some(reading(512.1, 1.2, 16, Unit::Counts)),
        low: Some(reading(112.0, 1.5, 6, Unit::Counts)),
        high: Some(reading(911.0, 1.5, 6, Unit::Counts)),
        noise_rms: Some(reading(0.71, 0.02, 2_000, Unit::Counts)),
        dead: Some(reading(11.4, 0.0, 16, Unit::Counts)),
    };
    AxisTrim {
        axis,
        centre: 512,
        low: 115,
        high: 908,
        sign: 1,
        gain_neg: 21_130,
        gain_pos: 21_184,
        dead: 12,
        axial_gain_neg: 21_788,
        axial_gain_pos: 21_845,
        from,
    }
}

fn stick(half: Half) -> StickTrim {
    let from = StickSource {
        inner: Some(reading(15.2, 0.0, 16, Unit::Counts)),
        outer: Some(reading(0.97, 0.01, 6, Unit::Fraction)),
        orthogonality_deg: Some(reading(0.4, 0.3, 6, Unit::Degrees)),
        rotation_deg: None,
    };
    StickTrim { half, form: ZoneForm::Radial, inner: 1_290, outer: 31_700, matrix: None, from }
}

fn trigger() -> TriggerTrim {
    let from = TriggerSource {
        rest: Some(reading(40.0, 0.8, 8, Unit::Counts)),
        rest_scatter: Some(reading(1.1, 0.5, 8, Unit::Counts)),
        full: Some(reading(890.0, 1.0, 8, Unit::Counts)),
        noise_rms: Some(reading(0.71, 0.02, 2_000, Unit::Counts)),
    };
    TriggerTrim {
        half: Half::Left,
        rest: 40,
        full: 884,
        sign: 1,
        dead: 8,
        gain: 10_035,
        on: 83,
        off: 57,
        from,
    }
}

fn button(index: u8) -> ButtonTrim {
    ButtonTrim {
        index,
        name: String::new(),
        press_lockout_ms: 18,
        release_ms: 18,
        active_low: true,
        from: ButtonSource::default(),
    }
}

fn zone(place: ZonePlace) -> DeadZone {
    let leak = (1..=40)
        .map(|i| {
            let radius_counts = f64::from(i);
            LeakPoint {
                radius_counts,
                leak_upper: (-radius_counts / 4.0).exp(),
                lost_travel: radius_counts / 399.0,
            }
        })
        .collect();
    DeadZone {
        place,
        n: 16,
        coverage: 0.99,
        factor: 3.82,
        scatter: 3.4,
        spread_term: 13.0,
        farthest_term: 6.1,
        endless_term: 8.8,
        noise_term: 2.3,
        drift_term: 0.0,
        drift: DriftKnown::Unmeasured,
        centre_term: 0.3,
        proposed_counts: 16.0,
        radius_counts: 16.0,
        radius_fraction: 0.04,
        doubt: None,
        leak,
    }
}
