//! A hand without prompts that leaves less than half a second between its pushes.
use std::f64::consts::TAU;

use trimbench::desk::play::into_session;
use trimbench::findings::{Severity, examine};
use trimbench::limits::Limits;
use trimbench::rig::{AxisId, Half};
use trimbench::segment;
use trimbench::session::{Intake, Session, Tracks};
use trimbench::survey::{Code, survey};
use trimbench::virtual_board::{Options, VirtualBoard};

/// Rests of a second at either end and 24 pushes of 0.3 s to eight directions, each let go for a while.
fn pushed(seed: u64, rate_hz: f64, between_s: f64) -> (VirtualBoard, Tracks) {
    let options = Options { seed, rate_hz, ..Options::default() };
    let mut board = VirtualBoard::new(&options).expect("a board");
    let (rig, hand) = (board.rig().clone(), board.hand());
    let mut intake = Intake::new(Some(board.dialect().clone()));
    let mut run = |board: &mut VirtualBoard, seconds: f64| {
        let mut bytes = Vec::new();
        board.advance(board.now_us() + (seconds * 1e6) as u64, &mut bytes);
        intake.push(board.now_us(), &bytes);
    };
    run(&mut board, 3.0);
    for push in 0..24 {
        let (sin, cos) = (f64::from(push * 3 % 8) * 45.0).to_radians().sin_cos();
        for half in Half::ALL {
            hand.drag(half, Some((1.1 * cos, 1.1 * sin)));
        }
        run(&mut board, 0.3);
        Half::ALL.iter().for_each(|half| hand.drag(*half, None));
        run(&mut board, between_s);
    }
    run(&mut board, 2.0);
    intake.finish();
    let mut session: Session = into_session(&mut board, &[], Intake::new(None));
    session.append(&intake.take());
    let tracks = session.tracks(&rig);
    (board, tracks)
}

#[test]
fn releases_half_a_second_apart_tell_the_centre() {
    for (seed, rate_hz) in [(3, 250.0), (4, 250.0), (5, 500.0), (6, 1000.0), (7, 125.0)] {
        let (board, tracks) = pushed(seed, rate_hz, 0.45);
        let segments = segment::find(&tracks);
        let found = survey(&tracks, &segments, board.rig(), &mut |_| true).expect("not stopped");
        for half in Half::ALL {
            let count = segments.releases(half).len();
            assert!(count >= 20, "{rate_hz} Hz, {half:?}: {count} of 24, {:?}", segments.rejected);
            let truth = board.truth().stick(half).expect("a stick");
            for (axis, truth) in half.stick().into_iter().zip(truth.centre) {
                let axis: AxisId = axis;
                let centre = found.axis(axis).expect("printed").centre.as_ref().expect("releases");
                assert!((centre.value - truth).abs() < 2.5, "{axis:?}: {centre:?} {truth}");
            }
        }
    }
}

#[test]
fn an_axis_with_nothing_of_its_own_floats_and_its_neighbours_do_not() {
    let (board, mut tracks) = pushed(3, 250.0, 0.45);
    for floats in [false, true] {
        if floats {
            // What the converter kept of the channel before, and the mains.
            let x = tracks.axes[AxisId::Lx.index()].clone().expect("printed");
            let hum = |t_us: u64| 20.0 * (TAU * 50.0 * t_us as f64 * 1e-6).sin();
            let y = x
                .iter()
                .zip(&tracks.t_us)
                .map(|(&x, &t)| 180 + (0.65 * f64::from(x) + hum(t)) as i32);
            tracks.axes[AxisId::Ly.index()] = Some(y.collect());
        }
        let segments = segment::find(&tracks);
        let found = survey(&tracks, &segments, board.rig(), &mut |_| true).expect("not stopped");
        let findings = examine(&found, &tracks, &segments, &Limits::for_bits(10));
        let named: Vec<_> = findings.iter().filter(|f| f.code == Code::FloatingInput).collect();
        assert_eq!(named.len(), usize::from(floats), "{named:?}");
        assert!(named.iter().all(|f| f.place.key() == "ly" && f.severity == Severity::Fault));
    }
}
