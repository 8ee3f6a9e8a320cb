//! The hand on a virtual board: what it has been asked for, and the handle that asks.
use std::sync::{Arc, Mutex, PoisonError};

use crate::rig::{Control, Half, Task};

/// What a hand does to a stick at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Grip {
    /// Nobody touches it.
    #[default]
    Free,
    /// Led toward a place; beyond 1 = pressed against the gate.
    Held([f64; 2]),
}

/// What the hand has been asked for.
#[derive(Clone, Debug, Default)]
pub(super) struct Orders {
    pub task: Option<Task>,
    /// Goes up when the hand is to begin a task anew.
    pub task_turn: u64,
    /// The control called last in this task.
    pub call: Option<Control>,
    /// Goes up with each call.
    pub call_turn: u64,
    pub sticks: [Option<[f64; 2]>; 2],
    pub triggers: [Option<f64>; 2],
    pub presses: Vec<usize>,
}

/// Most presses waiting to be carried out.
const MOST_PRESSES: usize = 32;

/// A handle to the hand on a virtual board: cheap to clone, works from any thread.
///
/// Orders take effect with the next frame that the board begins after it has been advanced to the
/// time at which they were given, so that the same orders at the same board times give the same
/// bytes however the advance is cut.
#[derive(Clone, Debug, Default)]
pub struct Hand {
    orders: Arc<Mutex<Orders>>,
}

impl Hand {
    /// Asks for a task, over and over until the next one is asked for; `None` = hands off.
    ///
    /// Asking for the task that is under way changes nothing.
    pub fn prompt(&self, task: Option<Task>) {
        self.with(|orders| {
            if orders.task != task {
                orders.task = task;
                orders.task_turn += 1;
                orders.call = None;
            }
        });
    }

    /// Asks for one control during the roll-call: there and back. The same one twice changes nothing.
    pub fn call(&self, control: Control) {
        self.with(|orders| {
            if orders.call != Some(control) {
                orders.call = Some(control);
                orders.call_turn += 1;
            }
        });
    }

    /// The task under way.
    pub fn task(&self) -> Option<Task> {
        self.with(|orders| orders.task)
    }

    /// Leads a stick to `(x, y)` in units of travel (right and away positive; more than 1 presses
    /// against the gate), whatever the script does; `None` lets it spring back.
    pub fn drag(&self, half: Half, to: Option<(f64, f64)>) {
        let to = to.filter(|(x, y)| x.is_finite() && y.is_finite());
        let to = to.map(|(x, y)| {
            let shrink = (MOST_REACH / x.hypot(y).max(MOST_REACH)).min(1.0);
            [x * shrink, y * shrink]
        });
        self.with(|orders| orders.sticks[half as usize] = to);
    }

    /// Pulls a trigger to a share of its travel, whatever the script does; `None` lets it go.
    pub fn pull(&self, half: Half, to: Option<f64>) {
        let to = to.filter(|t| t.is_finite()).map(|t| t.clamp(0.0, MOST_REACH));
        self.with(|orders| orders.triggers[half as usize] = to);
    }

    /// Presses a button once, as long as a person would. Presses beyond 32 in waiting are refused.
    pub fn press(&self, button: usize) {
        self.with(|orders| {
            if orders.presses.len() < MOST_PRESSES {
                orders.presses.push(button);
            }
        });
    }

    /// Takes a copy of the orders; presses are handed out once.
    pub(super) fn take(&self, into: &mut Orders) {
        self.with(|orders| {
            into.task = orders.task;
            into.task_turn = orders.task_turn;
            into.call = orders.call;
            into.call_turn = orders.call_turn;
            into.sticks = orders.sticks;
            into.triggers = orders.triggers;
            into.presses.append(&mut orders.presses);
        });
    }

    fn with<T>(&self, act: impl FnOnce(&mut Orders) -> T) -> T {
        // Orders are plain values, whole after every change: a poisoned lock loses nothing.
        act(&mut self.orders.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// How far beyond the gate a drag may lead.
const MOST_REACH: f64 = 1.2;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_prompt_twice_does_not_begin_anew() {
        let (hand, mut seen) = (Hand::default(), Orders::default());
        hand.prompt(Some(Task::Roll));
        hand.take(&mut seen);
        let turn = seen.task_turn;
        hand.prompt(Some(Task::Roll));
        hand.take(&mut seen);
        assert_eq!(seen.task_turn, turn);
        hand.prompt(None);
        hand.prompt(Some(Task::Roll));
        hand.take(&mut seen);
        assert_ne!(seen.task_turn, turn);
    }

    #[test]
    fn drags_are_kept_within_reach_and_finite() {
        let (hand, mut seen) = (Hand::default(), Orders::default());
        hand.drag(Half::Left, Some((30.0, 40.0)));
        hand.drag(Half::Right, Some((f64::NAN, 0.0)));
        hand.take(&mut seen);
        let [x, y] = seen.sticks[0].unwrap();
        assert!((x - 0.72).abs() < 1e-12 && (y - 0.96).abs() < 1e-12);
        assert_eq!(seen.sticks[1], None);
    }

    #[test]
    fn presses_are_handed_out_once_and_bounded() {
        let (hand, mut seen) = (Hand::default(), Orders::default());
        (0..100).for_each(|_| hand.press(3));
        hand.take(&mut seen);
        assert_eq!(seen.presses.len(), MOST_PRESSES);
        seen.presses.clear();
        hand.take(&mut seen);
        assert!(seen.presses.is_empty());
    }
}
