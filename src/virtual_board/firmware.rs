//! The prototype's firmware: loop timing, clock, counter, banner, and the cells of a line.
use super::causes::{Causes, LoopCauses, Restart};
use super::dice::Dice;
use super::receiver::Receiver;
use crate::rig::{AxisId, Half};
use crate::wire::{ClockUnit, Dialect, Role};

/// From power-on to the banner, µs.
const BOOT_US: f64 = 250_000.0;

/// From the banner to the first frame, µs.
const SETUP_US: f64 = 20_000.0;

/// Longest lateness of a loop's start, µs.
const MOST_JITTER_US: f64 = 60.0;

/// What the firmware is to do at its next start of the loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Duty {
    /// Nothing: it is not running.
    Dark,
    /// Print the banner and the heading.
    Banner,
    /// Read everything and print a frame.
    Frame,
}

/// The firmware's own state.
#[derive(Debug)]
pub(super) struct Firmware {
    causes: LoopCauses,
    due_us: f64,
    start_us: f64,
    dark_until_us: f64,
    banner_due: bool,
    clock_from_us: f64,
    clock_at_start_us: u64,
    seq: u32,
    restarts: usize,
    /// Planned ones among them.
    planned: usize,
    reset: (&'static str, i32),
    dice: Dice,
}

/// What a frame is made of besides the firmware's own state.
#[derive(Clone, Copy, Debug)]
pub(super) struct Readings {
    /// Codes in the order of [`AxisId::ALL`].
    pub codes: [i32; 6],
    /// Bit k = button k reads pressed.
    pub pressed: u32,
    /// Counter and age (µs) of the second half's data.
    pub remote: Option<(Half, u32, f64)>,
    /// True time since power-on, µs.
    pub t_us: f64,
    /// Supply, V.
    pub supply_v: f64,
}

impl Firmware {
    /// A board that is just being powered.
    pub fn new(causes: LoopCauses, clock_at_start_us: u64, dice: Dice) -> Self {
        Firmware {
            causes,
            due_us: 0.0,
            start_us: 0.0,
            dark_until_us: BOOT_US,
            banner_due: true,
            clock_from_us: 0.0,
            clock_at_start_us,
            seq: 0,
            restarts: 0,
            planned: 0,
            reset: ("power-on", 1),
            dice,
        }
    }

    /// True time at which the loop starts next, µs.
    pub fn start_us(&self) -> f64 {
        self.start_us
    }

    /// Starts since the first.
    pub fn restarts(&self) -> usize {
        self.restarts
    }

    /// True length of a loop, µs: the board's clock may be fast or slow.
    pub fn period_us(&self) -> f64 {
        1e6 / self.causes.rate_hz / (1.0 + self.causes.clock_ppm * 1e-6)
    }

    /// Another rate from the next loop on.
    pub fn set_rate(&mut self, hz: f64) {
        self.causes.rate_hz = hz;
    }

