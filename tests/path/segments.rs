//! Segmentation with and without prompts: what is found equals what the hand did.
mod boards;
mod guided;
mod hand;

use hand::{Hand, spiked, without};
use trimbench::rig::{AxisId, Half};
use trimbench::segment::{self, Kind, Pace, Reason, Segments, Turning};
use trimbench::session::Tracks;

const BOTH: &[usize] = &[0, 1];

/// What a hand did, to be compared with what was found.
#[derive(Debug, PartialEq)]
struct Done {
    releases: [usize; 2],
    turns: [[usize; 2]; 2],
    pulls: [[usize; 2]; 2],
    presses: Vec<usize>,
}

impl Done {
    fn found(s: &Segments) -> Done {
        let turns = |half, way| s.turns(half).filter(|(w, _)| *w == way).count();
        let pulls = |half, pace| s.pulls(half).iter().filter(|p| p.pace == pace).count();
        Done {
            releases: Half::ALL.map(|h| s.releases(h).len()),
            turns: Half::ALL
                .map(|h| [turns(h, Turning::Counterclockwise), turns(h, Turning::Clockwise)]),
            pulls: Half::ALL.map(|h| [pulls(h, Pace::Slow), pulls(h, Pace::Fast)]),
            presses: s.buttons.iter().map(|b| b.presses.len()).collect(),
        }
    }

    fn whole_run() -> Done {
        Done {
            releases: [16, 16],
            turns: [[3, 3], [3, 3]],
            pulls: [[4, 4], [4, 4]],
            presses: vec![5, 5, 5, 5],
        }
    }
}

type Act = fn(&mut Hand);

/// The whole run; `marked` with prompts, else in an order of its own.
fn whole_run(hand: &mut Hand, marked: bool) {
    let steps: [(&str, Act); 5] = [
        ("rest", |hand| hand.wait(9.0)),
        ("roll", |hand| {
            hand.wait(0.5);
            hand.roll(BOTH, 3.0, 2.4);
            hand.roll(BOTH, -3.0, 2.2);
        }),
        ("releases", |hand| {
            hand.wait(0.5);
            for k in 0..16 {
                hand.release(BOTH, 45.0 * f64::from(k * 3 % 8), 1.0);
            }
        }),
        ("triggers", |hand| {
            for _ in 0..4 {
                hand.pull(BOTH, 1.0, 1.6, 1.6);
            }
            for _ in 0..4 {
                hand.pull(BOTH, 1.0, 0.08, 0.06);
            }
        }),
        ("buttons", |hand| {
            hand.wait(0.3);
            for button in 0..4 {
                for k in 0..5 {
                    hand.press(button, k % 2);
                }
            }
            hand.wait(0.5);
        }),
    ];
    let order = if marked { [0, 1, 2, 3, 4] } else { [4, 2, 3, 0, 1] };
    for k in order {
        let (word, act) = steps[k];
        if marked {
            hand.mark(word, "");
        }
        act(hand);
    }
    if marked {
        hand.mark("end", "");
    }
}

/// Every settled stretch lies where the stick was at rest, and no range crosses a break.
fn assert_sound(tracks: &Tracks, s: &Segments) {
    let whole = |rows: segment::Rows| {
        assert!(!rows.is_empty() && rows.end <= tracks.rows());
        assert!(!s.breaks.iter().any(|&b| b > rows.first && b < rows.end), "{rows:?} is broken");
    };
    s.rests.iter().for_each(|r| whole(r.rows));
    for half in Half::ALL {
        for r in s.releases(half) {
            whole(r.settled);
            assert!(r.push.contains(r.let_go) || r.let_go < r.still_from);
            assert!(r.let_go < r.still_from && r.still_from < r.settled.first);
            let dt = tracks.t_us[r.settled.first] - tracks.t_us[r.still_from];
            assert!(dt >= 300_000, "{dt}");
            let long = tracks.t_us[r.settled.end - 1] - tracks.t_us[r.settled.first];
            assert!((380_000..=500_000).contains(&long), "{long}");
        }
        s.rolls(half).iter().flat_map(|r| &r.turns).for_each(|t| whole(*t));
        for p in s.pulls(half) {
            whole(p.up);
            whole(p.hold);
            whole(p.down);
        }
    }
}

#[test]
fn a_marked_run_is_found_whole() {
    for (rate, bits, noise) in
        [(250.0, 10, 0.7), (1000.0, 12, 2.0), (100.0, 10, 0.3), (250.0, 8, 0.4)]
    {
        let mut hand = Hand::new(rate, bits, noise, 1);
        whole_run(&mut hand, true);
        let tracks = hand.tracks();
        let found = segment::find(&tracks);
        assert_sound(&tracks, &found);
        assert!(found.prompted);
        assert_eq!(Done::found(&found), Done::whole_run(), "{rate} Hz, {bits} bits");
        assert!(found.rest_rows() as f64 > 8.0 * rate, "{} rows", found.rest_rows());
    }
}

