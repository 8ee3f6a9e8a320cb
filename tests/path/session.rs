//! A session in memory: its columns, roles and envelope, whatever file it came from.
use trimbench::rig::{AxisId, Rig};
use trimbench::session::{Session, TimeSource};
use trimbench::wire::Role;

use super::session_file::{counter, opened, recorded, stream};

#[test]
fn a_log_without_any_time_says_that_its_rate_is_assumed() {
    let text: String = (0..100).map(|i| format!("{},{}\n", 500 + i % 3, 510 + i % 2)).collect();
    let tracks = opened(text.as_bytes()).session.tracks(&Rig::default());
    assert_eq!((tracks.time_source, tracks.stream.lost), (TimeSource::Assumed, None));
    assert_eq!(tracks.t_us[99], 99 * 4000);
    let rig = Rig { deployed_rate_hz: Some(100.0), ..Rig::default() };
    assert_eq!(opened(text.as_bytes()).session.tracks(&rig).period_us, 10_000.0);
}

#[test]
fn a_mask_is_settled_over_the_whole_log() {
    let log = |number: fn(u32) -> String| -> String {
        let pressed =
            |i: u32| if i > 3000 && (i / 40).is_multiple_of(2) { 1 << (i / 80 % 7) } else { 0 };
        (0..5000_u32)
            .map(|i| format!("{i},{},{},510,{}\n", i * 4000, 500 + i % 3, number(pressed(i))))
            .collect()
    };
    let by_decimal = opened(log(|m| m.to_string()).as_bytes()).session;
    let by_hex = opened(log(|m| format!("{m:X}")).as_bytes()).session;
    let buttons = |s: &Session| s.tracks(&Rig::default()).buttons.expect("buttons");
    assert_eq!(buttons(&by_decimal), buttons(&by_hex));
    assert_eq!(buttons(&by_hex).iter().fold(0, |all, b| all | b), 0x7F);
}

#[test]
fn idle_high_buttons_are_active_low_unless_the_rig_says_otherwise() {
    let text: String = (0..300)
        .map(|i| format!("{i},{},500,51{},{:04X}\n", i * 4000, i % 3, 0x7FFF ^ (i / 100 % 2) << 4))
        .collect();
    let session = opened(text.as_bytes()).session;
    let tracks = session.tracks(&Rig::default());
    let buttons = tracks.buttons.expect("buttons");
    assert_eq!((tracks.button_count, tracks.buttons_active_low), (15, true));
    assert_eq!((buttons[0], buttons[150]), (0, 16));
    let rig = Rig { buttons_active_low: Some(false), ..Rig::default() };
    assert_eq!(session.tracks(&rig).buttons.expect("buttons")[0], 0x7FFF);
}

#[test]
fn tracks_of_a_part_are_a_part_of_the_tracks() {
    let session = opened(&recorded(2000)).session;
    let rig = Rig::default();
    let (whole, part) = (session.tracks(&rig), session.tracks_of(1200..1700, &rig));
    assert_eq!(part.t_us, whole.t_us[1200..1700]);
    assert_eq!(part.axes[0].as_deref(), whole.axes[0].as_ref().map(|c| &c[1200..1700]));
    assert_eq!(part.buttons.as_deref(), whole.buttons.as_ref().map(|b| &b[1200..1700]));
    assert!(part.marks.is_empty());
    assert_eq!(session.tracks_of(0..200, &rig).marks, whole.marks);
    assert_eq!(session.tracks_of(5000..9000, &rig).rows(), 0);
}

#[test]
fn changing_a_role_frames_nothing_again() {
    let mut session = opened(&recorded(300)).session;
    let (x, y) = (2, 3);
    let before = session.column(x);
    session.set_role(x, Role::Axis(AxisId::Rt));
    assert_eq!(session.column(x), before);
    let tracks = session.tracks(&Rig::default());
    assert_eq!(tracks.axis(AxisId::Rt), Some(&before[..]));
    assert_eq!(tracks.axis(AxisId::Lx), None);
    session.set_role(y, Role::Axis(AxisId::Rt));
    assert_eq!(session.roles()[x], Role::Ignore, "a role stands once");
}

#[test]
fn a_picture_has_one_entry_a_pixel() {
    let session = opened(&recorded(3000)).session;
    let column = session.column(2);
    for (rows, pixels) in [(0..3000, 100), (17..2991, 640), (5..45, 640), (0..0, 10)] {
        let picture = session.min_max(2, rows.clone(), pixels);
        assert_eq!(picture.len(), pixels.min(rows.len()));
        let least = picture.iter().map(|p| p.0).min();
        assert_eq!(least, column[rows].iter().min().copied());
    }
}

