//! Rests, releases, rolls, pulls and presses as row ranges with reasons.
//!
//! Takes the columns of a session and says which rows show what: hands off, a stick let go and
//! settled, a turn along the rim, a pull, a press. What looked like one and was not used is kept
//! with its reason. Works the same with the marks of a guided run (the prompts fence each kind in)
//! and on a plain log (everything is found by itself, in any order). Nothing ever reaches across a
//! gap in time or a restart of the board. Integer passes over blocks of five rows or more, O(rows).
mod blocks;
mod levels;
mod presses;
mod pulls;
mod releases;
mod rests;
pub mod roll_call;
mod rolls;
mod settle;
mod stick;
mod windows;

pub use levels::{AxisLevel, Levels};

use crate::measure::contact::ContactLog;
use crate::rig::{AxisId, Half};
use crate::session::Tracks;

/// A stretch of rows: `first` is in it, `end` is not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Rows {
    /// First row.
    pub first: usize,
    /// One past the last row.
    pub end: usize,
}

impl Rows {
    /// Number of rows.
    pub fn len(self) -> usize {
        self.end.saturating_sub(self.first)
    }

    /// True when there is no row in it.
    pub fn is_empty(self) -> bool {
        self.end <= self.first
    }

    /// True when the row is in it.
    pub fn contains(self, row: usize) -> bool {
        (self.first..self.end).contains(&row)
    }

    /// The part of a column that it names; empty when it reaches past the column.
    pub fn of<T>(self, column: &[T]) -> &[T] {
        column.get(self.first..self.end).unwrap_or(&[])
    }
}

/// A quiet rest: hands off, every axis still at its rest level, no button down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rest {
    /// Where.
    pub rows: Rows,
}

/// A stick pushed outward, let go and settled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Release {
    /// Which stick.
    pub half: Half,
    /// Where it was held outward, to the let-go.
    pub push: Rows,
    /// Last row at the pushed place.
    pub let_go: usize,
    /// Direction of the push, degrees, counter-clockwise, 0 = +x raw; each side scaled by its reach.
    pub direction_deg: f64,
    /// Direction asked for by the prompt, degrees as the person sees it: 0 = right, 90 = away.
    pub prompted_deg: Option<f64>,
    /// Last row with motion.
    pub still_from: usize,
    /// The settled rows: from 300 ms after the last motion, 0.4–0.5 s long; where the next push came
    /// sooner, what lies between 40 ms after the stick stood still and that push, 120 ms or more.
    pub settled: Rows,
}

/// Sense of a turn as the raw readings run (x to the right, y up); one inverted axis reverses it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Turning {
    /// With the hands of a clock.
    Clockwise,
    /// Against the hands of a clock: the angle grows.
    Counterclockwise,
}

/// Turns along the rim without a pause or a reversal.
#[derive(Clone, Debug, PartialEq)]
pub struct Roll {
    /// Which stick.
    pub half: Half,
    /// Which way.
    pub turning: Turning,
    /// The whole sweep, part turns included.
    pub rows: Rows,
    /// Each whole turn in it, in order.
    pub turns: Vec<Rows>,
}

/// How quickly a trigger was moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pace {
    /// At least [`SLOW_PULL_US`] from rest to full.
    Slow,
    /// Quicker than that.
    Fast,
}

/// A pull is slow from this long on, µs.
pub const SLOW_PULL_US: u64 = 500_000;

/// One pull of a trigger from rest to full and back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pull {
    /// Which trigger.
    pub half: Half,
    /// By the time from rest to full.
    pub pace: Pace,
    /// From rest to full, with some 40 ms of the stillness at either end.
    pub up: Rows,
    /// At full.
    pub hold: Rows,
    /// From full to rest, likewise.
    pub down: Rows,
    /// Settled after it: from 200 ms after the last motion, 0.15–0.5 s long; `None` when the next
    /// motion came too soon.
    pub settled: Option<Rows>,
}

/// One press of a button: bounce included, from its first closing to its last opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Press {
    /// From the first closed row to one past the last closed row.
    pub rows: Rows,
}

/// What a button's line did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ButtonTrack {
    /// Bit number.
    pub index: u8,
    /// Its changes as episodes, one-row line damage left out.
    pub log: ContactLog,
    /// The same by the firmware's own log of changes, where it kept one and saw this button.
    pub timed: Option<ContactLog>,
    /// The presses, those cut by a gap or by the ends of the log left out.
    pub presses: Vec<Press>,
}

/// What a stretch looked like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Hands off.
    Rest,
    /// A push that was let go.
    Release,
    /// A sweep along the rim.
    Roll,
    /// A pull.
    Pull,
    /// A closed contact.
    Press,
}

/// Why a stretch was not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reason {
    /// The stick or trigger kept creeping: a thumb or finger still touches it.
    Creep,
    /// Not still long enough before the next motion.
    TooShort,
    /// A burst on the sticks at once: the table was bumped.
    Bump,
    /// Did not come back to the neighbourhood of its rest.
    NotHome,
    /// Still moving long after the let-go.
    KeptMoving,
    /// Swept round before the let-go, so that there is no direction of push.
    Swept,
    /// Less than a whole turn.
    PartTurn,
    /// Did not go all the way.
    PartPull,
    /// A gap, a stall or a restart of the board inside.
    Cut,
    /// One row only: line damage more often than a contact.
    Blip,
    /// Done while another step was asked for, or in an attempt that was made again.
    OffPrompt,
}

