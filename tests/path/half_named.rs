//! Logs whose headings are known in part, or not at all and in another order; codes that no converter gives.
use std::fmt::Write;

use trimbench::desk::Results;
use trimbench::desk::solving::solve_file;
use trimbench::findings::Severity;
use trimbench::rig::AxisId;
use trimbench::session::Codes;
use trimbench::survey::Code;
use trimbench::work::Watch;

/// What the six controls and two buttons of an invented board read in one line.
type Row = ([i32; 6], [bool; 2]);

/// A hand on a board of 12 bits at 200 Hz: rests, pushes every way, rolls, pulls, presses.
fn hand() -> Vec<Row> {
    let rests = [2010, 2100, 1970, 2060, 300, 340];
    let noise =
        |k: usize, axis: usize| (((k * 7919 + axis * 104_729) * 2_654_435_761) >> 13) as i32 % 3;
    (0..6_000)
        .map(|k| {
            let (phase, part) = (k % 1000, k / 1000);
            let turn = std::f64::consts::TAU * phase as f64 / 250.0;
            let away = |k: usize| if (300..700).contains(&k) { 1.0 } else { 0.0 };
            let mut row = rests;
            match part {
                1 | 3 => {
                    let stick = if part == 1 { 0 } else { 2 };
                    row[stick] += (1500.0 * turn.cos() * away(phase)) as i32;
                    row[stick + 1] += (1500.0 * turn.sin() * away(phase)) as i32;
                }
                2 | 4 => row[if part == 2 { 4 } else { 5 }] += (3000.0 * away(phase)) as i32,
                _ => {}
            }
            for (axis, code) in row.iter_mut().enumerate() {
                *code += noise(k, axis);
            }
            let pressed = |n: usize| part == 5 && phase % 200 > 100 && (phase / 400) % 2 == n;
            (row, [pressed(0), pressed(1)])
        })
        .collect()
}

fn solved(heading: &str, line: impl Fn(usize, &Row) -> String) -> Results {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("board.log");
    let mut text = String::new();
    if !heading.is_empty() {
        writeln!(text, "{heading}").expect("a string takes all");
    }
    for (k, row) in hand().iter().enumerate() {
        writeln!(text, "{}", line(k, row)).expect("a string takes all");
    }
    std::fs::write(&path, text).expect("written");
    solve_file(&path, None, None, &Watch::unwatched()).expect("read")
}

/// The rests of the axes, rounded to tens, by key.
fn rests(results: &Results) -> String {
    let rest = |axis: &AxisId| {
        let figures = results.survey.axis(*axis)?;
        let rest = figures.rest.as_ref().or(figures.centre.as_ref()).ok()?;
        Some(format!("{} {:.0}", axis.key(), (rest.value / 10.0).round() * 10.0))
    };
    AxisId::ALL.iter().filter_map(rest).collect::<Vec<_>>().join(", ")
}

const ALL: &str = "lx 2010, ly 2100, rx 1970, ry 2060, lt 300, rt 340";

fn columns(order: [usize; 6]) -> impl Fn(usize, &Row) -> String {
    move |k, (axes, pressed)| {
        let codes: Vec<String> = order.iter().map(|n| axes[*n].to_string()).collect();
        format!("{},{},{},{}", k * 5, codes.join(","), pressed[0] as u8, pressed[1] as u8)
    }
}

#[test]
fn a_heading_known_in_part_loses_no_axis() {
    for names in [
        "LSH,LSV,RSH,RSV,lt,rt",
        "potLX,potLY,potRX,potRY,potL2,potR2",
        "vrx1,vry1,vrx2,vry2,T1,T2",
        "left_horz,left_vert,right_horz,right_vert,lz,rz2",
        "sinistra_x,sinistra_y,destra_x,destra_y,leva_a,leva_b",
        "lx,ly,rx,ry,magnet_a,magnet_b",
    ] {
        let results = solved(&format!("ms,{names},a,b"), columns([0, 1, 2, 3, 4, 5]));
        assert_eq!(rests(&results), ALL, "{names}");
    }
}

