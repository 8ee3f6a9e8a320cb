//! A session's columns by role, whole and in time order: what `segment` and `measure` read.
use super::{ColumnRead, EdgeLog, LineCounts, OtherForm};
use crate::rig::{AxisId, Mark};

/// µs on the time axis of [`Tracks`]: unwrapped board time where the board has a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TrackUs(pub u64);

/// An output of the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Drive {
    /// Motor of that number, by its duty.
    Motor(u8),
    /// Light of that number, by its level.
    Light(u8),
}

impl Drive {
    /// Machine word: `motor0`, `light1`.
    pub fn key(self) -> String {
        match self {
            Drive::Motor(n) => format!("motor{n}"),
            Drive::Light(n) => format!("light{n}"),
        }
    }

    /// In words: "motor 0".
    pub fn words(self) -> String {
        match self {
            Drive::Motor(n) => format!("motor {n}"),
            Drive::Light(n) => format!("light {n}"),
        }
    }
}

/// The column of an output.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DriveTrack {
    /// Which.
    pub drive: Drive,
    /// Duty or level in each row, in the board's own unit; 0 = off.
    pub level: Vec<i32>,
}

/// Where a track's times come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeSource {
    /// The board's own clock, unwrapped.
    Board,
    /// The host's clock at the read; frames of one read share it.
    Host,
    /// No clock anywhere (a plain log), but somebody said how many frames come in a second.
    Stated,
    /// Nothing tells the time: rows stand at even distances, and no figure is made of them.
    Assumed,
}

impl TimeSource {
    /// Machine word: `board`, `arrival`, `stated`, `none`.
    pub fn key(self) -> &'static str {
        match self {
            TimeSource::Board => "board",
            TimeSource::Host => "arrival",
            TimeSource::Stated => "stated",
            TimeSource::Assumed => "none",
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            TimeSource::Board => "the board's clock",
            TimeSource::Host => "arrival at this computer",
            TimeSource::Stated => "a stated rate, not measured",
            TimeSource::Assumed => "nothing",
        }
    }
}

/// Bytes of a stream in which nothing was framed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unreadable {
    /// Bytes that no text has.
    pub odd: u64,
    /// Bytes of the form that digits leave at half of the board's rate.
    pub halved: u64,
    /// All of them.
    pub all: u64,
}

/// What the counter, the clock and the framer say about completeness.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StreamLedger {
    /// Frames that should have come and are not there: lost on the way, destroyed, or in damage of the
    /// recording; `None` without counter and clock.
    pub lost: Option<u64>,
    /// Lines in the dialect that were torn, damaged or failed their checksum.
    pub malformed: u64,
    /// Lines that were never meant as frames (banners, warnings).
    pub foreign: u64,
    /// Every line but the frames, by what it is.
    pub lines: LineCounts,
    /// Lines of another form among the frames: the commonest.
    pub other_form: Option<OtherForm>,
    /// Frames that came as lines of a second form and were read like the others.
    pub second: u64,
    /// What only those lines hold, and is not read.
    pub second_more: Vec<String>,
    /// Without a single frame: what the bytes of the refused lines at hand look like.
    pub unreadable: Option<Unreadable>,
    /// Frames with the counter and clock of the frame before.
    pub duplicated: u64,
    /// Rows before which the counter and the clock restarted.
    pub resets: Vec<usize>,
    /// Row before which frames are missing, and how many.
    pub gaps: Vec<(usize, u64)>,
    /// Rows before which the link had been away: nothing is known of what came between.
    pub away: Vec<usize>,
    /// Those of them that damage of the recording made.
    pub file_gaps: Vec<(usize, u64)>,
    /// Board clock against host clock, ppm, from the lower hull; `None` without either.
    pub clock_ppm: Option<f64>,
}

impl StreamLedger {
    /// Rows across which nothing is measured of the stream: restarts of the board, absences of the link.
    pub fn cuts(&self) -> Vec<usize> {
        let mut rows = [&self.resets[..], &self.away[..]].concat();
        rows.sort_unstable();
        rows
    }

