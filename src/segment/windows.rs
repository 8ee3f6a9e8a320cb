//! Which rows each prompt of a guided run was up for.
use super::{Kind, Rows};
use crate::rig::{Task, Word};
use crate::session::Tracks;

/// The prompts of a session by rows; empty without marks.
#[derive(Default)]
pub(super) struct Fence {
    windows: Vec<(Task, Rows)>,
    pushes: Vec<(usize, f64)>,
}

impl Fence {
    /// Reads the marks of a session. Words that are no task end nothing.
    pub(super) fn of(tracks: &Tracks) -> Fence {
        let mut fence = Fence::default();
        let mut open: Option<(Task, usize)> = None;
        for mark in &tracks.marks {
            let row = tracks.t_us.partition_point(|&t| t < mark.at.0);
            if mark.ends_task()
                && let Some((task, first)) = open.take()
            {
                fence.windows.push((task, Rows { first, end: row }));
            }
            if let Some(task) = mark.task() {
                if mark.is_again() {
                    fence.windows.retain(|(earlier, _)| *earlier != task);
                }
                open = Some((task, row));
            } else if mark.word == Word::Push
                && let Ok(deg) = mark.text.trim().parse::<f64>()
                && deg.is_finite()
            {
                fence.pushes.push((row, deg));
            }
        }
        if let Some((task, first)) = open {
            fence.windows.push((task, Rows { first, end: tracks.rows() }));
        }
        fence
    }

    /// True when there was any prompt.
    pub(super) fn prompted(&self) -> bool {
        !self.windows.is_empty()
    }

    /// True when something of this kind counts at this row: its prompt was up, or there never was one.
    pub(super) fn allows(&self, kind: Kind, row: usize) -> bool {
        let Some(task) = task_of(kind) else { return true };
        let mut any = false;
        for (of, rows) in &self.windows {
            if *of == task {
                any = true;
                if rows.contains(row) {
                    return true;
                }
            }
        }
        !any
    }

    /// The parts of a stretch in which something of this kind counts.
    pub(super) fn clip(&self, kind: Kind, rows: Rows) -> Vec<Rows> {
        let task = task_of(kind);
        let mut windows = self.windows.iter().filter(|(of, _)| Some(*of) == task).peekable();
        if windows.peek().is_none() {
            return vec![rows];
        }
        windows
            .map(|(_, w)| Rows { first: rows.first.max(w.first), end: rows.end.min(w.end) })
            .filter(|r| !r.is_empty())
            .collect()
    }

    /// Direction asked for at a row: the newest push prompt within the same step.
    pub(super) fn prompted_deg(&self, row: usize) -> Option<f64> {
        let window = self.windows.iter().find(|(t, w)| *t == Task::Releases && w.contains(row))?.1;
        let at = self.pushes.partition_point(|(first, _)| *first <= row);
        let (first, deg) = *self.pushes.get(at.checked_sub(1)?)?;
        window.contains(first).then_some(deg)
    }
}

/// The prompt that a kind belongs to; contacts count whatever was asked for.
fn task_of(kind: Kind) -> Option<Task> {
    match kind {
        Kind::Rest => Some(Task::Rest),
        Kind::Release => Some(Task::Releases),
        Kind::Roll => Some(Task::Roll),
        Kind::Pull => Some(Task::Triggers),
        Kind::Press => None,
    }
}