impl Reason {
    /// In words, to stand after "not used: ".
    pub fn words(self) -> &'static str {
        match self {
            Reason::Creep => "a finger still touched it",
            Reason::TooShort => "too short",
            Reason::Bump => "the table was bumped",
            Reason::NotHome => "it did not come back to its rest",
            Reason::KeptMoving => "it kept moving",
            Reason::Swept => "it swept round before the let-go",
            Reason::PartTurn => "less than a whole turn",
            Reason::PartPull => "not pulled all the way",
            Reason::Cut => "a gap or a restart of the board cut it",
            Reason::Blip => "a single row, more likely line damage",
            Reason::OffPrompt => "another step was asked for",
        }
    }
}

/// Which part a rejected stretch belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Part {
    /// The whole controller.
    Whole,
    /// One stick.
    Stick(Half),
    /// One trigger.
    Trigger(Half),
    /// One button.
    Button(u8),
}

/// A stretch that looked like something and was not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rejected {
    /// What it looked like.
    pub kind: Kind,
    /// Of which part.
    pub part: Part,
    /// Where.
    pub rows: Rows,
    /// Why not.
    pub why: Reason,
}

/// Everything that was found, each list in time order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Segments {
    /// Marks of a guided run fenced the kinds in.
    pub prompted: bool,
    /// Rest level, reach and noise of each axis as used for finding.
    pub levels: Levels,
    /// Quiet rests.
    pub rests: Vec<Rest>,
    /// Releases by half (left, right).
    pub releases: [Vec<Release>; 2],
    /// Rolls by half (left, right).
    pub rolls: [Vec<Roll>; 2],
    /// Pulls by half (left, right).
    pub pulls: [Vec<Pull>; 2],
    /// One entry a button.
    pub buttons: Vec<ButtonTrack>,
    /// What was not used, and why.
    pub rejected: Vec<Rejected>,
    /// Axes in motion in the newest rows (about the last 100 ms), in the order of [`AxisId::ALL`].
    pub moving_now: [bool; 6],
    /// Rows before which a measurement must end: first rows after gaps in time and restarts.
    pub breaks: Vec<usize>,
}

impl Segments {
    /// Releases of a stick.
    pub fn releases(&self, half: Half) -> &[Release] {
        &self.releases[half as usize]
    }

    /// Rolls of a stick.
    pub fn rolls(&self, half: Half) -> &[Roll] {
        &self.rolls[half as usize]
    }

    /// Whole turns of a stick with their sense, in time order.
    pub fn turns(&self, half: Half) -> impl Iterator<Item = (Turning, Rows)> + '_ {
        self.rolls(half).iter().flat_map(|roll| roll.turns.iter().map(|&t| (roll.turning, t)))
    }

    /// Pulls of a trigger.
    pub fn pulls(&self, half: Half) -> &[Pull] {
        &self.pulls[half as usize]
    }

    /// The longest quiet rest.
    pub fn longest_rest(&self) -> Option<Rest> {
        self.rests.iter().copied().max_by_key(|rest| rest.rows.len())
    }

    /// Rows of all quiet rests together.
    pub fn rest_rows(&self) -> usize {
        self.rests.iter().map(|rest| rest.rows.len()).sum()
    }
}

/// Finds everything in a session, whole or as far as it has come.
///
/// Domain: any columns; an absent or empty column gives empty lists. Cost: O(rows) integer passes,
/// some 8 bytes of working memory an axis and block of at least five rows.
pub fn find(tracks: &Tracks) -> Segments {
    find_knowing(tracks, None)
}

/// As [`find`], with levels known from earlier steps: the reaches are joined with those seen here,
/// and an earlier rest level stands in where nothing here is still.
pub fn find_knowing(tracks: &Tracks, known: Option<&Levels>) -> Segments {
    let blocks = blocks::Blocks::of(tracks);
    let (levels, moves) = Levels::of(tracks, &blocks, known);
    let fence = windows::Fence::of(tracks);
    let mut found = Segments { prompted: fence.prompted(), ..Segments::default() };
    presses::find(tracks, &blocks, &mut found);
    for half in Half::ALL {
        if let Some(path) = stick::Path::of(half, &blocks, &levels) {
            let trips = path.trips();
            rolls::find(&path, &trips, &fence, &mut found);
            releases::find(tracks, &path, &trips, &moves, &fence, &mut found);
        }
        pulls::find(tracks, half, (&blocks, &levels, &moves), &fence, &mut found);
    }
    rests::find(tracks, (&blocks, &levels, &moves), &fence, &mut found);
    for axis in AxisId::ALL {
        found.moving_now[axis.index()] = moves.last().is_some_and(|m| m & (1 << axis.index()) != 0);
    }
    found.rejected.sort_by_key(|r| (r.rows.first, r.rows.end));
    found.breaks = blocks.breaks().to_vec();
    found.levels = levels;
    found
}
