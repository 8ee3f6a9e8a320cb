//! A log without prompts: the findings that need none are the same, the others say what is missing.
use trimbench::desk::play::into_session;
use trimbench::findings::{Finding, Severity, examine};
use trimbench::limits::Limits;
use trimbench::segment;
use trimbench::session::Intake;
use trimbench::survey::survey;
use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{Options, VirtualBoard};

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