    /// Frames that damage of the recording took.
    pub fn lost_in_file(&self) -> u64 {
        self.file_gaps.iter().map(|gap| gap.1).sum()
    }

    /// Frames that went missing before they were recorded; `None` where nothing tells.
    pub fn lost_on_the_way(&self) -> Option<u64> {
        Some(self.lost?.saturating_sub(self.lost_in_file()))
    }
}

/// The columns by role. Every column has `t_us.len()` rows.
#[derive(Clone, Debug)]
pub struct Tracks {
    /// Unwrapped time of each row, µs, never decreasing.
    pub t_us: Vec<u64>,
    /// Where those times come from.
    pub time_source: TimeSource,
    /// Median interval between frames, µs (0 with fewer than two rows).
    pub period_us: f64,
    /// Raw counts by axis, in the order of [`AxisId::ALL`].
    pub axes: [Option<Vec<i32>>; 6],
    /// Bit k set = button k pressed (polarity already applied); `None` when no buttons are sent.
    pub buttons: Option<Vec<u32>>,
    /// Number of buttons (0–32).
    pub button_count: usize,
    /// Bit k set = no field brings button k: the board counts its buttons from 1, say.
    pub unwired: u32,
    /// Button lines that never left their idle level are bits here: idle level high.
    pub buttons_active_low: bool,
    /// Changes of the buttons by the firmware's own log, between the rows.
    pub edges: EdgeLog,
    /// Age of the second half's data in µs by half (left, right), where sent.
    pub remote_age_us: [Option<Vec<u32>>; 2],
    /// Counter of the second half by half (left, right), where sent.
    pub remote_seq: [Option<Vec<u32>>; 2],
    /// Host time of the read that brought each row, µs, where the board's own clock gives `t_us`.
    pub host_us: Option<Vec<u64>>,
    /// What the board drove while it read: duties of motors, levels of lights, where sent.
    pub drives: Vec<DriveTrack>,
    /// Supply that the board measured, mV, where sent.
    pub supply_mv: Option<Vec<i32>>,
    /// Why the board last started, in the firmware's code, at rows where that changes: bits 1 power-on,
    /// 2 external, 4 brown-out, 8 watchdog (the register of small 8-bit controllers).
    pub reset_causes: Vec<(usize, i32)>,
    /// The axes in the order in which the board prints them, which is taken for that of the scan.
    pub scan_order: Vec<AxisId>,
    /// Raw width in bits: the rig's, or the guess of the smallest that holds every sample.
    pub raw_bits: u8,
    /// True when `raw_bits` is a guess.
    pub raw_bits_guessed: bool,
    /// What the axes' codes are.
    pub codes: Codes,
    /// Nobody declared what the columns mean: their roles go by their order.
    pub roles_by_order: bool,
    /// Every column as it was read; empty for a part of a session.
    pub columns: Vec<ColumnRead>,
    /// Marks in time order, each at the time of the next frame.
    pub marks: Vec<Mark<TrackUs>>,
    /// Completeness of the stream.
    pub stream: StreamLedger,
}

/// What the codes of the axes are, and so whether the converter's ends are known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Codes {
    /// As a converter gives them: 0 to 2^bits − 1.
    #[default]
    Raw,
    /// Some lie below zero: the board took a centre away or scaled them.
    Signed,
    /// Printed with a decimal point, in volts or shares: the steps are those of the print.
    Decimal,
}

impl Tracks {
    /// The converter's lowest and highest code; `None` where the board prints something else.
    pub fn rails(&self) -> Option<[i32; 2]> {
        (self.codes == Codes::Raw).then(|| [0, self.full_scale()])
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.t_us.len()
    }

    /// The column of an axis.
    pub fn axis(&self, axis: AxisId) -> Option<&[i32]> {
        self.axes[axis.index()].as_deref()
    }

    /// Greatest raw code: 2^bits − 1.
    pub fn full_scale(&self) -> i32 {
        (1 << self.raw_bits) - 1
    }

    /// Frames a second by the median interval; `None` with fewer than two rows.
    pub fn rate_hz(&self) -> Option<f64> {
        (self.period_us > 0.0).then(|| 1e6 / self.period_us)
    }
}