#[test]
fn a_plain_log_in_another_order_is_found_whole() {
    for seed in 0..4 {
        for (rate, bits, noise) in [(250.0, 10, 0.7), (1000.0, 12, 2.0), (500.0, 10, 1.5)] {
            let mut hand = Hand::new(rate, bits, noise, seed);
            whole_run(&mut hand, false);
            let tracks = hand.tracks();
            let found = segment::find(&tracks);
            assert_sound(&tracks, &found);
            assert!(!found.prompted);
            assert_eq!(
                Done::found(&found),
                Done::whole_run(),
                "{rate} Hz, {bits} bits, seed {seed}"
            );
            let right = found.levels.axis(AxisId::Rt).expect("a level");
            assert!(right.rest > right.full(), "the right trigger rests high");
        }
    }
}

#[test]
fn spikes_and_lost_frames_change_no_count() {
    for seed in 0..4 {
        let mut hand = Hand::new(250.0, 10, 0.7, 40 + seed);
        whole_run(&mut hand, false);
        let clean = hand.tracks();
        let mut dice_hand = Hand::new(250.0, 10, 0.7, 900 + seed);
        let mut dice = dice_hand.dice();
        let spiked = spiked(clean, 0.01, &mut dice);
        let tracks = without(&spiked, |_| dice() < 0.02);
        let found = segment::find(&tracks);
        assert_sound(&tracks, &found);
        assert_eq!(Done::found(&found), Done::whole_run(), "seed {seed}");
        assert!(
            found.longest_rest().expect("a rest").rows.len() > 2000,
            "the 9 s rest in one piece"
        );
    }
}

#[test]
fn nothing_reaches_across_a_stall_or_a_restart() {
    let mut hand = Hand::new(250.0, 10, 0.7, 7);
    hand.wait(4.0);
    let in_rest = hand.rows() - 500;
    hand.roll(BOTH, 3.0, 2.4);
    let in_roll = hand.rows() - 1000;
    hand.release(BOTH, 90.0, 1.0);
    let in_settling = hand.rows() - 125;
    hand.release(BOTH, 0.0, 1.0);
    hand.release(BOTH, 180.0, 1.0);
    let mut tracks = hand.tracks();
    tracks.stream.resets = vec![in_rest];
    let stalls = [in_roll..in_roll + 75, in_settling..in_settling + 75];
    let tracks = without(&tracks, |row| stalls.iter().any(|s| s.contains(&row)));
    let found = segment::find(&tracks);
    assert_sound(&tracks, &found);
    assert_eq!(found.breaks.len(), 3);
    for half in Half::ALL {
        assert_eq!(found.releases(half).len(), 2, "the one whose settling was cut is not used");
        assert_eq!(found.turns(half).count(), 2, "the turn with the stall in it is not used");
        let cut = |kind| found.rejected.iter().any(|r| r.kind == kind && r.why == Reason::Cut);
        assert!(cut(Kind::Release));
    }
    assert_eq!(found.rests.len(), 2, "two rests, before and after the restart: {:?}", found.rests);
}

#[test]
fn a_thumb_left_on_the_stick_is_no_release() {
    let mut hand = Hand::new(250.0, 10, 0.7, 8);
    hand.wait(2.0);
    hand.release(BOTH, 90.0, 1.0);
    hand.creeping(0, 0.0, 12.0);
    hand.wait(0.1);
    hand.release(&[0], 180.0, 0.2);
    hand.release(BOTH, 270.0, 1.0);
    let found = segment::find(&hand.tracks());
    // The one that is followed by the next push after 0.2 s fell freely and counts.
    assert_eq!(found.releases(Half::Left).len(), 3);
    assert_eq!(found.releases(Half::Right).len(), 2);
    let left: Vec<Reason> =
        found.rejected.iter().filter(|r| r.kind == Kind::Release).map(|r| r.why).collect();
    assert_eq!(left, [Reason::Creep]);
}

#[test]
fn directions_are_those_of_the_pushes() {
    let mut hand = Hand::new(1000.0, 12, 2.0, 9);
    hand.wait(2.0);
    let pushes: Vec<f64> = (0..16).map(|k| 22.5 * f64::from(k * 5 % 16)).collect();
    for &deg in &pushes {
        hand.release(&[1], deg, 1.0);
    }
    let found = segment::find(&hand.tracks());
    let seen = found.releases(Half::Right);
    assert_eq!(seen.len(), 16);
    for (release, deg) in seen.iter().zip(pushes) {
        let off = (release.direction_deg - deg + 180.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() < 1.5, "{deg}: {}", release.direction_deg);
    }
    assert!(found.releases(Half::Left).is_empty());
}

