//! A made-up hand on made-up columns: what was done is known, so what is found can be counted.
use trimbench::rig::{AxisId, Mark};
use trimbench::session::{StreamLedger, TimeSource, TrackUs, Tracks};

/// Draws the columns that a hand would leave; raw x right and y up.
pub struct Hand {
    rate_hz: f64,
    full: f64,
    noise: f64,
    seed: u64,
    at: [f64; 6],
    rest: [f64; 6],
    reach: f64,
    trigger_way: [f64; 2],
    mask: u32,
    t_us: Vec<u64>,
    axes: [Vec<i32>; 6],
    masks: Vec<u32>,
    marks: Vec<Mark<TrackUs>>,
    bits: u8,
}

impl Hand {
    /// A controller whose left trigger rests low and whose right one rests high.
    pub fn new(rate_hz: f64, bits: u8, noise: f64, seed: u64) -> Hand {
        let full = f64::from((1u32 << bits) - 1);
        let k = full / 1023.0;
        let rest = [518.0 * k, 503.0 * k, 509.0 * k, 520.0 * k, 90.0 * k, 960.0 * k];
        Hand {
            rate_hz,
            full,
            noise,
            seed: seed.wrapping_mul(2).wrapping_add(1),
            at: rest,
            rest,
            reach: 400.0 * k,
            trigger_way: [800.0 * k, -790.0 * k],
            mask: 0,
            t_us: vec![],
            axes: Default::default(),
            masks: vec![],
            marks: vec![],
            bits,
        }
    }

