//! The virtual board as a whole: causes, body, readout, firmware and the way to the host.
use super::body::Body;
use super::causes::Causes;
use super::dice::{Dice, Purpose};
use super::firmware::{Duty, Firmware, Readings, codes_of};
use super::hand::Hand;
use super::losses::Losses;
use super::options::{BoardError, Options};
use super::readout::{Image, Readout};
use super::receiver::Receiver;
use super::remote::Remote;
use super::truth::{RestTruth, Truth};
use crate::rig::{Half, Rig};
use crate::wire::{Dialect, Grammar, encode, encode_heading, encode_text};

/// Frames from one heading of a packed stream to the next.
const HEADING_EVERY: u64 = 256;

/// Share of the supply below which the brown-out detector restarts the board (2.6 V of 5 V).
const BROWN_OUT: f64 = 0.52;
/// Silence before the banner that follows, µs.
const BROWN_OUT_DARK_US: f64 = 1_200_000.0;

/// Most let-goes remembered for a stick.
const MOST_RESTS: usize = 4096;

/// A controller on a bench that does not exist, printing its debug lines in board time.
///
/// It has no clock of its own: [`VirtualBoard::advance`] says how far time has come. The same
/// options and the same orders to its [`Hand`] at the same times give the same bytes, however the
/// advance is cut.
pub struct VirtualBoard {
    rig: Rig,
    dialect: Dialect,
    causes: Causes,
    truth: Truth,
    hand: Hand,
    body: Body,
    readout: Readout,
    remote: Option<Remote>,
    firmware: Firmware,
    losses: Losses,
    receiver: Receiver,
    local: Image,
    last_scan_us: f64,
    cells: Vec<i32>,
    line: Vec<u8>,
    line_due_us: Option<u64>,
    now_us: u64,
}

impl VirtualBoard {
    /// Builds the board that the options ask for, not yet powered.
    ///
    /// # Errors
    /// See [`BoardError`].
    pub fn new(options: &Options) -> Result<Self, BoardError> {
        let (rig, dialect, bits) = options.settle()?;
        let seed = options.seed;
        let mut dice = Dice::new(seed, Purpose::Build);
        let mut causes = Causes::draw(&rig, bits, options.rate_hz, &mut dice);
        options.scenario.plant(&mut causes, &mut Dice::new(seed, Purpose::Plant));
        let clock_us = options.start_clock_us;
        let loop_dice = Dice::new(seed, Purpose::Loop);
        Ok(VirtualBoard {
            truth: Truth::of(&causes),
            hand: Hand::default(),
            body: Body::new(&causes, seed),
            readout: Readout::new(&causes, seed),
            remote: causes.remote.map(|c| Remote::new(c, Dice::new(seed, Purpose::Remote))),
            firmware: Firmware::new(causes.firmware.clone(), clock_us, loop_dice),
            losses: Losses::new(causes.losses, &dialect, Dice::new(seed, Purpose::Losses)),
            receiver: Receiver::default(),
            local: Image::default(),
            last_scan_us: f64::NEG_INFINITY,
            cells: Vec::with_capacity(dialect.fields.len()),
            line: Vec::new(),
            line_due_us: None,
            now_us: 0,
            rig,
            dialect,
            causes,
        })
    }

    /// True time since power-on to which it has been advanced, µs.
    pub fn now_us(&self) -> u64 {
        self.now_us
    }

    /// Its parts list, raw width filled in.
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// How it prints.
    pub fn dialect(&self) -> &Dialect {
        &self.dialect
    }

    /// What a measurement of it should find, and what has happened so far.
    pub fn truth(&self) -> &Truth {
        &self.truth
    }

    /// A handle to the hand on it.
    pub fn hand(&self) -> Hand {
        self.hand.clone()
    }

    /// Bytes sent to the board: commands (see [`crate::wire::command`]), obeyed and answered with
    /// the next frame.
    pub fn write(&mut self, bytes: &[u8]) {
        self.truth.stream.bytes_received += bytes.len() as u64;
        self.receiver.take(bytes, self.firmware.start_us(), &self.rig.name);
        if let Some(hz) = self.receiver.take_rate() {
            self.firmware.set_rate(f64::from(hz));
        }
    }

    /// Lets time come to `until_us` since power-on and adds what the board prints to `out`.
    ///
    /// A time that has passed already changes nothing.
    pub fn advance(&mut self, until_us: u64, out: &mut Vec<u8>) {
        self.advance_lines(until_us, |_, line| out.extend_from_slice(line));
    }

    /// Like [`VirtualBoard::advance`], giving each line with the time at which its last byte left
    /// the board. The banner and the heading come together.
    pub fn advance_lines(&mut self, until_us: u64, mut print: impl FnMut(u64, &[u8])) {
        self.hand.take(&mut self.body.orders);
        loop {
            if let Some(due_us) = self.line_due_us {
                if due_us > until_us {
                    break;
                }
                self.losses.received(&mut self.line);
                if !self.line.is_empty() {
                    print(due_us, &self.line);
                }
                self.line_due_us = None;
            } else if self.firmware.start_us() <= until_us as f64 {
                self.run_loop();
            } else {
                break;
            }
        }
        self.now_us = self.now_us.max(until_us);
    }

