//! The guided run without a window: the virtual board, flat out, its files into a folder.
use std::path::{Path, PathBuf};

use crate::guide::{Guide, Out, Parts};
use crate::link::LinkError;
use crate::rig::{HostUs, Task, Word};
use crate::session::file::Writer;
use crate::session::{About, Intake, Session};
use crate::virtual_board::{Options, VirtualBoard};
use crate::work::Watch;

use super::analysis::{Results, analyse};
use super::connect::now_text;
use super::guided::look;
use super::output;
use super::solving::{NotWritten, SolveError, Wanted, write_wanted};

/// Board time between two looks of the guide, µs.
const LOOK_US: u64 = 250_000;
/// Board time between two reads, µs.
const READ_US: u64 = 10_000;
/// Board time after which the run is given up, µs: a guide that never gets enough is a fault.
const LONGEST_US: u64 = 600_000_000;

/// What a run gave.
pub struct Walked {
    /// Readings, findings, constants.
    pub results: Results,
    /// The files written.
    pub files: Vec<PathBuf>,
    /// Outputs that the data do not support.
    pub refused: Vec<NotWritten>,
    /// Board time that it took, s.
    pub board_s: f64,
}

/// Why a run without a window failed.
#[derive(Debug, thiserror::Error)]
pub enum WalkError {
    /// No such board.
    #[error(transparent)]
    Board(#[from] LinkError),
    /// A file could not be written.
    #[error(transparent)]
    Output(#[from] SolveError),
    /// The data of a task never sufficed.
    #[error("the run stayed at \"{0}\" for ten minutes of board time: {1}")]
    Stuck(String, String),
}

/// A board, what it printed, and the guide over it.
struct Walk {
    board: VirtualBoard,
    guide: Guide,
    intake: Intake,
    session: Session,
    writer: Writer<Vec<u8>>,
    first_row: usize,
}

/// Runs the whole guided run on the healthy virtual board and writes every output into `folder`.
///
/// `say` is told each prompt once and how it ended.
///
/// # Errors
/// See [`WalkError`].
pub fn walk(folder: &Path, say: &mut dyn FnMut(&str)) -> Result<Walked, WalkError> {
    let refuse = |e: &dyn std::fmt::Display| LinkError::Refused(format!("virtual board: {e}"));
    let board = VirtualBoard::new(&Options::default()).map_err(|e| refuse(&e))?;
    let rig = board.rig().clone();
    let about = About { created: now_text(), rig: Some(rig.clone()), ..About::default() };
    let dialect = board.dialect().clone();
    let writer = Writer::new(Vec::new(), &about, Some(&dialect)).map_err(|e| refuse(&e))?;
    let parts = Parts::listed(&rig);
    let mut walk = Walk {
        board,
        guide: Guide::new(parts, 1),
        intake: Intake::new(Some(dialect)),
        session: Session::new(about),
        writer,
        first_row: 0,
    };
    walk.run(say)?;
    let (board_s, session, bytes) = walk.finish().map_err(|e| refuse(&e))?;
    let results = analyse(&session, &rig, "virtual healthy", &[], &Watch::unwatched())
        .map_err(|_unwatched| SolveError::Stopped)?;
    let path = |name: &str| folder.join(name);
    output::write_whole(&path("run.session"), &bytes).map_err(SolveError::Output)?;
    let wanted = Wanted {
        csv: None,
        header: Some(path("trim.h")),
        constants: None,
        sheet: Some(path("sheet.html")),
        json: Some(path("figures.json")),
        trim: Some(path("run.trim.ron")),
    };
    let refused = write_wanted(&results, &wanted)?;
    let mut files = vec![path("run.session")];
    files.extend([wanted.header, wanted.sheet, wanted.json, wanted.trim].into_iter().flatten());
    files.retain(|f| refused.iter().all(|r| r.path != *f));
    Ok(Walked { results, files, refused, board_s })
}

impl Walk {
    fn run(&mut self, say: &mut dyn FnMut(&str)) -> Result<(), WalkError> {
        self.listen(1_000_000)?;
        let outs = self.guide.start();
        let mut reviewed = self.carry_out(outs)?;
        let mut shown: Option<Task> = None;
        while !reviewed {
            if self.guide.task() != shown {
                shown = self.guide.task();
                say(&self.guide.prompt().title);
            }
            self.listen(LOOK_US)?;
            let rows = self.first_row..self.session.rows();
            let rig = self.board.rig().clone();
            let outs = look(&mut self.guide, &self.session, rows, &rig, false);
            let detail = self.guide.prompt().detail.clone();
            if !detail.is_empty() && self.guide.prompt().enough {
                say(&format!("  {detail}"));
            }
            reviewed = self.carry_out(outs)?;
            if self.board.now_us() > LONGEST_US {
                let title = self.guide.prompt().title.clone();
                return Err(WalkError::Stuck(title, detail));
            }
        }
        self.listen(200_000)
    }

    /// Lets the board live and takes in what it prints.
    fn listen(&mut self, for_us: u64) -> Result<(), WalkError> {
        let until_us = self.board.now_us() + for_us;
        let mut bytes = Vec::new();
        while self.board.now_us() < until_us {
            bytes.clear();
            self.board.advance((self.board.now_us() + READ_US).min(until_us), &mut bytes);
            let now_us = self.board.now_us();
            self.intake.push(now_us, &bytes);
            let written =
                self.writer.append(now_us, &bytes).and_then(|()| self.writer.tick(now_us));
            written.map_err(|e| LinkError::Refused(format!("session in memory: {e}")))?;
        }
        self.session.append(&self.intake.take());
        Ok(())
    }

    fn carry_out(&mut self, outs: Vec<Out>) -> Result<bool, WalkError> {
        let mut reviewed = false;
        for out in outs {
            match out {
                // The scripted hand has an order of its own: no push is asked of it.
                Out::Mark(mark) if mark.word == Word::Push => {}
                Out::Mark(mark) => {
                    let mark = mark.set_at(HostUs(self.board.now_us()));
                    let written = self.writer.mark(&mark);
                    written.map_err(|e| LinkError::Refused(format!("session in memory: {e}")))?;
                    if let Some((control, _)) = mark.call() {
                        self.board.hand().call(control);
                    }
                    self.session.mark(mark);
                }
                // The board's own dialect names its fields.
                Out::Heard => {
                    let outs = self.guide.go_on();
                    reviewed = self.carry_out(outs)?;
                }
                Out::Begin(task) => {
                    self.first_row = self.session.rows();
                    self.board.hand().prompt(Some(task));
                }
                Out::Review => {
                    self.board.hand().prompt(None);
                    reviewed = true;
                }
            }
        }
        Ok(reviewed)
    }

    fn finish(mut self) -> std::io::Result<(f64, Session, Vec<u8>)> {
        self.intake.finish();
        self.session.append(&self.intake.take());
        let bytes = self.writer.finish()?;
        Ok((self.board.now_us() as f64 * 1e-6, self.session, bytes))
    }
}
