//! The words of the command line, as typed.
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::link::serial::ControlLine;

/// The bench for a self-built game controller: without a verb it opens the window.
///
/// A file that is called like a verb is named with its folder: `./solve`.
#[derive(Debug, Parser)]
#[command(name = "trimbench", version, disable_help_subcommand = true)]
pub struct Words {
    /// What to do; nothing = the window, on the virtual board or on the files that are named
    #[command(subcommand)]
    pub verb: Option<Verb>,
    /// Files for the window, as if dropped onto it: one session or text log, a parts list
    /// (`.ron`), constants (`.trim.ron`)
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// When the window drew each frame, for whoever measures it
    #[arg(long, value_name = "FILE", hide = true)]
    pub frame_log: Option<PathBuf>,
    /// No progress, notes or summaries; errors and what is asked for still come
    #[arg(long, global = true)]
    pub quiet: bool,
}

/// What the window is to begin with.
#[derive(Debug, Default)]
pub struct WindowWords {
    /// Files to open; empty = the virtual board.
    pub files: Vec<PathBuf>,
    /// Where to write when each frame was drawn.
    pub frame_log: Option<PathBuf>,
    /// Say nothing but errors where there is no window.
    pub quiet: bool,
}

/// One verb of the command line.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// List the serial ports, one a line: path, kind, ids, socket
    Ports,
    /// Record a board's output without a window; Ctrl-C ends it cleanly, the signal USR1 hands the
    /// port over to another program until the board is back
    Capture(CaptureWords),
    /// Measure a session or a plain log, find faults, compute constants
    Solve(SolveWords),
    /// Judge a fresh session of the flashed board against the record of its constants
    Prove(ProveWords),
    /// Write the columns of a session or a plain log
    Export(ExportWords),
    /// Print the form of a log's lines as a dialect file to edit, or try one on ten of them
    Dialect(DialectWords),
    /// Play the virtual board on a pseudo-terminal or straight into a session file
    Virtual(VirtualWords),
}

impl Verb {
    /// The word for it.
    pub fn name(&self) -> &'static str {
        match self {
            Verb::Ports => "ports",
            Verb::Capture(_) => "capture",
            Verb::Solve(_) => "solve",
            Verb::Prove(_) => "prove",
            Verb::Export(_) => "export",
            Verb::Virtual(_) => "virtual",
            Verb::Dialect(_) => "dialect",
        }
    }
}

/// Words of `capture`.
#[derive(Args, Debug)]
pub struct CaptureWords {
    /// serial:PATH@BAUD, virtual:SCENARIO or file:PATH
    #[arg(long, value_name = "ADDRESS")]
    pub from: String,
    /// Session file to write, which must not be there yet; `-` = standard output
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Take the next free name (FILE-2, FILE-3 ...) where the file is there already
    #[arg(long)]
    pub number: bool,
    /// Stop after this long
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub seconds: Option<f64>,
    /// Go on until stopped and keep only the last so many minutes
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true)]
    pub keep: Option<f64>,
    /// How fast a recording or the virtual board goes: times real time, or flat-out
    #[arg(long, value_name = "N")]
    pub pace: Option<String>,
    /// Data terminal ready when a serial port is opened; many boards restart when it goes on
    #[arg(long, value_enum, default_value_t)]
    pub dtr: OnOpen,
    /// Request to send when a serial port is opened
    #[arg(long, value_enum, default_value_t)]
    pub rts: OnOpen,
    /// Parts list of the controller (RON)
    #[arg(long, value_name = "FILE")]
    pub rig: Option<PathBuf>,
    /// Grammar of the debug line (RON); found by itself without it
    #[arg(long, value_name = "FILE")]
    pub dialect: Option<PathBuf>,
    /// Line to send to the board at the beginning, e.g. "rate 500"; may stand several times
    #[arg(long, value_name = "LINE")]
    pub send: Vec<String>,
    /// Call the roll: asks for each control once, says what answered, ends with the last one
    #[arg(long)]
    pub roll_call: bool,
}

/// What to do with a control line of a serial port on open.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
pub enum OnOpen {
    /// Leave it as the system does
    #[default]
    AsIs,
    /// Assert it
    On,
    /// Release it
    Off,
}

impl From<OnOpen> for ControlLine {
    fn from(word: OnOpen) -> ControlLine {
        match word {
            OnOpen::AsIs => ControlLine::AsIs,
            OnOpen::On => ControlLine::On,
            OnOpen::Off => ControlLine::Off,
        }
    }
}