#[test]
fn a_processed_column_fills_no_place() {
    let heading = "ms,lx,ly,rx,ry,lt_filtered,rt_filtered,a,b";
    let results = solved(heading, columns([0, 1, 2, 3, 4, 5]));
    assert_eq!(rests(&results), "lx 2010, ly 2100, rx 1970, ry 2060");
}

#[test]
fn triggers_are_known_by_their_rest_where_no_name_tells() {
    for order in [[0, 1, 4, 2, 3, 5], [4, 5, 0, 1, 2, 3], [0, 1, 2, 3, 4, 5]] {
        let results = solved("", columns(order));
        assert_eq!(rests(&results), ALL, "{order:?}");
    }
}

fn loud(results: &Results) -> Vec<Code> {
    let found = results.findings.iter().filter(|f| f.severity <= Severity::Warning);
    found.map(|f| f.code).collect()
}

#[test]
fn codes_that_no_converter_gives_are_held_against_no_converter() {
    let signed = |k: usize, (axes, pressed): &Row| {
        let codes: Vec<String> = axes.iter().map(|c| (c - 2048).to_string()).collect();
        format!("{},{},{},{}", k * 5, codes.join(","), pressed[0] as u8, pressed[1] as u8)
    };
    let volts = |k: usize, (axes, pressed): &Row| {
        let code = |c: &i32| format!("{:.3}", f64::from(*c) * 3.3 / 4096.0);
        let codes: Vec<String> = axes.iter().map(code).collect();
        format!("{} {} {} {}", k * 5, codes.join(" "), pressed[0] as u8, pressed[1] as u8)
    };
    let heading = "ms,lx,ly,rx,ry,lt,rt,a,b";
    let of_converters =
        [Code::Saturated, Code::StuckRail, Code::ReferenceMismatch, Code::ShortTravel];
    for (results, codes) in [
        (solved(heading, signed), Codes::Signed),
        (solved(&heading.replace(',', " "), volts), Codes::Decimal),
        (solved(heading, columns([0, 1, 2, 3, 4, 5])), Codes::Raw),
    ] {
        assert_eq!(results.survey.codes, codes);
        let loud = loud(&results);
        assert!(!loud.iter().any(|code| of_converters.contains(code)), "{codes:?}: {loud:?}");
    }
}

#[test]
fn millivolts_are_a_note_where_nobody_stated_the_width() {
    let results = solved("ms,lx,ly,rx,ry,lt,rt,a,b", |k, (axes, pressed)| {
        let codes: Vec<String> = axes.iter().map(|c| (c * 3300 / 4096).to_string()).collect();
        format!("{},{},{},{}", k * 5, codes.join(","), pressed[0] as u8, pressed[1] as u8)
    });
    assert!(!loud(&results).contains(&Code::ReferenceMismatch));
    let noted = results.findings.iter().any(|f| f.code == Code::ReferenceMismatch);
    assert!(noted, "and is said");
}

#[test]
fn a_board_that_counts_its_buttons_from_one_has_no_button_zero() {
    for closed in ["1", "0"] {
        let open = if closed == "1" { "0" } else { "1" };
        let results = solved("", |k, (axes, pressed)| {
            let level = |n: usize| if pressed[n] { closed } else { open };
            format!(
                "t:{} X1:{} Y1:{} X2:{} Y2:{} B1:{} B2:{} B3:{open}",
                k * 5,
                axes[0],
                axes[1],
                axes[2],
                axes[3],
                level(0),
                level(1)
            )
        });
        let found: Vec<(u8, bool)> =
            results.survey.buttons.iter().map(|b| (b.index, b.presses > 0)).collect();
        assert_eq!(found, [(1, true), (2, true), (3, false)], "{closed} is pressed");
        assert!(!loud(&results).contains(&Code::StuckRail));
    }
}
