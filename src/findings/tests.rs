//! Every kind stays silent on a healthy board and speaks on a sick one.
use super::built::{Built, bounce, healthy, no, reading};
use super::*;
use crate::measure::gate::GateShape;
use crate::rig::{AxisId, Half};
use crate::session::{ColumnRead, Fate, Refusals};
use crate::survey::{ReleaseRest, SpectrumLine};
use crate::units::Unit;
use crate::wire::{Base, Role, Why};

fn found(built: &Built) -> Vec<Finding> {
    let limits = Limits::for_bits(built.survey.raw_bits);
    examine(&built.survey, &built.tracks, &Segments::default(), &limits)
}

/// Codes that need columns as a board prints them: the scenarios in `tests/path/named_faults.rs`
/// play a sick board for each.
const PLAYED: &[Code] = &[
    Code::HalfHang,
    Code::BrownOut,
    Code::MatrixGhost,
    Code::FloatingInput,
    Code::MuxCrosstalk,
    Code::HalvesExchanged,
    Code::SwappedAxes,
    Code::MirroredHalf,
    Code::InvertedAxis,
    Code::ReferenceMismatch,
    Code::ReferenceNoise,
    Code::WornTrack,
    Code::ConverterSteps,
    Code::RotatedStick,
    Code::TriggerPlateau,
    Code::BridgedButtons,
];

type Sicken = fn(&mut Built);

