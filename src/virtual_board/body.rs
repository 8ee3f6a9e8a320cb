//! The moving parts and the hand on them, in steps of half a millisecond.
use super::causes::Causes;
use super::contact::Contact;
use super::dice::{Dice, Purpose};
use super::hand::Orders;
use super::player::Player;
use super::stick::{Settled, Stick};
use super::trigger::{Trigger, rest_travel};
use crate::rig::Half;

/// Length of a step of the mechanics, µs.
pub(super) const STEP_US: f64 = 500.0;

/// Sticks, triggers, contacts and the hand.
#[derive(Debug)]
pub(super) struct Body {
    sticks: [Option<Stick>; 2],
    triggers: [Option<Trigger>; 2],
    /// Button contacts.
    pub contacts: Vec<Contact>,
    player: Player,
    /// What the hand has been asked for.
    pub orders: Orders,
    steps: u64,
    settled: Vec<(Half, f64, Settled)>,
}

impl Body {
    /// A board lying on the bench.
    pub fn new(causes: &Causes, seed: u64) -> Self {
        let stick = |half: Half| {
            let dice = Dice::new(seed, Purpose::Stick(half as u8));
            causes.sticks[half as usize].clone().map(|c| Stick::new(c, dice))
        };
        let trigger = |half: Half| {
            let dice = Dice::new(seed, Purpose::Trigger(half as u8));
            causes.triggers[half as usize].clone().map(|c| Trigger::new(c, dice))
        };
        let contacts = causes.contacts.iter().zip(0..);
        Body {
            sticks: Half::ALL.map(stick),
            triggers: Half::ALL.map(trigger),
            contacts: contacts
                .map(|(&c, n)| Contact::new(c, Dice::new(seed, Purpose::Contact(n))))
                .collect(),
            player: Player::new(Dice::new(seed, Purpose::Hand)),
            orders: Orders::default(),
            steps: 0,
            settled: Vec::new(),
        }
    }

    /// Time of the last step, µs.
    pub fn time_us(&self) -> f64 {
        self.steps as f64 * STEP_US
    }

    /// Lets the hand take its orders at `t_us`.
    pub fn follow_orders(&mut self, t_us: f64) {
        let now = t_us.max(self.time_us());
        self.player.follow(&mut self.orders, now, &mut self.contacts);
    }

    /// Steps until the next step would lie beyond `t_us`.
    pub fn advance_to(&mut self, t_us: f64) {
        while self.time_us() + STEP_US <= t_us {
            self.steps += 1;
            self.step();
        }
    }

    fn step(&mut self) {
        let now = self.time_us();
        let touch = self.player.touch(now, &self.orders, &mut self.contacts);
        for half in Half::ALL {
            let h = half as usize;
            if let Some(stick) = &mut self.sticks[h]
                && let Some(rest) = stick.step(touch.sticks[h], STEP_US * 1e-6)
            {
                self.settled.push((half, now, rest));
            }
            if let Some(trigger) = &mut self.triggers[h] {
                trigger.step(touch.triggers[h], STEP_US * 1e-6);
            }
        }
    }

    /// Where a stick stands at `t_us`, near the last step.
    pub fn stick(&self, half: Half, t_us: f64) -> [f64; 2] {
        let ahead_s = (t_us - self.time_us()) * 1e-6;
        self.sticks[half as usize].as_ref().map_or([0.0; 2], |s| s.position(ahead_s))
    }

    /// Sensed travel of a trigger.
    pub fn travel(&self, half: Half) -> f64 {
        self.triggers[half as usize].as_ref().map_or(0.0, Trigger::travel)
    }

    /// Let-goes that have settled since the last call, with the time.
    pub fn take_settled(&mut self) -> impl Iterator<Item = (Half, f64, Settled)> + '_ {
        self.settled.drain(..)
    }
}

/// Travels of released triggers.
pub(super) fn rest_travels(causes: &Causes) -> [f64; 2] {
    [0, 1].map(|h| causes.triggers[h].as_ref().map_or(0.0, rest_travel))
}