/// Words of `solve`.
#[derive(Args, Debug)]
pub struct SolveWords {
    /// Session file or plain text log of a board's output; `-` = standard input. Several of the same board
    /// are measured together
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Parts list of the controller (RON)
    #[arg(long, value_name = "FILE")]
    pub rig: Option<PathBuf>,
    /// Grammar of the debug line (RON); found by itself without it
    #[arg(long, value_name = "FILE")]
    pub dialect: Option<PathBuf>,
    /// Frames a second of a log without a clock: said to be stated, not measured
    #[arg(long, value_name = "HZ", value_parser = frame_rate)]
    pub rate: Option<f64>,
    /// C header with the constants
    #[arg(long, value_name = "OUT.h")]
    pub header: Option<PathBuf>,
    /// C header with the constants as macros alone, for a sketch with arithmetic of its own
    #[arg(long, value_name = "OUT.h")]
    pub constants: Option<PathBuf>,
    /// Report as one HTML file
    #[arg(long, value_name = "OUT.html")]
    pub sheet: Option<PathBuf>,
    /// All figures as JSON; `-` = standard output
    #[arg(long, value_name = "OUT.json")]
    pub json: Option<PathBuf>,
    /// All figures as a table, one a row (CSV); `-` = standard output
    #[arg(long, value_name = "OUT.csv")]
    pub csv: Option<PathBuf>,
    /// Constants with the readings they came from (RON)
    #[arg(long, value_name = "OUT.ron")]
    pub trim: Option<PathBuf>,
    /// What damage of the recording does.
    #[command(flatten)]
    pub damage: DamageWords,
    /// Take roles, signs and button order as the session's roll-call found them
    #[arg(long)]
    pub as_called: bool,
    /// Take the changes that were made by hand in the window (FILE.edits.ron)
    #[arg(long)]
    pub edited: bool,
    /// Dialect that the roll-call found (RON)
    #[arg(long, value_name = "OUT.ron", requires = "as_called")]
    pub dialect_out: Option<PathBuf>,
    /// Parts list with the signs and button names that the roll-call found (RON)
    #[arg(long, value_name = "OUT.ron", requires = "as_called")]
    pub rig_out: Option<PathBuf>,
}

/// Words of `prove`.
#[derive(Args, Debug)]
pub struct ProveWords {
    /// Session file or plain text log of the flashed board, not the one that was solved;
    /// `-` = standard input
    pub file: PathBuf,
    /// Constants that `solve` wrote with --trim
    #[arg(long, value_name = "TRIM.ron")]
    pub against: PathBuf,
    /// Parts list of the controller (RON)
    #[arg(long, value_name = "FILE")]
    pub rig: Option<PathBuf>,
    /// Grammar of the debug line (RON); found by itself without it
    #[arg(long, value_name = "FILE")]
    pub dialect: Option<PathBuf>,
    /// The proof as JSON; `-` = standard output
    #[arg(long, value_name = "OUT.json")]
    pub json: Option<PathBuf>,
    /// What damage of the recording does.
    #[command(flatten)]
    pub damage: DamageWords,
}

/// What damage of the recording does to the exit code.
#[derive(Args, Clone, Copy, Debug)]
pub struct DamageWords {
    /// Do not end with 1 because the recording is damaged; what is lost is said all the same
    #[arg(long)]
    pub accept_damage: bool,
}

/// Words of `export`.
#[derive(Args, Debug)]
pub struct ExportWords {
    /// Session file or plain text log of a board's output; `-` = standard input
    pub file: PathBuf,
    /// Comma-separated file to write; `-` = standard output
    #[arg(long, value_name = "OUT")]
    pub csv: PathBuf,
    /// Grammar of the debug line (RON); found by itself without it
    #[arg(long, value_name = "FILE")]
    pub dialect: Option<PathBuf>,
    /// What damage of the recording does.
    #[command(flatten)]
    pub damage: DamageWords,
}

/// Words of `dialect`.
#[derive(Args, Debug)]
pub struct DialectWords {
    /// Session file or plain text log of a board's output; `-` = standard input. Without it: the page on
    /// dialect files, with an example of each form
    pub file: Option<PathBuf>,
    /// Grammar of the debug line (RON) to try: what each of ten lines gives, field by field
    #[arg(long, value_name = "FILE")]
    pub dialect: Option<PathBuf>,
    /// What damage of the recording does.
    #[command(flatten)]
    pub damage: DamageWords,
}

/// Words of `virtual`.
#[derive(Args, Debug)]
#[command(group(clap::ArgGroup::new("to").required(true).args(["pty", "out"])))]
pub struct VirtualWords {
    /// What the board suffers from
    #[arg(long, value_name = "NAME", default_value = "healthy")]
    pub scenario: String,
    /// Parts list of the controller (RON)
    #[arg(long, value_name = "FILE")]
    pub rig: Option<PathBuf>,
    /// Grammar of the debug line (RON)
    #[arg(long, value_name = "FILE")]
    pub dialect: Option<PathBuf>,
    /// Frames a second
    #[arg(long, value_name = "HZ", default_value_t = 250.0, allow_negative_numbers = true)]
    pub rate: f64,
    /// Width of the raw readings in bits, 8 to 16 (the rig's, else 10)
    #[arg(long, value_name = "N")]
    pub bits: Option<u8>,
    /// Draws another board of the same kind
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Stop after this long (without it: the whole scripted run into a file, for ever on a
    /// pseudo-terminal)
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub seconds: Option<f64>,
    /// Date written into the session, e.g. 2026-11-25T09:00:00Z; now without it
    #[arg(long, value_name = "TIME")]
    pub created: Option<String>,
    /// Serve a pseudo-terminal in real time, with a link of this name to it
    #[arg(long, value_name = "LINK", num_args = 0..=1, default_missing_value = "")]
    pub pty: Option<PathBuf>,
    /// Write a session file, in the board's own time; it must not be there yet; `-` = standard output
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Take the next free name (FILE-2, FILE-3 ...) where the file is there already
    #[arg(long)]
    pub number: bool,
}

/// Frames a second that a board can print.
fn frame_rate(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if (0.1..=1e6).contains(&number) => Ok(number),
        _ => Err("it must be a number of frames a second, 0.1 to 1000000".to_owned()),
    }
}