    /// One turn of the firmware's loop; what it prints stands in `line` until it is due.
    fn run_loop(&mut self) {
        let start_us = self.firmware.start_us();
        self.body.follow_orders(start_us);
        // A controller that is starting again drives nothing and hears nothing.
        if self.firmware.is_starting_again() {
            self.receiver.restart();
        }
        self.readout.loads.follow(start_us, self.receiver.driven(start_us));
        let supply_v = self.causes.converters[0].sensor_v
            - self.readout.loads.sag_v(&self.causes.loads, start_us);
        if supply_v < BROWN_OUT * self.causes.converters[0].sensor_v {
            self.firmware.restart(BROWN_OUT_DARK_US, ("brown-out", 4));
        }
        let duty = self.firmware.duty();
        self.truth.stream.resets = self.firmware.restarts() as u64;
        let done_us = match duty {
            Duty::Dark => {
                self.body.advance_to(start_us);
                start_us
            }
            Duty::Banner => {
                self.line.clear();
                let banner = self.firmware.banner(&self.rig.name);
                encode_text(&self.dialect, &banner, &mut self.line);
                encode_heading(&self.dialect, &mut self.line);
                self.line_due_us = Some(start_us.ceil() as u64);
                start_us
            }
            Duty::Frame => self.frame(start_us, supply_v),
        };
        self.book_rests();
        self.firmware.schedule(done_us, duty);
    }

    /// Reads everything, prints a line, gives the time when the loop is done with it.
    fn frame(&mut self, start_us: f64, supply_v: f64) -> f64 {
        if let Some(remote) = &mut self.remote {
            remote.run_to(start_us, &self.causes, &mut self.body, &mut self.readout);
        }
        let mut now = start_us;
        let away = self.causes.remote.map(|r| r.half);
        let mut image = Image::default();
        for half in Half::ALL.into_iter().filter(|&h| Some(h) != away) {
            let (causes, body) = (&self.causes, &mut self.body);
            now = self.readout.scan(half, causes, body, now, &mut self.local);
            join(&mut image, &self.local, half);
        }
        let mut second = None;
        if let (Some(remote), Some(half)) = (&mut self.remote, away) {
            let asked_us = now;
            let (answer, free_us) =
                remote.poll(now, &self.causes, &mut self.body, &mut self.readout);
            now = free_us;
            join(&mut image, &answer.image, half);
            let age_us = (asked_us - answer.scanned_us).max(0.0);
            second = Some((half, answer.seq, age_us));
            self.book_age(answer.scanned_us, age_us);
        }
        let readings = Readings {
            codes: image.codes,
            pressed: image.pressed,
            remote: second,
            t_us: start_us,
            supply_v,
        };
        self.book_buttons(image.pressed, start_us);
        self.firmware.cells(
            &self.dialect,
            &self.causes,
            &self.receiver,
            &readings,
            &mut self.cells,
        );
        self.line.clear();
        encode(&self.dialect, &self.cells, &mut self.line);
        now = self.firmware.printed_us(now, self.line.len());
        self.losses.pass(&mut self.line, &mut self.truth.stream);
        // Behind a line that lost its end the words would be lost too: they wait.
        if !self.losses.is_open() {
            self.say_in_between();
        }
        self.line_due_us = Some(now.ceil() as u64);
        now
    }

    /// Puts what is due besides readings behind the frame: answers, and the heading, which a packed
    /// stream repeats for whoever joins late.
    fn say_in_between(&mut self) {
        for answer in self.receiver.take_answers() {
            encode_text(&self.dialect, &answer, &mut self.line);
        }
        let packed = self.dialect.grammar == Grammar::Packed;
        let turn = packed && self.truth.stream.sent.is_multiple_of(HEADING_EVERY);
        if self.receiver.take_heading() || turn {
            encode_heading(&self.dialect, &mut self.line);
        }
    }

    fn book_age(&mut self, scanned_us: f64, age_us: f64) {
        let stream = &mut self.truth.stream;
        if scanned_us > self.last_scan_us {
            stream.fresh += 1;
        } else {
            stream.repeated += 1;
        }
        self.last_scan_us = scanned_us;
        stream.oldest_us = stream.oldest_us.max(age_us as u64);
    }

    fn book_buttons(&mut self, pressed: u32, t_us: f64) {
        let quiet_us = (2.0 * self.firmware.period_us()).max(10_000.0);
        for (bit, truth) in self.truth.buttons.iter_mut().enumerate() {
            let contact = self.causes.button_pins[bit];
            let seen = pressed >> bit & 1 == 1;
            self.body.contacts[contact].book(seen, t_us, quiet_us, truth);
        }
    }

    fn book_rests(&mut self) {
        for (half, t_us, settled) in self.body.take_settled() {
            let Some(stick) = &mut self.truth.sticks[half as usize] else { continue };
            let mut sticks = [[0.0; 2]; 2];
            sticks[half as usize] = settled.at;
            let codes = self.causes.scan(sticks, super::body::rest_travels(&self.causes));
            if stick.rests.len() >= MOST_RESTS {
                stick.rests.remove(0);
            }
            stick.rests.push(RestTruth {
                t_us: t_us as u64,
                from_deg: settled.from_rad.to_degrees(),
                at: half.stick().map(|axis| codes[axis.index()]),
            });
        }
    }
}

/// Takes over what belongs to a half.
fn join(image: &mut Image, from: &Image, half: Half) {
    for k in codes_of(half) {
        image.codes[k] = from.codes[k];
    }
    image.pressed |= from.pressed;
}
