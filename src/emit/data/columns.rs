//! A session's columns as CSV: time, gaps, restarts, every field as it was sent, marks.
//!
//! | column | holds |
//! |---|---|
//! | `board_time_us`, `host_time_us` or `stated_time_us` | unwrapped time of the frame |
//! | `row` | in its place where nothing tells the time: the number of the frame, the first is 1 |
//! | `lost_before_frames` | frames missing before this one; empty when none are |
//! | `restart` | 1 where the board started again before this frame |
//! | one a field | the field's name and unit, in the order of the line |
//! | `mark` | remarks set before this frame; those after the last frame stand in its row |
use std::io::{self, Write};

use super::csv::{Cells, CsvWriter};
use crate::session::{BLOCK_ROWS, Session, TimeSource, Tracks};
use crate::wire::{Base, ClockUnit, Role};

/// Writes all rows, a block at a time: memory does not grow with the session.
///
/// `go_on` is told the rows done so far; when it says false the writing ends early and gives
/// `Ok(false)`.
///
/// # Errors
/// What the writer reports; a part of the file may have been written.
pub fn write_columns(
    out: impl Write,
    session: &Session,
    tracks: &Tracks,
    go_on: &mut dyn FnMut(usize) -> bool,
) -> io::Result<bool> {
    let fields = fields(session);
    let mut writer = CsvWriter::new(out, &names(session, tracks, &fields))?;
    let gaps: Vec<(usize, u64)> = tracks.stream.gaps.clone();
    let resets: Vec<(usize, u64)> = tracks.stream.resets.iter().map(|&row| (row, 1)).collect();
    let rows = session.rows().min(tracks.rows());
    let marks = marks(session, rows);
    let mut first = 0;
    while first < rows {
        let end = rows.min(first + BLOCK_ROWS);
        let part = first..end;
        let columns: Vec<Vec<i32>> =
            (0..fields.len()).map(|field| session.column_part(field, part.clone())).collect();
        let (gaps, resets) = (part_of(&gaps, &part), part_of(&resets, &part));
        let marks = part_of(&marks, &part);
        let numbers: Vec<u64> = part.clone().map(|row| row as u64 + 1).collect();
        let mut cells = vec![
            Cells::Long(match tracks.time_source {
                TimeSource::Assumed => &numbers,
                _ => tracks.t_us.get(part.clone()).unwrap_or(&[]),
            }),
            Cells::At(&gaps),
            Cells::At(&resets),
        ];
        cells.extend(columns.iter().zip(&fields).map(|(column, signed)| match signed {
            Digits::Signed => Cells::Signed(column),
            Digits::Unsigned => Cells::Unsigned(column),
        }));
        cells.push(Cells::Text(&marks));
        writer.rows(part.len(), &cells)?;
        first = end;
        if !go_on(first) {
            return Ok(false);
        }
    }
    writer.finish()?;
    Ok(true)
}

/// How the 32 bits of a field are written.
#[derive(Clone, Copy)]
enum Digits {
    Signed,
    Unsigned,
}

fn fields(session: &Session) -> Vec<Digits> {
    session
        .roles()
        .iter()
        .enumerate()
        .map(|(field, role)| match role {
            Role::Axis(_) | Role::OutAxis(_) | Role::Temperature | Role::Vcc => Digits::Signed,
            Role::Ignore if session.base_of(field) == Base::Decimal => Digits::Signed,
            _ => Digits::Unsigned,
        })
        .collect()
}

fn names(session: &Session, tracks: &Tracks, fields: &[Digits]) -> Vec<String> {
    let time = match tracks.time_source {
        TimeSource::Board => "board_time_us",
        TimeSource::Host => "host_time_us",
        TimeSource::Stated => "stated_time_us",
        TimeSource::Assumed => "row",
    };
    let mut names = vec![time.to_owned(), "lost_before_frames".to_owned(), "restart".to_owned()];
    let dialect = session.dialect();
    let clock = dialect.map_or(ClockUnit::Micros, |d| d.clock);
    for field in 0..fields.len() {
        let name = dialect.and_then(|d| d.fields.get(field)).map_or("", |f| f.name.as_str());
        let role = session.roles().get(field).copied().unwrap_or(Role::Ignore);
        names.push(with_unit(name, unit(role, clock)));
    }
    names.push("mark".to_owned());
    names
}

/// The unit of a role's cells as it stands in a heading; empty where there is none.
fn unit(role: Role, clock: ClockUnit) -> &'static str {
    match role {
        Role::Axis(_) => "counts",
        Role::Vcc => "mv",
        Role::Buttons | Role::MoreButtons(_) | Role::OutButtons => "mask",
        Role::Clock | Role::RemoteAge(_) => match clock {
            ClockUnit::Micros => "us",
            ClockUnit::Millis => "ms",
        },
        _ => "",
    }
}

/// `lx` and counts give `lx_counts`; a name that ends in its unit stays as it is.
fn with_unit(name: &str, unit: &str) -> String {
    let has = name.rsplit('_').next().is_some_and(|last| last.eq_ignore_ascii_case(unit));
    if unit.is_empty() || has { name.to_owned() } else { format!("{name}_{unit}") }
}

