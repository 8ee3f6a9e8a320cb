//! From a session's fields to tracks by role.
use std::ops::Range;

use crate::rig::{AxisId, Half, Mark, Rig};
use crate::wire::clock::Turn;
use crate::wire::mask::Evidence;
use crate::wire::{Base, Grammar, Role, Why, at_half_rate, clock, sequence, unprintable};

use super::block::Block;
use super::edges::Frame;
use super::ledger::{Columns, Followed, follow};
use super::{
    Codes, Drive, DriveTrack, Session, StreamLedger, TimeSource, TrackUs, Tracks, Unreadable,
    clock_ratio,
};

/// Interval at which the rows of a log without any time are set, µs; no figure is made of it.
pub const ASSUMED_PERIOD_US: f64 = 4_000.0;
/// Widths of raw readings that are guessed, bits.
const WIDTHS: [u8; 5] = [8, 10, 12, 14, 16];

/// Rows at which a column changes to what it then keeps for three rows, with the value; the first row
/// among them. A damaged cell is no change.
fn changes(cells: &[i32]) -> Vec<(usize, i32)> {
    let mut found: Vec<(usize, i32)> = Vec::new();
    for (row, cell) in cells.iter().enumerate() {
        let kept = cells[row..].iter().take(3).all(|c| c == cell);
        if kept && found.last().is_none_or(|(_, last)| last != cell) {
            found.push((row, *cell));
        }
    }
    found
}

/// A field that carries buttons: the bits of it that count, and the button of the lowest.
struct ButtonPart {
    field: usize,
    first: u8,
    kept: u32,
}

impl Session {
    /// The whole session by role, with unwrapped time and the account of completeness.
    pub fn tracks(&self, rig: &Rig) -> Tracks {
        let columns = self.columns_read();
        Tracks { columns, ..self.tracks_of(0..self.rows(), rig) }
    }

    /// The same of `rows` alone: cost proportional to their number, whatever the session holds.
    ///
    /// Raw width, button polarity and the counts of refused lines are those of the whole session.
    pub fn tracks_of(&self, rows: Range<usize>, rig: &Rig) -> Tracks {
        let rows = rows.start.min(self.rows())..rows.end.min(self.rows());
        let column = |role| self.field_of(role).map(|f| self.column_part(f, rows.clone()));
        let seq = column(Role::Seq);
        let board = column(Role::Clock);
        let host_us = self.host_part(rows.clone());
        let (breaks, away) = self.breaks_in(&rows);
        let unit_us = clock::unit_us(self.dialect().map(|d| d.clock).unwrap_or_default());
        let followed = follow(&Columns {
            seq: seq.as_deref(),
            seq_bits: self.seq_bits(seq.as_deref()),
            clock: board.as_deref(),
            turn: self.clock_turn(board.as_deref()),
            unit_us,
            host_us: &host_us,
            breaks: &breaks,
            away: &away,
            rows: rows.len(),
        });
        let (buttons, button_count, buttons_active_low, unwired) = self.buttons(rows.clone(), rig);
        let clock = board.as_deref().filter(|_| unit_us == 1).unwrap_or(&[]);
        let frame = Frame::new(&rows, &followed.t_us, clock, (button_count, buttons_active_low));
        let edges = self.edge_log(&frame);
        drop((seq, board));
        let fine_us = if unit_us > 1 { followed.period * unit_us as f64 } else { 0.0 };
        let (t_us, time_source, stream, host_us) =
            self.timeline(followed, host_us, rows.len(), rig);
        let period_us = if fine_us > 0.0 { fine_us } else { typical_us(&t_us, time_source) };
        let axes = AxisId::ALL.map(|axis| column(Role::Axis(axis)));
        let age = |half| {
            let scaled = |v: &i32| (*v as u32).saturating_mul(unit_us as u32);
            column(Role::RemoteAge(half)).map(|c| c.iter().map(scaled).collect())
        };
        let count = |half| {
            column(Role::RemoteSeq(half)).map(|c| c.iter().map(|v| *v as u32).collect::<Vec<u32>>())
        };
        Tracks {
            marks: self.marks_in(&rows, &t_us),
            t_us,
            time_source,
            period_us,
            axes,
            buttons,
            button_count,
            unwired,
            buttons_active_low,
            edges,
            remote_age_us: Half::ALL.map(age),
            remote_seq: Half::ALL.map(count),
            host_us,
            drives: self.drives(&rows),
            supply_mv: column(Role::Vcc),
            reset_causes: column(Role::ResetCause).map_or(Vec::new(), |c| changes(&c)),
            scan_order: self.scan_order(),
            raw_bits: rig.raw_bits.unwrap_or_else(|| self.raw_bits_guess()),
            raw_bits_guessed: rig.raw_bits.is_none(),
            codes: self.codes(),
            roles_by_order: self.roles_by_order(),
            columns: Vec::new(),
            stream,
        }
    }