    /// Starts anew at this start of the loop, dark for so long before; nothing while it is dark anyway.
    pub fn restart(&mut self, dark_us: f64, reset: (&'static str, i32)) {
        if self.start_us < self.dark_until_us {
            return;
        }
        self.restarts += 1;
        self.reset = reset;
        self.dark_until_us = self.start_us + dark_us;
        self.clock_from_us = self.dark_until_us;
        self.clock_at_start_us = 0;
        self.seq = 0;
        self.banner_due = true;
    }

    /// Dark after a restart.
    pub fn is_starting_again(&self) -> bool {
        self.restarts > 0 && self.start_us < self.dark_until_us
    }

    /// What to do at this start of the loop.
    pub fn duty(&mut self) -> Duty {
        let now = self.start_us;
        if let Some(&Restart { at_us, dark_us, cause, code }) =
            self.causes.restarts.get(self.planned)
            && now >= at_us
        {
            self.planned += 1;
            self.restart(dark_us, (cause, code));
        }
        if now < self.dark_until_us {
            Duty::Dark
        } else if std::mem::take(&mut self.banner_due) {
            Duty::Banner
        } else {
            Duty::Frame
        }
    }

    /// The work of this loop is done at `done_us`: when the next one starts.
    pub fn schedule(&mut self, done_us: f64, what: Duty) {
        self.due_us = match what {
            Duty::Banner => self.start_us + SETUP_US,
            Duty::Dark | Duty::Frame => (self.due_us + self.period_us()).max(done_us),
        };
        let late = self.dice.waiting(self.causes.jitter_us).min(MOST_JITTER_US);
        self.start_us = self.due_us + late;
    }

    /// When a line of so many bytes is out and the loop goes on, µs.
    pub fn printed_us(&self, begun_us: f64, bytes: usize) -> f64 {
        // One start bit, eight data bits, one stop bit.
        begun_us + self.causes.blocking_baud.map_or(0.0, |baud| 10e6 * bytes as f64 / baud)
    }

    /// The banner's text.
    pub fn banner(&self, name: &str) -> String {
        let name: String =
            name.chars().filter(|c| c.is_ascii_graphic() || *c == ' ').take(40).collect();
        format!("# {} boot, reset cause {}", name.trim(), self.reset.0)
    }

    /// Fills the cells of the frame of this loop and counts it.
    pub fn cells(
        &mut self,
        dialect: &Dialect,
        causes: &Causes,
        receiver: &Receiver,
        r: &Readings,
        cells: &mut Vec<i32>,
    ) {
        cells.clear();
        let clock = self.clock(dialect.clock, self.start_us);
        for field in &dialect.fields {
            cells.push(match field.role {
                Role::Seq => self.counter(dialect.seq_bits) as i32,
                Role::Clock => clock as u32 as i32,
                Role::Axis(axis) => r.codes[axis.index()],
                Role::Buttons => self.mask(causes, r.pressed) as i32,
                Role::Button(n) => (self.mask(causes, r.pressed) >> n.min(31) & 1) as i32,
                Role::MoreButtons(n) => (self.mask(causes, r.pressed) >> n.min(31)) as i32,
                Role::RemoteSeq(half) => {
                    r.remote.map_or(0, |(h, seq, _)| if h == half { seq as i32 } else { 0 })
                }
                Role::RemoteAge(half) => {
                    let age = r.remote.map_or(0.0, |(h, _, age)| if h == half { age } else { 0.0 });
                    in_unit(dialect.clock, age as u64) as i32
                }
                Role::Vcc => (1000.0 * r.supply_v).round() as i32,
                Role::Temperature => (10.0 * causes.temperature_c(r.t_us)).round() as i32,
                Role::ResetCause => self.reset.1,
                Role::Duty(n) => i32::from(receiver.duty(n, self.start_us)),
                Role::Light(n) => i32::from(receiver.level(n)),
                Role::OutAxis(_)
                | Role::OutButtons
                | Role::Identity
                | Role::Checksum
                | Role::Ignore => 0,
            });
        }
        self.seq = self.seq.wrapping_add(1);
    }

    fn counter(&self, bits: Option<u8>) -> u32 {
        match bits.unwrap_or(16) {
            bits @ 1..32 => self.seq & ((1 << bits) - 1),
            _ => self.seq,
        }
    }

    /// What the board's clock shows at true time `t_us`, before it wraps.
    fn clock(&self, unit: ClockUnit, t_us: f64) -> u64 {
        let since = (t_us - self.clock_from_us).max(0.0) * (1.0 + self.causes.clock_ppm * 1e-6);
        in_unit(unit, self.clock_at_start_us.wrapping_add(since.round() as u64))
    }

    /// The mask as printed: lines that read 0 when pressed are printed so.
    fn mask(&self, causes: &Causes, pressed: u32) -> u32 {
        if causes.buttons_active_low { !pressed & causes.button_bits() } else { pressed }
    }
}

fn in_unit(unit: ClockUnit, micros: u64) -> u64 {
    match unit {
        ClockUnit::Micros => micros,
        ClockUnit::Millis => micros / 1000,
    }
}

impl Causes {
    /// One bit for each button.
    fn button_bits(&self) -> u32 {
        u32::MAX.checked_shr(32 - self.contacts.len().min(32) as u32).unwrap_or(0)
    }

    /// Temperature beside the sensors of the warmer half, °C.
    fn temperature_c(&self, t_us: f64) -> f64 {
        let rise = |w: &super::causes::WarmUp| w.kelvin * w.share(t_us);
        25.0 + self.warm_up.iter().map(rise).fold(0.0, f64::max)
    }
}

/// The parts of a frame's readings that belong to a half.
pub(super) fn codes_of(half: Half) -> [usize; 3] {
    let [x, y] = half.stick();
    [x, y, half.trigger()].map(AxisId::index)
}
