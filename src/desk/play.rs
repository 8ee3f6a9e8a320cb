//! The virtual board by itself: into a session in memory or a file in its own time, or served on a
//! pseudo-terminal.
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::link::LinkError;
use crate::rig::{HostUs, Rig};
use crate::session::file::Writer;
use crate::session::{About, Intake, Session};
use crate::virtual_board::script::{Cue, full_run};
use crate::virtual_board::{Hand, Options, Scenario, VirtualBoard};
use crate::wire::Dialect;

use super::connect::now_text;
use super::output;

/// Which virtual board is to be played.
#[derive(Clone, Debug)]
pub struct PlayOrder {
    /// Scenario by name; several joined by `+`.
    pub scenario: String,
    /// Parts list.
    pub rig: Option<Rig>,
    /// How it prints.
    pub dialect: Option<Dialect>,
    /// Frames a second.
    pub rate_hz: f64,
    /// Width of the readings, bits; `None` = the rig's, else 10.
    pub raw_bits: Option<u8>,
    /// Which board of its kind.
    pub seed: u64,
    /// Stop after this long.
    pub seconds: Option<f64>,
}

/// Board time between two looks at the script, µs.
const STEP_US: u64 = 10_000;

fn board(order: &PlayOrder) -> Result<VirtualBoard, LinkError> {
    let refuse = |e: &dyn std::fmt::Display| LinkError::Refused(format!("virtual board: {e}"));
    let scenario: Scenario = order.scenario.parse().map_err(|e| refuse(&e))?;
    let options = Options {
        scenario,
        rig: order.rig.clone(),
        dialect: order.dialect.clone(),
        rate_hz: order.rate_hz,
        seed: order.seed,
        raw_bits: order.raw_bits,
        ..Options::default()
    };
    VirtualBoard::new(&options).map_err(|e| refuse(&e))
}

/// Board time of one read into memory, µs.
const READ_US: u64 = 20_000;

/// Plays a script into a session in memory, as a recorder would take it down: what the board prints,
/// with every cue as a mark at its time.
///
/// `intake` knows the board's dialect, or is to recognise it. The board goes on from where it is; cues
/// that lie behind it are given at once. Cost: some 0.3 s for a whole run in a release build.
pub fn into_session(
    board: &mut VirtualBoard,
    script: &[(u64, Cue)],
    mut intake: Intake,
) -> Session {
    let hand = board.hand();
    let mut session = Session::new(About::default());
    let mut bytes = Vec::new();
    for &(at_us, cue) in script {
        while board.now_us() < at_us {
            bytes.clear();
            board.advance((board.now_us() + READ_US).min(at_us), &mut bytes);
            intake.push(board.now_us(), &bytes);
        }
        session.append(&intake.take());
        session.mark(cue.mark().set_at(HostUs(board.now_us())));
        give(cue, board, &hand);
    }
    intake.finish();
    session.append(&intake.take());
    session
}

/// Asks a cue of the hand, and of the board where it is a command.
fn give(cue: Cue, board: &mut VirtualBoard, hand: &Hand) {
    cue.give(hand);
    if let Cue::Drive(command) = cue {
        board.write(&command.line());
    }
}

/// Plays the scripted run into a session file. Same order and date, same bytes.
///
/// # Errors
/// There is no such board, or the file cannot be written (nothing is then left behind).
pub fn to_file(order: &PlayOrder, created: Option<&str>, out: &Path) -> Result<u64, LinkError> {
    let mut board = board(order)?;
    let script = full_run(board.rig());
    let end_us = order.seconds.map_or_else(
        || script.last().map_or(0, |(t, _)| *t) + STEP_US,
        |seconds| (seconds * 1e6) as u64,
    );
    let about = About {
        created: created.map_or_else(now_text, str::to_owned),
        notes: format!("virtual board, scenario {}, seed {}", order.scenario, order.seed),
        rig: Some(board.rig().clone()),
        clockless: false,
    };
    let dialect = board.dialect().clone();
    let written = output::write_new(out, |file| {
        let mut writer = Writer::new(file, &about, Some(&dialect))?;
        play(&mut board, &script, end_us, &mut writer)?;
        writer.finish().map(drop)
    });
    written.map_err(|e| LinkError::Refused(e.to_string()))?;
    Ok(end_us)
}

fn play<W: std::io::Write>(
    board: &mut VirtualBoard,
    script: &[(u64, Cue)],
    end_us: u64,
    writer: &mut Writer<W>,
) -> std::io::Result<()> {
    let hand = board.hand();
    let mut cues = script.iter().peekable();
    let mut bytes = Vec::new();
    while board.now_us() < end_us {
        let now_us = board.now_us();
        while let Some((t_us, cue)) = cues.next_if(|(t_us, _)| *t_us <= now_us) {
            give(*cue, board, &hand);
            writer.mark(&cue.mark().set_at(HostUs(*t_us)))?;
        }
        bytes.clear();
        board.advance((now_us + STEP_US).min(end_us), &mut bytes);
        writer.append(board.now_us(), &bytes)?;
        writer.tick(board.now_us())?;
    }
    Ok(())
}

/// Serves the board on a pseudo-terminal in real time until the time is up or `stop` is set.
///
/// The scripted hand plays its run over and over. `ready` is told the path to open.
///
/// # Errors
/// There is no such board, no pseudo-terminal, or it failed on the way.
#[cfg(unix)]
pub fn on_pty(
    order: &PlayOrder,
    link: Option<PathBuf>,
    stop: &AtomicBool,
    ready: &mut dyn FnMut(&Path),
) -> Result<(), LinkError> {
    use crate::source::pty::ServedPty;

    let mut board = board(order)?;
    let script = full_run(board.rig());
    let round_us = script.last().map_or(1, |(t, _)| (*t).max(1));
    let hand = board.hand();
    let mut pty = ServedPty::open(link.as_deref())?;
    ready(pty.path());
    let begun = Instant::now();
    let (mut bytes, mut received) = (Vec::new(), Vec::new());
    while !stop.load(Ordering::Relaxed) {
        let elapsed = begun.elapsed();
        if order.seconds.is_some_and(|limit| elapsed.as_secs_f64() >= limit) {
            break;
        }
        let now_us = elapsed.as_micros() as u64;
        let place = now_us % round_us;
        let cue = script.iter().rev().find(|(t_us, _)| *t_us <= place);
        match cue {
            Some((_, cue)) => cue.give(&hand),
            None => hand.prompt(None),
        }
        bytes.clear();
        board.advance(now_us, &mut bytes);
        pty.send(&bytes)?;
        received.clear();
        pty.receive(&mut received);
        board.write(&received);
        std::thread::sleep(Duration::from_millis(2));
    }
    Ok(())
}