    fn timeline(
        &self,
        followed: Followed,
        host_us: Vec<u64>,
        rows: usize,
        rig: &Rig,
    ) -> (Vec<u64>, TimeSource, StreamLedger, Option<Vec<u64>>) {
        let clock_ppm = ratio(&followed, &host_us);
        let stream = StreamLedger {
            lost: followed.lost,
            malformed: self.refusals().malformed(),
            foreign: self.refusals().count(Why::Foreign),
            lines: self.refusals().lines(),
            other_form: self.refusals().other_form().cloned(),
            second: self.second(),
            second_more: self.second_more().to_vec(),
            unreadable: self.unreadable(),
            duplicated: followed.duplicated,
            resets: followed.resets,
            gaps: followed.gaps,
            away: followed.away,
            file_gaps: followed.file_gaps,
            clock_ppm,
        };
        if !followed.t_us.is_empty() {
            let host_us = (host_us.len() == rows).then_some(host_us);
            (followed.t_us, TimeSource::Board, stream, host_us)
        } else if host_us.len() == rows && rows > 0 {
            let mut latest = 0;
            let rising = host_us.into_iter().map(|t| {
                latest = t.max(latest);
                latest
            });
            (rising.collect(), TimeSource::Host, stream, None)
        } else {
            let (period_us, source) = match self.stated_us(rig) {
                Some(us) => (us, TimeSource::Stated),
                None => (ASSUMED_PERIOD_US, TimeSource::Assumed),
            };
            let times = (0..rows).map(|row| (row as f64 * period_us) as u64);
            (times.collect(), source, stream, None)
        }
    }

    /// Interval of the rows as parts list or dialect state it, µs; `None` where neither does.
    fn stated_us(&self, rig: &Rig) -> Option<f64> {
        let by_dialect = self.dialect().and_then(|d| d.line_us).map(f64::from);
        let by_rig = rig.deployed_rate_hz.filter(|hz| hz.is_finite() && *hz > 0.0);
        by_rig.map(|hz| 1e6 / hz).or(by_dialect.filter(|us| *us > 0.0))
    }

    /// The interval at which rows are set where no clock of any kind tells the time, µs.
    pub fn set_at_us(&self, rig: &Rig) -> f64 {
        self.stated_us(rig).unwrap_or(ASSUMED_PERIOD_US)
    }

    /// µs of the time axis that a row takes because nothing tells the time, so that they mean nothing;
    /// `None` where a clock, the arrival of the lines or a stated rate does, and without rows.
    pub fn row_us(&self, rig: &Rig) -> Option<f64> {
        let told = self.tells_time() || self.rows() == 0 || self.stated_us(rig).is_some();
        (!told).then_some(ASSUMED_PERIOD_US)
    }

    /// How many bytes of the refused lines are no text, where nothing at all was framed.
    fn unreadable(&self) -> Option<Unreadable> {
        let packed = self.dialect().is_some_and(|d| d.grammar == Grammar::Packed);
        if self.rows() > 0 || packed {
            return None;
        }
        let bytes = || self.refusals().kept().flat_map(|refusal| refusal.bytes.iter());
        let all: Vec<u8> = bytes().copied().collect();
        (!all.is_empty()).then(|| Unreadable {
            odd: unprintable(&all) as u64,
            halved: at_half_rate(&all) as u64,
            all: all.len() as u64,
        })
    }

    /// Duties and levels, where the dialect has them.
    fn drives(&self, rows: &Range<usize>) -> Vec<DriveTrack> {
        let motors = (0..=u8::MAX).map(|n| (Role::Duty(n), Drive::Motor(n)));
        let lights = (0..=u8::MAX).map(|n| (Role::Light(n), Drive::Light(n)));
        motors
            .chain(lights)
            .filter_map(|(role, drive)| {
                let level = self.column_part(self.field_of(role)?, rows.clone());
                Some(DriveTrack { drive, level })
            })
            .collect()
    }

    /// The axes by the place of their fields.
    fn scan_order(&self) -> Vec<AxisId> {
        let places =
            AxisId::ALL.iter().filter_map(|&axis| Some((self.field_of(Role::Axis(axis))?, axis)));
        let mut places: Vec<(usize, AxisId)> = places.collect();
        places.sort_unstable_by_key(|(field, _)| *field);
        places.into_iter().map(|(_, axis)| axis).collect()
    }