/// Remarks by row; those of one row are joined.
fn marks(session: &Session, rows: usize) -> Vec<(usize, String)> {
    let last = rows.saturating_sub(1);
    let mut marks: Vec<(usize, String)> = session
        .marks()
        .iter()
        .map(|mark| (session.row_of(mark).min(last), mark.to_string().trim().to_owned()))
        .collect();
    marks.sort_by_key(|mark| mark.0);
    marks.dedup_by(|later, earlier| {
        let same = later.0 == earlier.0;
        if same {
            earlier.1.push_str("; ");
            earlier.1.push_str(&later.1);
        }
        same
    });
    marks
}

/// The entries of a sparse column that fall into the rows, counted from the first of them.
fn part_of<T: Clone>(sparse: &[(usize, T)], rows: &std::ops::Range<usize>) -> Vec<(usize, T)> {
    let from = sparse.partition_point(|entry| entry.0 < rows.start);
    let to = sparse.partition_point(|entry| entry.0 < rows.end);
    let inside = sparse.get(from..to).unwrap_or(&[]);
    inside.iter().map(|(row, value)| (row - rows.start, value.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{HostUs, Mark};
    use crate::session::{About, Intake, StreamLedger};

    /// A session of `rows` lines under a heading, framed as the board would send it.
    fn session(rows: usize) -> Session {
        let mut text = String::from("seq,t_us,lx,ly,buttons\n");
        for row in 0..rows {
            let lx = 500 + row as i64 % 7;
            text.push_str(&format!("{row},{},{lx},511,{:04X}\n", row * 4000, row % 3));
        }
        let mut intake = Intake::untimed(None);
        intake.push(0, text.as_bytes());
        intake.finish();
        let mut session = Session::new(About::default());
        session.append(&intake.take());
        session
    }

    fn tracks(rows: usize) -> Tracks {
        Tracks {
            t_us: (0..rows as u64).map(|row| row * 4000).collect(),
            time_source: TimeSource::Board,
            period_us: 4000.0,
            axes: [const { None }; 6],
            buttons: None,
            button_count: 0,
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
            raw_bits_guessed: true,
            codes: Default::default(),
            roles_by_order: false,
            columns: Vec::new(),
            marks: Vec::new(),
            stream: StreamLedger {
                gaps: vec![(2, 5), (BLOCK_ROWS + 1, 9)],
                resets: vec![BLOCK_ROWS + 2],
                ..StreamLedger::default()
            },
        }
    }

    fn written(session: &Session, tracks: &Tracks) -> String {
        let mut out = Vec::new();
        let whole = write_columns(&mut out, session, tracks, &mut |_| true);
        assert!(whole.expect("a vector takes all"));
        String::from_utf8(out).expect("UTF-8")
    }

    #[test]
    fn each_field_has_its_unit_and_gaps_cross_blocks() {
        let rows = BLOCK_ROWS + 4;
        let mut session = session(rows);
        session.mark(Mark::new("rest", "").set_at(HostUs(0)));
        session.mark(Mark::new("note", "=1+1, \"x\"").set_at(HostUs(0)));
        assert_eq!(session.rows(), rows, "the log is framed");
        let text = written(&session, &tracks(rows));
        let lines: Vec<&str> = text.split("\r\n").collect();
        assert_eq!(
            lines[0],
            "board_time_us,lost_before_frames,restart,seq,t_us,lx_counts,ly_counts,buttons_mask,\
             mark"
        );
        assert_eq!(lines.len(), rows + 2, "head, rows, the last line's end");
        assert!(lines[1].starts_with("0,,,0,0,500,511,0"), "{}", lines[1]);
        assert!(lines[3].starts_with("8000,5,,2,8000,502,511,2"), "{}", lines[3]);
        let after = &lines[BLOCK_ROWS + 2..BLOCK_ROWS + 4];
        assert!(after[0].contains(",9,,65537,"), "{}", after[0]);
        assert!(after[1].contains(",,1,65538,"), "{}", after[1]);
    }

    #[test]
    fn without_a_time_rows_are_numbered() {
        let untimed = Tracks { time_source: TimeSource::Assumed, ..tracks(3) };
        let text = written(&session(3), &untimed);
        let lines: Vec<&str> = text.split("\r\n").collect();
        assert!(lines[0].starts_with("row,lost_before_frames,"), "{}", lines[0]);
        assert!(lines[1].starts_with("1,,") && lines[3].starts_with("3,5,"), "{text}");
    }

    #[test]
    fn marks_of_one_row_are_joined_and_quoted() {
        let mut session = session(3);
        session.mark(Mark::new("rest", "").set_at(HostUs(0)));
        session.mark(Mark::new("note", "a, \"b\"").set_at(HostUs(0)));
        // Without host times a mark stands where it was set: after the last row.
        let text = written(&session, &tracks(3));
        let lines: Vec<&str> = text.split("\r\n").collect();
        assert!(lines[1].ends_with(','), "{}", lines[1]);
        assert!(lines[3].ends_with(",\"rest; note a, \"\"b\"\"\""), "{}", lines[3]);
    }

    #[test]
    fn the_writing_can_be_stopped_between_blocks() {
        let rows = BLOCK_ROWS + 4;
        let mut asked = Vec::new();
        let ended = write_columns(io::sink(), &session(rows), &tracks(rows), &mut |done| {
            asked.push(done);
            false
        });
        assert!(!ended.expect("a sink takes all"));
        assert_eq!(asked, [BLOCK_ROWS]);
    }
}
