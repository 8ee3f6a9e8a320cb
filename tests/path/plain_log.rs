//! A log without prompts: the findings that need none are the same, the others say what is missing.
use trimbench::desk::play::into_session;
use trimbench::findings::{Finding, Severity, examine};
use trimbench::limits::Limits;
use trimbench::rig::Rig;
use trimbench::segment;
use trimbench::session::{Intake, TimeSource};
use trimbench::survey::survey;
use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{Options, VirtualBoard};
use trimbench::wire::Role;

/// What is named of a run from which every mark is taken, or of its first seconds.
fn unprompted(scenario: &str, seed: u64, seconds: Option<f64>) -> Vec<Finding> {
    let scenario = scenario.parse().expect("a scenario");
    let mut board =
        VirtualBoard::new(&Options { scenario, seed, ..Options::default() }).expect("a board");
    let rig = board.rig().clone();
    let mut script = full_run(&rig);
    script.retain(|(at_us, _)| seconds.is_none_or(|s| *at_us as f64 <= s * 1e6));
    let intake = Intake::new(Some(board.dialect().clone()));
    let session = into_session(&mut board, &script, intake);
    let mut tracks = session.tracks(&rig);
    tracks.marks.clear();
    let segments = segment::find(&tracks);
    let survey = survey(&tracks, &segments, &rig, &mut |_| true).expect("not stopped");
    examine(&survey, &tracks, &segments, &Limits::for_bits(10))
}

#[test]
fn stream_noise_range_and_contacts_need_no_prompts() {
    let cases = [
        ("lossy-link", "link-loss", "stream"),
        ("noisy-input", "noisy-input", "rx"),
        ("mains-hum", "mains-hum", "lx"),
        ("stuck-rail", "stuck-rail", "ry"),
        ("uneven-travel", "saturated", "lx"),
        ("chatter", "chatter", "b1"),
        ("missing-pull-up", "missing-pull-up", "b3"),
        ("brown-out", "brown-out", "supply"),
    ];
    for (scenario, code, place) in cases {
        let findings = unprompted(scenario, 7, None);
        let hit = findings.iter().find(|f| f.code.key() == code && f.place.key() == place);
        assert!(hit.is_some(), "{scenario}: no {code} at {place} in {findings:#?}");
    }
}

#[test]
fn what_is_missing_is_said_with_what_to_do() {
    // Ten seconds in which nobody touches anything.
    let findings = unprompted("healthy", 7, Some(10.2));
    let loud: Vec<_> = findings.iter().filter(|f| f.severity != Severity::Note).collect();
    assert!(loud.is_empty(), "{loud:#?}");
    for (place, words) in [("left", "reach"), ("lx", "low end"), ("rt", "full level")] {
        let ask =
            findings.iter().find(|f| f.code.key() == "not-enough-data" && f.place.key() == place);
        let ask = ask.unwrap_or_else(|| panic!("nothing asked at {place}: {findings:#?}"));
        assert!(ask.evidence.contains(words), "{ask:?}");
        assert!(ask.remedy.len() > 15, "{ask:?}");
    }
    let buttons =
        findings.iter().find(|f| f.place.key() == "buttons").expect("buttons are asked for");
    assert!(buttons.evidence.starts_with("never pressed") && buttons.remedy.contains("five"));
}

#[test]
fn without_a_clock_nothing_is_said_in_time_until_a_rate_is_stated() {
    let mut board = VirtualBoard::new(&Options::default()).expect("a board");
    let rig = board.rig().clone();
    let mut dialect = board.dialect().clone();
    for field in &mut dialect.fields {
        if matches!(field.role, Role::Clock | Role::Seq) {
            field.role = Role::Ignore;
        }
    }
    let session = into_session(&mut board, &full_run(&rig), Intake::untimed(Some(dialect)));
    let figures = |rate| {
        let rig = Rig { deployed_rate_hz: rate, ..rig.clone() };
        let tracks = session.tracks(&rig);
        let survey = survey(&tracks, &segment::find(&tracks), &rig, &mut |_| true);
        (tracks.time_source, survey.expect("not stopped"))
    };
    let (source, clockless) = figures(None);
    assert_eq!(source, TimeSource::Assumed);
    assert!(clockless.duration_s.is_nan() && clockless.stream.rate_hz.is_err());
    let short = clockless.stream.interval_median_us.expect_err("no time");
    assert!(short.to_string().contains("clock"), "{short}");
    assert!(clockless.axes.iter().all(|axis| axis.rest.is_ok() && axis.lines.is_empty()));
    assert!(clockless.buttons.iter().all(|b| b.window_ms.is_err() && b.presses > 0));
    let (source, stated) = figures(Some(250.0));
    assert_eq!(source, TimeSource::Stated);
    let rate = stated.stream.rate_hz.expect("stated");
    assert!((rate.value - 250.0).abs() < 0.1, "{}", rate.value);
}