    fn marks_in(&self, rows: &Range<usize>, t_us: &[u64]) -> Vec<Mark<TrackUs>> {
        let mut marks: Vec<(usize, Mark<TrackUs>)> = Vec::new();
        for mark in self.marks() {
            let row = self.row_of(mark);
            // A mark behind the last row belongs to a range that reaches the end.
            let inside = rows.contains(&row) || row == rows.end && rows.end == self.rows();
            let Some(t_us) = t_us.get(row - rows.start.min(row)).or(t_us.last()).filter(|_| inside)
            else {
                continue;
            };
            marks.push((row, mark.clone().set_at(TrackUs(*t_us))));
        }
        marks.sort_by_key(|(row, _)| *row);
        marks.into_iter().map(|(_, mark)| mark).collect()
    }

    /// Rows of a part, counted from its first, before which the record is broken, with what is left out; and
    /// before which the link had been away.
    fn breaks_in(&self, rows: &Range<usize>) -> (Vec<(usize, u64)>, Vec<usize>) {
        let last = rows.end == self.rows();
        let within = |row: &usize| rows.contains(row) || last && *row == rows.end;
        let all = self.breaks().iter().filter(|(row, _)| within(row));
        let breaks = all.map(|(row, left)| (row - rows.start, *left)).collect();
        (breaks, inside(&self.returns(), rows))
    }

    /// Width of the counter: as the dialect says, else as it runs.
    fn seq_bits(&self, seq: Option<&[i32]>) -> u8 {
        let said = self.dialect().and_then(|d| d.seq_bits);
        said.or(seq.map(sequence::width_of)).unwrap_or(16)
    }

    /// Where the clock begins anew: as the dialect says, else as its values show.
    fn clock_turn(&self, clock: Option<&[i32]>) -> Turn {
        let Some(dialect) = self.dialect() else { return Turn::default() };
        match (Turn::of(dialect), clock) {
            (Turn::Bits(_), Some(clock)) if dialect.clock_bits.is_none() => clock::turn_of(clock),
            (turn, _) => turn,
        }
    }

    /// The fields that carry buttons: one mask and what goes on behind it, or one field a button.
    fn button_parts(&self) -> Vec<ButtonPart> {
        let mut starts: Vec<(usize, u8)> =
            (0..32_u8).filter_map(|n| Some((self.field_of(Role::MoreButtons(n))?, n))).collect();
        match self.field_of(Role::Buttons) {
            Some(field) => starts.insert(0, (field, 0)),
            None => {
                let one = |n| Some((self.field_of(Role::Button(n))?, n));
                let part = |(field, first)| ButtonPart { field, first, kept: 1 };
                return (0..32_u8).filter_map(one).map(part).collect();
            }
        }
        let ends = starts.iter().skip(1).map(|s| s.1).chain([32]).collect::<Vec<u8>>();
        let part = |((field, first), end): ((usize, u8), u8)| {
            let width = u32::from(end.saturating_sub(first));
            let kept = if width >= 32 { u32::MAX } else { (1 << width) - 1 };
            ButtonPart { field, first, kept }
        };
        starts.into_iter().zip(ends).map(part).collect()
    }

    /// Pressed buttons as bits, their number, whether a pressed one reads 0, and which of them no
    /// field brings.
    fn buttons(&self, rows: Range<usize>, rig: &Rig) -> (Option<Vec<u32>>, usize, bool, u32) {
        let mut parts = self.button_parts();
        if parts.is_empty() {
            return (None, 0, false, 0);
        }
        let singles = parts.iter().all(|part| part.kept == 1);
        if singles && parts.len() == rig.buttons.len() {
            // The parts list counts them: columns that are numbered from 1 are its first and on.
            parts.iter_mut().zip(0..).for_each(|(part, n)| part.first = n);
        }
        let (mut ever, mut mostly, mut used) = (0, 0, 0);
        for part in &parts {
            let settled = self.settled(part.field);
            let levels = |e: &Evidence| e.levels(|v| settled(v) & part.kept);
            let (e, m) = self.evidence(part.field).map_or((0, 0), levels);
            (ever, mostly) = (ever | e << part.first, mostly | m << part.first);
            used |= if part.kept == 1 { 1 << part.first } else { 0 };
        }
        let declared = if rig.buttons.len() <= 32 { rig.buttons.len() } else { 32 };
        let seen = 32 - (ever | used).leading_zeros() as usize;
        let count = if declared > 0 { declared } else { seen };
        let all = if count >= 32 { u32::MAX } else { (1 << count) - 1 };
        // What idles high is active-low, unless it is a line or two that hang high.
        let low =
            rig.buttons_active_low.unwrap_or((mostly & all).count_ones() as usize * 2 > count);
        let brought = parts.iter().fold(0, |all, part| all | part.kept << part.first);
        let flip = if low { all & brought } else { 0 };
        let mut mask = vec![flip; rows.len()];
        for part in &parts {
            let cells = self.column_part(part.field, rows.clone());
            let bit = |v: &i32| (*v as u32 & part.kept) << part.first & all;
            mask.iter_mut().zip(&cells).for_each(|(m, v)| *m ^= bit(v));
        }
        (Some(mask), count, low, all & !brought)
    }

