//! The second half: scans by itself or when asked, and answers over a two-wire bus that may hang.
use super::body::Body;
use super::causes::{Causes, RemoteCauses};
use super::dice::Dice;
use super::readout::{Image, Readout};

/// The second half as the first one knows it.
#[derive(Debug)]
pub(super) struct Remote {
    causes: RemoteCauses,
    /// What it last scanned.
    scanned: Image,
    scanned_us: f64,
    scans: u32,
    next_scan_us: f64,
    /// What it last answered.
    answer: Answer,
    hang: [f64; 2],
    dice: Dice,
}

/// An answer of the second half.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Answer {
    pub image: Image,
    /// Counter of its scans.
    pub seq: u32,
    /// When that scan began, µs.
    pub scanned_us: f64,
}

impl Remote {
    /// A second half that has not scanned yet.
    pub fn new(causes: RemoteCauses, mut dice: Dice) -> Self {
        let next_scan_us = causes.scan_period_us.map_or(f64::INFINITY, |p| dice.uniform(0.0, p));
        let begins = waiting(&causes, &mut dice);
        Remote {
            causes,
            scanned: Image::default(),
            scanned_us: 0.0,
            scans: 0,
            next_scan_us,
            answer: Answer::default(),
            hang: [begins, begins + causes.hang_us],
            dice,
        }
    }

    /// Lets it do the scans of its own that fall before `t_us`.
    pub fn run_to(&mut self, t_us: f64, causes: &Causes, body: &mut Body, readout: &mut Readout) {
        let Some(period) = self.causes.scan_period_us else { return };
        while self.next_scan_us <= t_us {
            self.scan(self.next_scan_us, causes, body, readout);
            self.next_scan_us += period;
        }
    }

    fn scan(&mut self, t_us: f64, causes: &Causes, body: &mut Body, readout: &mut Readout) -> f64 {
        self.scanned_us = t_us;
        self.scans = self.scans.wrapping_add(1);
        readout.scan(self.causes.half, causes, body, t_us, &mut self.scanned)
    }

    /// Asks it at `t_us`; gives what the first half now knows and when the bus is free again.
    pub fn poll(
        &mut self,
        t_us: f64,
        causes: &Causes,
        body: &mut Body,
        readout: &mut Readout,
    ) -> (Answer, f64) {
        if t_us >= self.causes.dies_us {
            return (self.answer, t_us + self.causes.poll_us);
        }
        self.run_to(t_us, causes, body, readout);
        if t_us >= self.hang[1] {
            let begins = t_us + waiting(&self.causes, &mut self.dice);
            self.hang = [begins, begins + self.causes.hang_us];
        }
        if t_us >= self.hang[0] && t_us < self.hang[1] {
            return (self.answer, t_us + self.causes.timeout_us);
        }
        let mut free_us = t_us;
        if self.causes.scan_period_us.is_none() {
            free_us = self.scan(t_us, causes, body, readout);
        }
        self.answer = Answer { image: self.scanned, seq: self.scans, scanned_us: self.scanned_us };
        (self.answer, free_us + self.causes.poll_us)
    }
}

/// Time to the next hang, µs.
fn waiting(causes: &RemoteCauses, dice: &mut Dice) -> f64 {
    if causes.hangs_per_minute <= 0.0 {
        return f64::INFINITY;
    }
    dice.waiting(60e6 / causes.hangs_per_minute)
}