    fn random(&mut self) -> f64 {
        self.seed = self.seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.seed >> 11) as f64 / (1u64 << 53) as f64
    }

    fn gauss(&mut self) -> f64 {
        let (u, v) = (self.random().max(1e-300), self.random());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    pub fn rows(&self) -> usize {
        self.t_us.len()
    }

    fn row(&mut self) {
        let t = (self.rows() as f64 * 1e6 / self.rate_hz).round() as u64;
        self.t_us.push(t);
        for k in 0..6 {
            let v = self.at[k] + self.noise * self.gauss();
            self.axes[k].push(v.round().clamp(0.0, self.full) as i32);
        }
        self.masks.push(self.mask);
    }

    fn count(&self, s: f64) -> usize {
        (s * self.rate_hz).round() as usize
    }

    /// Nothing happens.
    pub fn wait(&mut self, s: f64) {
        for _ in 0..self.count(s) {
            self.row();
        }
    }

    pub fn mark(&mut self, word: &str, text: &str) {
        let t_us = (self.rows() as f64 * 1e6 / self.rate_hz).round() as u64;
        self.marks.push(Mark::new(word, text).set_at(TrackUs(t_us)));
    }

    /// Moves axes linearly to new places.
    fn go(&mut self, to: &[(usize, f64)], s: f64) {
        let from = self.at;
        let n = self.count(s).max(1);
        for k in 1..=n {
            for &(axis, goal) in to {
                self.at[axis] = from[axis] + (goal - from[axis]) * k as f64 / n as f64;
            }
            self.row();
        }
    }

    /// Springs axes back to rest with an overshoot, ends `offset` counts off.
    fn spring(&mut self, axes: &[(usize, f64)]) {
        let from = self.at;
        for k in 1..=self.count(0.12) {
            let t = k as f64 / self.rate_hz;
            let swing = (-t / 0.012).exp() * (t * 120.0).cos();
            for &(axis, offset) in axes {
                self.at[axis] =
                    self.rest[axis] + offset + (from[axis] - self.rest[axis] - offset) * swing;
            }
            self.row();
        }
        for &(axis, offset) in axes {
            self.at[axis] = self.rest[axis] + offset;
        }
    }

    fn rim(&self, deg: f64, halves: &[usize]) -> Vec<(usize, f64)> {
        let (s, c) = deg.to_radians().sin_cos();
        let both = |h: &usize| {
            [
                (2 * h, self.rest[2 * h] + self.reach * c),
                (2 * h + 1, self.rest[2 * h + 1] + self.reach * s),
            ]
        };
        halves.iter().flat_map(both).collect()
    }

    /// Pushes sticks out, lets go, waits.
    pub fn release(&mut self, halves: &[usize], deg: f64, wait_s: f64) {
        let goal = self.rim(deg, halves);
        self.go(&goal, 0.12);
        self.wait(0.3);
        let offsets: Vec<(usize, f64)> = halves
            .iter()
            .flat_map(|h| [2 * h, 2 * h + 1])
            .map(|axis| (axis, 2.5 * self.gauss()))
            .collect();
        self.spring(&offsets);
        self.wait(wait_s);
    }

    /// Pushes out and lowers the stick by the thumb, which then creeps on.
    pub fn creeping(&mut self, half: usize, deg: f64, counts_per_s: f64) {
        let goal = self.rim(deg, &[half]);
        self.go(&goal, 0.12);
        self.wait(0.3);
        let near =
            [(2 * half, self.rest[2 * half] + 12.0), (2 * half + 1, self.rest[2 * half + 1])];
        self.go(&near, 0.1);
        let on = [(2 * half, self.rest[2 * half] + 12.0 + counts_per_s * 1.2)];
        self.go(&on, 1.2);
        self.go(&[(2 * half, self.rest[2 * half])], 0.1);
    }

    /// Whole turns, positive against the hands of a clock; lets go at the end.
    pub fn roll(&mut self, halves: &[usize], turns: f64, s_per_turn: f64) {
        let goal = self.rim(30.0, halves);
        self.go(&goal, 0.2);
        self.wait(0.2);
        let n = self.count(turns.abs() * s_per_turn);
        for k in 1..=n {
            let deg = 30.0 + 360.0 * turns * k as f64 / n as f64;
            for (axis, v) in self.rim(deg, halves) {
                self.at[axis] = v;
            }
            self.row();
        }
        self.wait(0.2);
        let still: Vec<_> = halves.iter().flat_map(|h| [(2 * h, 0.0), (2 * h + 1, 0.0)]).collect();
        self.spring(&still);
        self.wait(0.9);
    }

    /// Pulls triggers and lets them go.
    pub fn pull(&mut self, halves: &[usize], share: f64, up_s: f64, down_s: f64) {
        let up: Vec<_> = halves
            .iter()
            .map(|&h| (4 + h, self.rest[4 + h] + share * self.trigger_way[h]))
            .collect();
        let down: Vec<_> = halves.iter().map(|&h| (4 + h, self.rest[4 + h])).collect();
        self.go(&up, up_s);
        self.wait(0.2);
        self.go(&down, down_s);
        self.wait(0.9);
    }

    /// One press with a little bounce at both ends.
    pub fn press(&mut self, button: u32, bounces: usize) {
        let bit = 1 << button;
        for _ in 0..bounces {
            self.mask |= bit;
            self.row();
            self.mask &= !bit;
            self.row();
        }
        self.mask |= bit;
        self.wait(0.12);
        for _ in 0..bounces {
            self.mask &= !bit;
            self.row();
            self.mask |= bit;
            self.row();
        }
        self.mask &= !bit;
        self.wait(0.25);
    }

    /// Somebody bumps the table: both sticks shake for 150 ms.
    pub fn bump(&mut self, counts: f64) {
        let still = self.at;
        for _ in 0..self.count(0.15) {
            for (k, &place) in still.iter().enumerate().take(4) {
                self.at[k] = place + counts * self.gauss();
            }
            self.row();
        }
        self.at = still;
    }

    /// The columns as they are.
    pub fn tracks(&self) -> Tracks {
        Tracks {
            t_us: self.t_us.clone(),
            time_source: TimeSource::Board,
            period_us: 1e6 / self.rate_hz,
            axes: self.axes.clone().map(Some),
            buttons: Some(self.masks.clone()),
            button_count: 4,
            unwired: 0,
            buttons_active_low: true,
            edges: Default::default(),
            remote_age_us: [None, None],
            remote_seq: [None, None],
            host_us: None,
            drives: Vec::new(),
            supply_mv: None,
            reset_causes: Vec::new(),
            scan_order: Vec::new(),
            raw_bits: self.bits,
            raw_bits_guessed: false,
            codes: Default::default(),
            roles_by_order: false,
            columns: Vec::new(),
            marks: self.marks.clone(),
            stream: StreamLedger { lost: Some(0), ..StreamLedger::default() },
        }
    }

    /// A random number source for damage, apart from the hand's own.
    pub fn dice(&mut self) -> impl FnMut() -> f64 + '_ {
        move || self.random()
    }
}

/// Replaces a share of the samples of every axis by any value.
pub fn spiked(mut tracks: Tracks, share: f64, dice: &mut dyn FnMut() -> f64) -> Tracks {
    let full = f64::from(tracks.full_scale());
    for axis in AxisId::ALL {
        if let Some(column) = &mut tracks.axes[axis.index()] {
            for v in column.iter_mut() {
                if dice() < share {
                    *v = (dice() * full) as i32;
                }
            }
        }
    }
    tracks
}

/// Drops the rows for which `gone` says so.
pub fn without(tracks: &Tracks, mut gone: impl FnMut(usize) -> bool) -> Tracks {
    let keep: Vec<usize> = (0..tracks.rows()).filter(|&row| !gone(row)).collect();
    let mut out = tracks.clone();
    out.t_us = keep.iter().map(|&r| tracks.t_us[r]).collect();
    for (axis, column) in out.axes.iter_mut().enumerate() {
        *column = tracks.axes[axis].as_ref().map(|c| keep.iter().map(|&r| c[r]).collect());
    }
    out.buttons = tracks.buttons.as_ref().map(|c| keep.iter().map(|&r| c[r]).collect());
    out
}