    /// What the codes of the axes are. A sample in 10 000 below zero may be line damage.
    fn codes(&self) -> Codes {
        let fields: Vec<usize> =
            AxisId::ALL.iter().filter_map(|a| self.field_of(Role::Axis(*a))).collect();
        let base = |field: &usize| self.dialect().and_then(|d| Some(d.fields.get(*field)?.base));
        let share = |field: &&usize| {
            let name = self.dialect().and_then(|d| d.fields.get(**field)).map(|f| f.name.as_str());
            name.is_some_and(|name| {
                name.contains('%') || name.to_ascii_lowercase().ends_with("percent")
            })
        };
        let shares = fields.iter().filter(share).count();
        if 2 * shares > fields.len() || fields.iter().filter_map(base).any(Base::is_decimal) {
            return Codes::Decimal;
        }
        let below = |block: &Block, field: usize| match block.min_max(field, 0..block.rows()) {
            Some((0.., _)) | None => 0,
            Some(_) => block.column(field).iter().filter(|code| **code < 0).count(),
        };
        let signed = fields.iter().any(|&field| {
            let found: usize = self.blocks().iter().map(|block| below(block, field)).sum();
            found > self.rows() / 10_000
        });
        if signed { Codes::Signed } else { Codes::Raw }
    }

    /// The smallest usual width that holds every sample of every axis.
    ///
    /// A digit too many is line damage: up to one sample in 10 000 may stand above the width.
    fn raw_bits_guess(&self) -> u8 {
        let fields: Vec<usize> =
            AxisId::ALL.iter().filter_map(|a| self.field_of(Role::Axis(*a))).collect();
        let allowed = self.rows() / 10_000;
        let holds = |bits: u8| {
            let most = (1_i32 << bits) - 1;
            fields.iter().all(|field| self.above(*field, most, allowed) <= allowed)
        };
        WIDTHS.into_iter().find(|bits| holds(*bits)).unwrap_or(16)
    }

    /// Samples of a field beyond ±`most`, counted until they are more than `enough`.
    fn above(&self, field: usize, most: i32, enough: usize) -> usize {
        let mut found = 0;
        for block in self.blocks() {
            let inside = block
                .min_max(field, 0..block.rows())
                .is_none_or(|(low, high)| low >= -most && high <= most);
            if !inside {
                let column = block.column(field);
                found += column.iter().filter(|c| **c > most || **c < -most).count();
            }
            if found > enough {
                return found;
            }
        }
        found
    }
}

/// Those of `places` that lie in a part, counted from its first row.
fn inside(places: &[usize], rows: &Range<usize>) -> Vec<usize> {
    places.iter().filter(|row| rows.contains(row)).map(|row| row - rows.start).collect()
}

/// The clock ratio over the longest run without a restart or an absence.
fn ratio(followed: &Followed, host_us: &[u64]) -> Option<f64> {
    if followed.t_us.len() != host_us.len() {
        return None;
    }
    let mut cuts = [&followed.resets[..], &followed.away[..]].concat();
    cuts.sort_unstable();
    let starts = [0].into_iter().chain(cuts.iter().copied());
    let ends = cuts.iter().copied().chain([host_us.len()]);
    let longest = starts.zip(ends).max_by_key(|(start, end)| end.saturating_sub(*start))?;
    let run = longest.0..longest.1;
    clock_ratio::ppm(followed.t_us.get(run.clone())?, host_us.get(run)?)
}

/// Median interval; the mean one for host times, of which the frames of one read share one.
fn typical_us(t_us: &[u64], source: TimeSource) -> f64 {
    let (Some(first), Some(last)) = (t_us.first(), t_us.last()) else { return 0.0 };
    if t_us.len() < 2 {
        return 0.0;
    }
    if source != TimeSource::Board {
        return (last - first) as f64 / (t_us.len() - 1) as f64;
    }
    let clipped = |w: &[u64]| u32::try_from(w[1] - w[0]).unwrap_or(u32::MAX);
    let mut steps: Vec<u32> = t_us.windows(2).map(clipped).collect();
    let middle = steps.len() / 2;
    f64::from(*steps.select_nth_unstable(middle).1)
}
