//! The scripted hand at work: follows orders and programmes in fine time.
use super::contact::Contact;
use super::dice::Dice;
use super::hand::{Grip, Orders};
use super::strokes::{Press, Programme, Timed};
use crate::rig::Task;

/// Pause between runs of a task, µs.
pub(super) const PAUSE_US: f64 = 3_500_000.0;

/// What the hand does to sticks and triggers at one moment.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Touch {
    pub sticks: [Grip; 2],
    pub triggers: [Option<f64>; 2],
}

/// The hand.
#[derive(Debug)]
pub(super) struct Player {
    task: Option<Task>,
    turn: u64,
    call_turn: u64,
    begun_us: f64,
    programme: Programme,
    sticks_at: [usize; 2],
    triggers_at: [usize; 2],
    presses_at: usize,
    releases: Vec<(f64, usize)>,
    dice: Dice,
}

impl Player {
    /// A hand in the person's lap.
    pub fn new(dice: Dice) -> Self {
        Player {
            task: None,
            turn: 0,
            call_turn: 0,
            begun_us: 0.0,
            programme: Programme::default(),
            sticks_at: [0; 2],
            triggers_at: [0; 2],
            presses_at: 0,
            releases: Vec::new(),
            dice,
        }
    }

    /// Takes new orders at `t_us`.
    pub fn follow(&mut self, orders: &mut Orders, t_us: f64, contacts: &mut [Contact]) {
        if orders.task_turn != self.turn {
            self.turn = orders.task_turn;
            self.task = orders.task;
            self.begin(t_us, contacts.len());
        }
        if orders.call_turn != self.call_turn {
            self.call_turn = orders.call_turn;
            if let Some(control) = orders.call {
                self.rewind(t_us);
                self.programme = Programme::call(control, &mut self.dice);
            }
        }
        for button in orders.presses.drain(..) {
            if let Some(contact) = contacts.get_mut(button) {
                contact.transfer(true, t_us);
                self.releases.push((t_us + 1000.0 * self.dice.uniform(90.0, 150.0), button));
            }
        }
    }

    fn rewind(&mut self, t_us: f64) {
        self.begun_us = t_us;
        self.sticks_at = [0; 2];
        self.triggers_at = [0; 2];
        self.presses_at = 0;
    }

    fn begin(&mut self, t_us: f64, buttons: usize) {
        self.rewind(t_us);
        self.programme = match self.task {
            Some(task) => Programme::draw(task, buttons, &mut self.dice),
            None => Programme::default(),
        };
    }

    /// What the hand does at `t_us`; presses and releases go straight to the contacts.
    pub fn touch(&mut self, t_us: f64, orders: &Orders, contacts: &mut [Contact]) -> Touch {
        if self.task.is_some() && t_us > self.begun_us + self.programme.length_us + PAUSE_US {
            self.begin(t_us, contacts.len());
        }
        let since = t_us - self.begun_us;
        let mut touch = Touch::default();
        for half in 0..2 {
            let led = orders.sticks[half].or_else(|| {
                let strokes = &self.programme.sticks[half];
                current(strokes, &mut self.sticks_at[half], since)
                    .and_then(|(stroke, share)| stroke.at(share))
            });
            touch.sticks[half] = led.map_or(Grip::Free, Grip::Held);
            touch.triggers[half] = orders.triggers[half].or_else(|| {
                let pulls = &self.programme.triggers[half];
                current(pulls, &mut self.triggers_at[half], since)
                    .and_then(|(pull, share)| pull.at(share))
            });
        }
        self.press(since, contacts);
        self.releases.retain(|&(at, button)| {
            let due = at <= t_us;
            if let (true, Some(contact)) = (due, contacts.get_mut(button)) {
                contact.transfer(false, at);
            }
            !due
        });
        touch
    }

    /// Hands over every press that has begun; its end lies ahead and is handed over with it.
    fn press(&mut self, since: f64, contacts: &mut [Contact]) {
        while let Some(&Press { from_us, until_us, button }) =
            self.programme.presses.get(self.presses_at)
        {
            if from_us > since {
                break;
            }
            self.presses_at += 1;
            if let Some(contact) = contacts.get_mut(button) {
                contact.transfer(true, self.begun_us + from_us);
                self.releases.push((self.begun_us + until_us, button));
            }
        }
    }
}

/// The stroke under way at `since` and the share of it that has passed.
fn current<'a, S>(strokes: &'a [Timed<S>], at: &mut usize, since: f64) -> Option<(&'a S, f64)> {
    while strokes.get(*at)?.until_us <= since {
        *at += 1;
    }
    let begun = if *at == 0 { 0.0 } else { strokes[*at - 1].until_us };
    let stroke = &strokes[*at];
    Some((&stroke.what, (since - begun) / (stroke.until_us - begun)))
}