#[test]
fn a_clone_shares_all_but_the_open_block() {
    let text = stream(0..70_000);
    let mut session = opened(text.as_bytes()).session;
    let shown = session.clone();
    let mut intake =
        trimbench::session::Intake::untimed(session.dialect().map(|d| d.as_ref().clone()));
    intake.push(0, stream(70_000..70_100).as_bytes());
    session.append(&intake.take());
    assert_eq!((shown.rows(), session.rows()), (70_000, 70_100));
    assert!(std::sync::Arc::ptr_eq(&shown.blocks()[0], &session.blocks()[0]));
    assert_eq!(counter(&shown).len(), 70_000);
}

/// Extremes and sums of many stretches against a scan: within a block, over its edges, over several.
#[test]
fn extremes_and_sums_of_any_stretch_agree_with_a_scan() {
    let mut session = opened(stream(0..66_000).as_bytes()).session;
    let dialect = session.dialect().map(|d| d.as_ref().clone());
    let mut intake = trimbench::session::Intake::untimed(dialect);
    let mut at = 66_000;
    while at < 140_000 {
        // Chunks of every size, as they come while live.
        let next = (at + 1 + at % 1_777).min(140_000);
        intake.push(0, stream(at..next).as_bytes());
        session.append(&intake.take());
        at = next;
    }
    assert_eq!((session.rows(), session.blocks().len()), (140_000, 3));
    let mut drawn = 1_u64;
    let mut place = |most: usize| {
        drawn = drawn.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963);
        (drawn >> 33) as usize % (most + 1)
    };
    for field in 0..session.roles().len() {
        let column = session.column(field);
        let edges = [0, 1, 1_023, 1_024, 65_535, 65_536, 65_537, 131_072, 139_999, 140_000];
        let mut spans: Vec<(usize, usize)> =
            edges.iter().flat_map(|a| edges.map(|b| (*a, b))).filter(|(a, b)| a <= b).collect();
        spans.extend((0..40).map(|_| (place(140_000), place(140_000))));
        for (a, b) in spans {
            let part = &column[a.min(b)..a.max(b)];
            let extremes = part.iter().min().copied().zip(part.iter().max().copied());
            assert_eq!(session.span_of(field, a.min(b)..a.max(b)), extremes, "{field}: {a} {b}");
            let sums = session.sums_of(field, a.min(b)..a.max(b)).expect("a field");
            let wide = || part.iter().map(|c| i128::from(*c));
            let want = (part.len() as u64, wide().sum::<i128>(), wide().map(|c| c * c).sum());
            assert_eq!((sums.n, sums.sum, sums.squares), want, "{field}: {a} {b}");
        }
    }
    assert_eq!(session.sums_of(session.roles().len(), 0..10), None, "no such field");
    assert_eq!(session.sums_of(2, 139_000..200_000), session.sums_of(2, 139_000..140_000));
}

/// Pixel columns over more than a million rows, on entries of every level and beside them.
#[test]
fn pixel_columns_of_two_million_rows_agree_with_a_scan() {
    let mut session = opened(stream(0..10).as_bytes()).session;
    let fields = session.roles().len();
    let mut drawn = 7_u64;
    let mut draw = |below: usize| {
        drawn = drawn.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963);
        (drawn >> 33) as usize % below
    };
    while session.rows() < 2_200_000 {
        let rows = 1 + draw(150_000);
        let cells = (0..rows).map(|_| draw(1 << 20) as i32 - (1 << 19)).collect();
        let columns = std::iter::once(cells).chain((1..fields).map(|_| vec![0; rows])).collect();
        session.append(&trimbench::session::Chunk { columns, ..Default::default() });
    }
    let column = session.column(0);
    let mut runs = Vec::new();
    for step in [1, 16, 256, 1_024, 65_536, 1_048_576] {
        for entries in [1, 2, 9, 130] {
            for _ in 0..20 {
                let start = draw(column.len() / step + 1) * step;
                runs.push(start..start + entries * step);
                runs.push(start + draw(step)..start + entries * step + draw(step));
            }
        }
    }
    let scan = |run: &std::ops::Range<usize>| {
        let part = column.get(run.start..run.end.min(column.len())).unwrap_or(&[]);
        part.iter().min().copied().zip(part.iter().max().copied())
    };
    let spans = session.spans_of(0, &runs);
    for (run, span) in runs.iter().zip(spans) {
        assert_eq!(span, scan(run), "{run:?}");
        assert_eq!(session.span_of(0, run.clone()), scan(run), "{run:?}");
    }
}