#[test]
fn a_bumped_table_is_cut_out_of_the_rest() {
    for counts in [2.5, 12.0, 40.0] {
        let mut hand = Hand::new(250.0, 10, 0.7, 10);
        hand.wait(5.0);
        let first = hand.rows();
        hand.bump(counts);
        let end = hand.rows();
        hand.wait(5.0);
        hand.release(BOTH, 0.0, 1.0);
        let found = segment::find(&hand.tracks());
        let bumped: Vec<_> = found.rejected.iter().filter(|r| r.why == Reason::Bump).collect();
        assert!(
            !bumped.is_empty(),
            "{counts}: {first}..{end} {:?} {:?}",
            found.rests,
            found.rejected
        );
        assert!(found.rests.len() >= 2, "{counts}: {:?} {bumped:?} {first}..{end}", found.rests);
        let touched = |rows: segment::Rows| rows.end.min(end).saturating_sub(rows.first.max(first));
        let inside: usize = found.rests.iter().map(|r| touched(r.rows)).sum();
        assert!(
            inside < (end - first) / 2,
            "{counts}: {inside} of {} bumped rows kept",
            end - first
        );
        assert_eq!(found.releases(Half::Left).len(), 1);
    }
}

#[test]
fn part_pulls_part_turns_and_blips_are_named() {
    let mut hand = Hand::new(250.0, 10, 0.7, 11);
    hand.wait(2.0);
    hand.pull(BOTH, 1.0, 1.6, 1.6);
    hand.pull(&[0], 0.6, 0.3, 0.3);
    hand.roll(&[0], 1.0, 2.0);
    hand.roll(&[0], 0.4, 1.0);
    hand.roll(&[0], 0.9, 2.0);
    let mut tracks = hand.tracks();
    let row = tracks.rows() / 2;
    if let Some(masks) = &mut tracks.buttons {
        masks[row] = 0b1010;
    }
    let found = segment::find(&tracks);
    assert_eq!(found.pulls(Half::Left).len(), 1);
    assert_eq!(found.turns(Half::Left).count(), 1);
    assert!(found.releases(Half::Left).is_empty(), "the end of a sweep is no push");
    assert!(found.buttons.iter().all(|b| b.presses.is_empty() && b.log.episodes.is_empty()));
    let why =
        |kind| found.rejected.iter().filter(|r| r.kind == kind).map(|r| r.why).collect::<Vec<_>>();
    assert_eq!(why(Kind::Pull), [Reason::PartPull]);
    assert_eq!(why(Kind::Release), [Reason::Swept]);
    assert_eq!(why(Kind::Roll), [Reason::PartTurn]);
    assert_eq!(why(Kind::Press), [Reason::Blip, Reason::Blip]);
}

#[test]
fn prompts_fence_the_kinds_in_and_a_second_attempt_replaces_the_first() {
    let mut hand = Hand::new(250.0, 10, 0.7, 12);
    hand.mark("rest", "");
    hand.wait(3.0);
    hand.mark("releases", "");
    hand.mark("push", "90");
    hand.release(BOTH, 90.0, 1.0);
    hand.mark("releases", "again");
    hand.mark("push", "180");
    hand.release(BOTH, 180.0, 1.0);
    hand.mark("push", "0");
    hand.release(BOTH, 0.0, 1.0);
    hand.mark("end", "");
    hand.release(BOTH, 45.0, 2.5);
    let found = segment::find(&hand.tracks());
    let asked: Vec<_> = found.releases(Half::Left).iter().map(|r| r.prompted_deg).collect();
    assert_eq!(asked, [Some(180.0), Some(0.0)]);
    assert_eq!(found.rests.len(), 1);
    let off = found.rejected.iter().filter(|r| r.why == Reason::OffPrompt).count();
    assert_eq!(off, 4, "two sticks, the first attempt and the one after the end");
}

#[test]
fn odd_columns_are_no_trouble() {
    let mut hand = Hand::new(250.0, 10, 0.7, 13);
    hand.wait(0.012);
    let few = hand.tracks();
    assert!(segment::find(&few).rests.is_empty());
    let none = without(&few, |_| true);
    assert_eq!(Done::found(&segment::find(&none)).releases, [0, 0]);
    // One axis missing, one shorter than it says, one full of extremes.
    whole_run(&mut hand, false);
    let mut tracks = hand.tracks();
    tracks.axes[0] = None;
    tracks.axes[2] = Some(vec![1, 2, 3]);
    tracks.axes[4] =
        Some((0..tracks.rows()).map(|r| if r % 2 == 0 { i32::MIN } else { i32::MAX }).collect());
    let found = segment::find(&tracks);
    assert!(found.releases(Half::Left).is_empty() && found.releases(Half::Right).is_empty());
    assert_eq!(found.pulls(Half::Right).len(), 8);
}