/// For each code: what makes a board sick of it, where it shows, how grave it is.
type Case = (Code, &'static str, Severity, Sicken);

fn sick() -> Vec<Case> {
    [sick_stream_and_rest(), sick_travel(), sick_contacts(), sick_of_outputs()].concat()
}

fn column(fate: Fate) -> ColumnRead {
    ColumnRead {
        place: 4,
        name: "dial".to_owned(),
        role: Role::Ignore,
        guessed: false,
        base: Base::Decimal,
        range: Some([30, 980]),
        fate,
    }
}

/// So many lines of another form among the frames.
fn other_lines(b: &mut Built, count: u64) {
    let mut refusals = Refusals::default();
    for line in 0..count {
        let text = format!("cell {line} mV, load 3");
        refusals.add(crate::wire::Place { line, byte: 0 }, Why::Foreign, text.as_bytes());
    }
    b.tracks.stream.lines = refusals.lines();
    b.tracks.stream.other_form = refusals.other_form().cloned();
}

#[test]
fn lines_in_place_of_frames_are_no_loss_and_other_losses_are() {
    for (lost, named) in [(2_500, false), (2_300, false), (1_000, true), (4_000, true)] {
        let mut built = healthy();
        other_lines(&mut built, 2_500);
        built.survey.stream.lost = Ok(lost);
        let findings = found(&built);
        let has = |code| findings.iter().any(|f| f.code == code);
        assert_eq!(has(Code::LinkLoss), named, "{lost}: {findings:#?}");
        let other = findings.iter().find(|f| f.code == Code::ForeignLines).expect("named");
        assert_eq!(other.evidence.contains("in their place"), !named, "{other:?}");
    }
    let mut built = healthy();
    other_lines(&mut built, 400);
    assert!(found(&built).iter().all(|f| f.code != Code::ForeignLines), "4 % of all lines");
}

#[test]
fn what_rests_on_guessed_roles_is_no_louder_than_a_note() {
    let mut built = healthy();
    built.tracks.roles_by_order = true;
    built.survey.sticks[0].rotation_deg = Ok(reading(20.0, 1.0, 16, Unit::Degrees));
    let mut findings = Vec::new();
    for code in Code::ALL.iter().filter(|code| code.rests_on_roles()) {
        let place = Place::Stick(Half::Left);
        findings.push(Finding::new(*code, place, Severity::Fault, "off".to_owned(), "mend it"));
    }
    assert_eq!(findings.len(), 5);
    findings.iter_mut().for_each(as_guess);
    assert!(
        findings.iter().all(|f| f.severity == Severity::Note && f.evidence.contains("guessed"))
    );
    let loud = |f: &&Finding| f.code.rests_on_roles() && f.severity != Severity::Note;
    assert_eq!(found(&built).iter().filter(loud).count(), 0);
}

fn sick_of_outputs() -> Vec<Case> {
    use Severity::{Fault, Note, Warning};
    vec![
        (Code::UnusedColumn, "stream", Note, |b| b.tracks.columns = vec![column(Fate::Moves)]),
        (Code::UnusedColumn, "stream", Warning, |b| {
            b.tracks.columns = vec![column(Fate::Moves)];
            b.tracks.axes[5] = None;
        }),
        (Code::UnusedColumn, "stream", Note, |b| b.tracks.columns = vec![column(Fate::Further)]),
        (Code::ForeignLines, "stream", Warning, |b| other_lines(b, 2_500)),
        (Code::ReleaseOvershoot, "left", Warning, |b| {
            b.survey.sticks[0].overshoot = Ok(reading(0.37, 0.02, 16, Unit::Fraction));
        }),
        (Code::PressShift, "lx", Note, |b| {
            b.survey.sticks[0].press_shift[0] = Ok(reading(-13.0, 2.0, 5, Unit::Counts));
        }),
        (Code::PressShift, "ly", Warning, |b| {
            b.survey.sticks[0].press_shift[1] = Ok(reading(35.0, 3.0, 5, Unit::Counts));
        }),
        (Code::PwmCoupling, "lx", Fault, |b| {
            b.survey.driven[0].noise_ratio = Ok(reading(5.8, 0.2, 2_000, Unit::Number));
        }),
        (Code::GroundStep, "left", Fault, |b| {
            let step = |axis, shift| crate::survey::Driven {
                axis,
                shift: Ok(reading(shift, 0.3, 8, Unit::Counts)),
                ..b.survey.driven[0].clone()
            };
            b.survey.driven =
                vec![step(AxisId::Lx, -7.0), step(AxisId::Ly, -6.8), step(AxisId::Lt, -7.3)];
        }),
    ]
}

/// No frame came of 500 bytes: so many that are no text, so many of the form of half the rate. The lines
/// that were refused are no loss on the way.
fn unframed(b: &mut Built, odd: u64, halved: u64) {
    b.tracks.stream.unreadable = Some(crate::session::Unreadable { odd, halved, all: 500 });
    b.survey.stream.malformed = 40;
    b.survey.stream.lost = Err(crate::survey::short("a counter or a clock", 0, 1, "print one"));
}

fn sick_stream_and_rest() -> Vec<Case> {
    use Severity::{Fault, Note, Warning};
    vec![
        (Code::LinkLoss, "stream", Fault, |b| b.survey.stream.lost = Ok(204)),
        (Code::BaudMismatch, "stream", Fault, |b| unframed(b, 400, 120)),
        (Code::BaudMismatch, "stream", Fault, |b| unframed(b, 20, 460)),
        (Code::LinkLoss, "stream", Note, |b| b.survey.stream.lost = Ok(2)),
        (Code::BoardReset, "stream", Fault, |b| {
            b.survey.stream.resets = 1;
            b.tracks.stream.resets = vec![2_500];
        }),
        (Code::StaleHalf, "right", Warning, |b| {
            b.survey.stream.stale[1] = Ok(reading(0.6, 0.02, 900, Unit::Fraction));
        }),
        (Code::StaleHalf, "left", Fault, |b| {
            b.survey.stream.stale[0] = Ok(reading(0.8, 0.02, 900, Unit::Fraction));
        }),
        (Code::SlowLoop, "stream", Note, |b| {
            b.survey.stream.interval_p99_us = Ok(reading(6_000.0, 9.0, 9_999, Unit::Micros));
        }),
        (Code::SlowLoop, "stream", Warning, |b| {
            b.survey.stream.rate_hz = Ok(reading(60.0, 0.1, 9_999, Unit::Hertz));
        }),
        (Code::AboveWidth, "lx", Fault, |b| {
            b.tracks.raw_bits_guessed = false;
            b.tracks.axes[AxisId::Lx.index()] =
                Some([vec![512; 9_800], vec![65_535; 200]].concat());
        }),
        (Code::StuckRail, "ry", Fault, |b| {
            b.tracks.axes[AxisId::Ry.index()] = Some(vec![1023; 10_000]);
        }),
        (Code::StuckRail, "lt", Warning, |b| {
            b.tracks.axes[AxisId::Lt.index()] = Some(vec![1; 10_000]);
        }),
        (Code::StuckRail, "b1", Warning, |b| b.survey.buttons[1].stuck = true),
        (Code::NoisyInput, "lx", Fault, |b| {
            b.survey.axes[0].noise_rms = Ok(reading(3.4, 0.1, 2_000, Unit::Counts));
        }),
        (Code::NoisyInput, "ly", Warning, |b| {
            let line = SpectrumLine { hz: 9.8, amplitude: 5.1, false_alarm: 1e-12 };
            b.survey.axes[1].lines.push(line);
        }),
        (Code::MainsHum, "lt", Note, |b| b.survey.axes[4].lines[0].amplitude = 2.0),
        (Code::WarmUpDrift, "rx", Warning, |b| {
            let drift = reading(6.0, 0.5, 2_000, Unit::CountsPerMinute);
            b.survey.axes[2].drift_per_min = Ok(drift);
            b.survey.axes[2].idle_drift_per_min = no("stays");
        }),
    ]
}

fn sick_travel() -> Vec<Case> {
    use Severity::{Fault, Note, Warning};
    vec![
        (Code::StickyReturn, "ly", Fault, |b| {
            b.survey.sticks[0].hysteresis[1] = Ok(reading(56.0, 4.0, 16, Unit::Counts));
        }),
        (Code::StickyReturn, "right", Warning, |b| {
            let mut rests = b.survey.sticks[1].releases.clone();
            rests.extend_from_within(..8);
            rests[3] = ReleaseRest { at: [572.0, 512.0], ..rests[3] };
            b.survey.sticks[1].releases = rests;
        }),
        (Code::StickyReturn, "left", Warning, |b| {
            for (i, rest) in b.survey.sticks[0].releases.iter_mut().enumerate() {
                rest.at[0] += if i % 3 == 0 { 28.0 } else { -28.0 };
            }
        }),
        (Code::StickyReturn, "rt", Fault, |b| {
            b.survey.triggers[1].rest_scatter = Ok(reading(30.0, 8.0, 8, Unit::Counts));
        }),
        (Code::Saturated, "lx", Fault, |b| {
            b.survey.axes[0].clipped = Ok(reading(0.19, 0.02, 3_600, Unit::Fraction));
        }),
        (Code::Saturated, "rx", Warning, |b| {
            b.survey.axes[2].high = Ok(reading(1021.0, 0.5, 6, Unit::Counts));
        }),
        (Code::ShortTravel, "lx", Fault, |b| {
            b.survey.axes[0].low = Ok(reading(400.0, 2.0, 6, Unit::Counts));
        }),
        (Code::ShortTravel, "lt", Fault, |b| {
            b.survey.triggers[0].full = Ok(reading(120.0, 2.0, 6, Unit::Counts));
        }),
        (Code::UnevenTravel, "ry", Note, |b| {
            b.survey.axes[3].low = Ok(reading(212.0, 2.0, 6, Unit::Counts));
        }),
        (Code::GateDefect, "left", Fault, |b| {
            b.survey.sticks[0].roundness = Ok(reading(0.19, 0.01, 6, Unit::Fraction));
            b.survey.sticks[0].profile.reach[62..67].fill(0.82);
            b.survey.sticks[0].profile.raw_counts[62..67].fill(0.82 * 399.0);
        }),
        (Code::SkewedAxes, "right", Note, |b| {
            b.survey.sticks[1].orthogonality_deg = Ok(reading(-5.8, 0.4, 6, Unit::Degrees));
        }),
        (Code::NonMonotonic, "rt", Fault, |b| {
            b.survey.triggers[1].reversal = Ok(reading(25.0, 2.0, 4, Unit::Counts));
        }),
    ]
}

fn sick_contacts() -> Vec<Case> {
    use Severity::{Fault, Note, Warning};
    vec![
        // Eighteen milliseconds as sampled are fourteen at least: a look of four before the first change.
        (Code::Chatter, "b2", Warning, |b| {
            b.survey.buttons[2].bounce_release_max_ms = Ok(bounce(18.0));
        }),
        (Code::DoubleFire, "b0", Fault, |b| {
            b.survey.buttons[0].presses = 60;
            b.survey.buttons[0].doubles = Ok(6);
            let share = crate::measure::interval::share(6, 60).expect("a share");
            b.survey.buttons[0].double_share = Ok(share.over(Default::default(), Unit::Fraction));
        }),
        (Code::MissingPullUp, "b1", Warning, |b| {
            let masks = b.tracks.buttons.as_mut().expect("buttons");
            for row in (500..2_000).step_by(100) {
                masks[row] |= 2;
            }
        }),
        (Code::NotEnoughData, "left", Note, |b| b.survey.sticks[0].scatter = no("releases")),
        (Code::NotEnoughData, "buttons", Note, |b| b.survey.buttons[2].presses = 0),
    ]
}

#[test]
fn a_healthy_board_raises_no_fault_and_no_warning() {
    let findings = found(&healthy());
    let loud: Vec<_> = findings.iter().filter(|f| f.severity != Severity::Note).collect();
    assert!(loud.is_empty(), "{loud:#?}");
    // The one figure that a round gate cannot give is said to be missing.
    assert!(findings.iter().all(|f| f.code == Code::NotEnoughData), "{findings:#?}");
    assert!(findings.iter().any(|f| f.evidence.contains("rotation")));
}

#[test]
fn each_kind_speaks_where_it_should_and_nothing_else_gets_louder() {
    for (code, place, severity, sicken) in sick() {
        let mut built = healthy();
        sicken(&mut built);
        let findings = found(&built);
        let hit = findings.iter().find(|f| f.code == code && f.place.key() == place);
        let hit = hit.unwrap_or_else(|| panic!("{code} at {place} not in {findings:#?}"));
        assert_eq!(hit.severity, severity, "{hit:#?}");
        assert!(hit.evidence.len() > 15 && hit.remedy.len() > 10, "{hit:#?}");
        assert!(!hit.evidence.contains("NaN") && !hit.evidence.contains("inf"), "{hit:#?}");
    }
}

#[test]
fn every_kind_of_the_list_is_tried_and_has_words() {
    let tried: Vec<Code> = sick().iter().map(|row| row.0).collect();
    for code in Code::ALL.iter().filter(|code| **code != Code::Rig) {
        assert!(tried.contains(code) || PLAYED.contains(code), "{code} has no sick board");
        assert!(code.title().starts_with(|c: char| c.is_uppercase()), "{}", code.title());
    }
    // A function a code, but for wishes of the rig, which only refusals bring.
    assert_eq!(ALL.len(), Code::ALL.len() - 1);
}

#[test]
fn what_touches_the_supply_carries_a_caution() {
    for (code, place, _, sicken) in sick() {
        let mut built = healthy();
        sicken(&mut built);
        for finding in found(&built).iter().filter(|f| f.code == code && f.place.key() == place) {
            assert!(!finding.touches_power() || finding.caution.is_some(), "{finding:#?}");
        }
    }
}

#[test]
fn straddling_a_limit_is_no_fault() {
    let mut built = healthy();
    built.survey.axes[0].noise_rms = Ok(reading(3.1, 0.3, 40, Unit::Counts));
    let hit = found(&built).into_iter().find(|f| f.code == Code::NoisyInput).expect("noise");
    assert_eq!(hit.severity, Severity::Warning, "surely beyond marginal, perhaps beyond reject");
    built.survey.axes[0].noise_rms = Ok(reading(1.1, 0.3, 40, Unit::Counts));
    assert!(!found(&built).iter().any(|f| f.code == Code::NoisyInput));
}

#[test]
fn an_octagonal_gate_is_no_defect() {
    let mut built = healthy();
    let stick = &mut built.survey.sticks[Half::Left as usize];
    for (k, reach) in stick.profile.reach.iter_mut().enumerate() {
        let off = ((k as f64 * 5.0 + 22.5).rem_euclid(45.0) - 22.5).to_radians();
        *reach = 0.96 / off.cos();
    }
    let raw: Vec<f64> = stick.profile.reach.iter().map(|reach| 399.0 * reach).collect();
    stick.profile.raw_counts = raw;
    stick.roundness = Ok(reading(0.08, 0.004, 6, Unit::Fraction));
    assert!(!found(&built).iter().any(|f| f.code == Code::GateDefect));
}

#[test]
fn few_far_releases_ask_for_more_before_they_warn() {
    let mut built = healthy();
    built.survey.sticks[0].releases[3].at = [572.0, 512.0];
    let findings = found(&built);
    assert!(!findings.iter().any(|f| f.code == Code::StickyReturn));
    let ask = findings.iter().find(|f| f.code == Code::NotEnoughData && f.place.key() == "left");
    assert!(ask.is_some_and(|f| f.remedy.contains("eight more")), "{ask:?}");
}

#[test]
fn no_frames_is_said_once() {
    let mut built = healthy();
    built.survey.frames = 0;
    built.survey.axes.clear();
    built.tracks.t_us.clear();
    let findings = found(&built);
    let empty: Vec<_> = findings.iter().filter(|f| f.code == Code::NotEnoughData).collect();
    assert_eq!(empty.len(), 1);
    assert_eq!(empty[0].severity, Severity::Warning);
}

#[test]
fn what_is_beyond_at_95_and_not_at_99_per_cent_is_a_note() {
    let mut built = healthy();
    // Noise: marginal to 2 counts; 95 % from 2.05, 99 % from 1.97.
    for (half, severity) in [(0.25, Severity::Note), (0.15, Severity::Warning)] {
        built.survey.axes[0].noise_rms = Ok(reading(2.3, half, 40, Unit::Counts));
        let findings = found(&built);
        let hit = findings.iter().find(|f| f.code == Code::NoisyInput).expect("beyond marginal");
        assert_eq!(hit.severity, severity, "{half}");
    }
}

#[test]
fn a_straight_gate_is_not_called_a_saturated_sensor() {
    let mut built = healthy();
    built.survey.axes[0].clipped = Ok(reading(0.19, 0.02, 6, Unit::Fraction));
    for (shape, severity) in
        [(GateShape::Circle, Severity::Fault), (GateShape::AxisClip { level: 0.8 }, Severity::Note)]
    {
        built.survey.sticks[0].shape = Ok(shape);
        let findings = found(&built);
        let hit = findings.iter().find(|f| f.code == Code::Saturated).expect("held at an end");
        assert_eq!(hit.severity, severity, "{hit:?}");
    }
}

#[test]
fn a_contact_that_opens_while_held_is_named() {
    let mut built = healthy();
    built.survey.buttons[0].dropouts = Ok(2);
    assert!(!found(&built).iter().any(|f| f.code == Code::Chatter));
    built.survey.buttons[0].dropouts = Ok(4);
    assert!(found(&built).iter().any(|f| f.code == Code::Chatter));
}
