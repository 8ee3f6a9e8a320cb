//! Everything a virtual board is made of, and how a healthy one is drawn.
//!
//! Ranges are those of a decent self-built controller (common practice). Sizes given "at 10 bit"
//! are counts of a 10-bit converter and grow with the width.
use std::f64::consts::{PI, TAU};

use super::contact::ContactCauses;
use super::converter::{ChannelCauses, ConverterCauses};
use super::dice::Dice;
use super::gate::{Gate, Lobe, Outline};
use super::loads::LoadCauses;
use super::sensor::{AxisSensor, StickSensor, TriggerSensor, Wire, WornTrack};
use super::stick::StickCauses;
use super::trigger::TriggerCauses;
use crate::rig::{AxisId, Half, Rig, StickPart, TriggerPart};

/// A slow change of a half's sensors after power-on: `counts · (1 − exp(−t/τ))`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct WarmUp {
    /// Final shift, counts at 10 bit.
    pub counts: f64,
    /// Final rise of temperature, K.
    pub kelvin: f64,
    /// Time constant, s; 0 = no change.
    pub tau_s: f64,
}

impl WarmUp {
    /// Share of the final shift reached at `t_us` after power-on.
    pub fn share(&self, t_us: f64) -> f64 {
        if self.tau_s > 0.0 { 1.0 - (-t_us * 1e-6 / self.tau_s).exp() } else { 0.0 }
    }
}

/// The second half: a controller of its own, asked over a two-wire bus once each loop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct RemoteCauses {
    /// Which half it is.
    pub half: Half,
    /// `None`: it converts when asked; else it scans by itself at this period, µs.
    pub scan_period_us: Option<f64>,
    /// Time on the bus for one answer, µs.
    pub poll_us: f64,
    /// Hangs of the bus a minute.
    pub hangs_per_minute: f64,
    /// Length of a hang, µs.
    pub hang_us: f64,
    /// How long the firmware waits for an answer during a hang, µs.
    pub timeout_us: f64,
    /// True time since power-on from which it never answers again, and is no longer waited for, µs.
    pub dies_us: f64,
}

/// A start after the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Restart {
    /// True time since power-on, µs.
    pub at_us: f64,
    /// Silence before the banner, µs.
    pub dark_us: f64,
    /// As the firmware words it.
    pub cause: &'static str,
    /// As the firmware's register gives it.
    pub code: i32,
}

/// The firmware's loop and its clock.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LoopCauses {
    /// Frames a second aimed at, by the board's clock.
    pub rate_hz: f64,
    /// Board clock fast by so many parts in a million.
    pub clock_ppm: f64,
    /// Mean lateness of a loop's start, µs.
    pub jitter_us: f64,
    /// Rate of a blocking debug port; `None` = a buffer that never fills.
    pub blocking_baud: Option<f64>,
    /// Starts after the first, in order.
    pub restarts: Vec<Restart>,
}

/// What happens between the board's pin and the host.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct LossCauses {
    /// Share of frames that vanish whole.
    pub drop_share: f64,
    /// Share of frames in which one bit of one character flips.
    pub flip_share: f64,
    /// Symbol rate of the host over that of the board; 0 = they agree.
    pub rate_ratio: f64,
}

/// Buttons at the crossings of rows and columns: button n stands in row n / columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Matrix {
    pub columns: u8,
    /// A diode at each button, so that current runs from its row to its column alone.
    pub diodes: bool,
}

impl Matrix {
    /// What is read when the crossings in `closed` are joined: without diodes current also runs back
    /// through other closed buttons, and every crossing of joined rows and columns reads closed.
    pub fn read(self, closed: u32, buttons: usize) -> u32 {
        if self.diodes || self.columns == 0 {
            return closed;
        }
        let columns = usize::from(self.columns);
        let place = |button: usize| (button / columns, button % columns);
        let mut seen = closed;
        // Each pass joins what shares a row and a column with something joined; at most so many.
        for _ in 0..buttons {
            let mut next = seen;
            for button in (0..buttons).filter(|b| seen >> b & 1 == 0) {
                let (row, column) = place(button);
                let at = |r: usize, c: usize| {
                    let b = r * columns + c;
                    b < buttons && seen >> b & 1 == 1
                };
                let rows = buttons.div_ceil(columns);
                let joined = (0..rows).any(|r| {
                    (0..columns)
                        .any(|c| r != row && c != column && at(row, c) && at(r, c) && at(r, column))
                });
                next |= u32::from(joined) << button;
            }
            if next == seen {
                break;
            }
            seen = next;
        }
        seen
    }
}

/// A board's causes.
#[derive(Clone, Debug)]
pub(super) struct Causes {
    pub sticks: [Option<StickCauses>; 2],
    pub stick_sensors: [Option<StickSensor>; 2],
    pub triggers: [Option<TriggerCauses>; 2],
    pub trigger_sensors: [Option<TriggerSensor>; 2],
    /// Which sensor drives the pin that the firmware calls by an axis.
    pub pins: [AxisId; 6],
    pub wires: [Wire; 6],
    /// Worn stretches of the sensors' tracks.
    pub worn: [Option<WornTrack>; 6],
    pub channels: [ChannelCauses; 6],
    pub converters: [ConverterCauses; 2],
    pub contacts: Vec<ContactCauses>,
    /// Which contact drives which bit of the mask.
    pub button_pins: Vec<usize>,
    /// Pairs of neighbouring button lines joined by solder.
    pub bridges: Vec<[usize; 2]>,
    /// A pressed button is printed as 0.
    pub buttons_active_low: bool,
    pub warm_up: [WarmUp; 2],
    pub remote: Option<RemoteCauses>,
    pub firmware: LoopCauses,
    pub losses: LossCauses,
    pub loads: LoadCauses,
    /// Columns of the matrix that the buttons of a half stand in.
    pub matrix: Option<Matrix>,
}

impl Causes {
    /// A healthy board for a rig, drawn from `dice`.
    pub fn draw(rig: &Rig, bits: u8, rate_hz: f64, dice: &mut Dice) -> Self {
        let mut sticks = [None, None];
        let mut stick_sensors = [None, None];
        for half in Half::ALL {
            // Drawn for both halves, present or not, so that a missing part changes no other.
            let (stick, sensor) = draw_stick(half, dice);
            if let Some(part) = rig.sticks.iter().find(|p| p.half == half) {
                sticks[half as usize] = Some(stick);
                stick_sensors[half as usize] = Some(mounted(sensor, part));
            }
        }
        let mut triggers = [None, None];
        let mut trigger_sensors = [None, None];
        for half in Half::ALL {
            let (trigger, sensor, high) = draw_trigger(dice);
            if let Some(part) = rig.triggers.iter().find(|p| p.half == half) {
                triggers[half as usize] = Some(trigger);
                trigger_sensors[half as usize] = Some(turned(sensor, part, high));
            }
        }
        let channels = std::array::from_fn(|_| draw_channel(bits, dice));
        let contacts: Vec<ContactCauses> = rig.buttons.iter().map(|_| draw_contact(dice)).collect();
        let second = rig.sticks.iter().any(|p| p.half == Half::Right)
            || rig.triggers.iter().any(|p| p.half == Half::Right);
        Causes {
            sticks,
            stick_sensors,
            triggers,
            trigger_sensors,
            pins: AxisId::ALL,
            wires: [Wire::Sound; 6],
            worn: [None; 6],
            channels,
            converters: [converter(bits), converter(bits)],
            button_pins: (0..contacts.len()).collect(),
            contacts,
            bridges: Vec::new(),
            buttons_active_low: rig.buttons_active_low == Some(true),
            warm_up: [WarmUp::default(); 2],
            remote: second.then_some(RemoteCauses {
                half: Half::Right,
                scan_period_us: None,
                poll_us: 300.0,
                hangs_per_minute: 0.0,
                hang_us: 0.0,
                timeout_us: 25_000.0,
                dies_us: f64::INFINITY,
            }),
            firmware: LoopCauses {
                rate_hz,
                clock_ppm: dice.bounded(20.0, 60.0),
                jitter_us: 4.0,
                blocking_baud: None,
                restarts: Vec::new(),
            },
            losses: LossCauses::default(),
            loads: LoadCauses::sound(rig.motors.len()),
            matrix: rig.button_columns.map(|columns| Matrix { columns, diodes: true }),
        }
    }

    /// Level of every sensor for given positions of the sticks and travels of the triggers.
    pub fn levels(&self, sticks: [[f64; 2]; 2], travels: [f64; 2]) -> [f64; 6] {
        let mut levels = [0.5; 6];
        for half in Half::ALL {
            if let Some(sensor) = &self.stick_sensors[half as usize] {
                let pair = sensor.levels(sticks[half as usize]);
                for (axis, level) in half.stick().into_iter().zip(pair) {
                    levels[axis.index()] = level;
                }
            }
            if let Some(sensor) = &self.trigger_sensors[half as usize] {
                levels[half.trigger().index()] = sensor.level(travels[half as usize]);
            }
        }
        levels
    }

    /// Voltage on an axis's pin for given sensor levels; an open pin stands at half the supply.
    pub fn pin_volts(&self, axis: AxisId, levels: &[f64; 6]) -> f64 {
        let supply = self.converters[axis.half() as usize].sensor_v;
        match self.wires[axis.index()] {
            Wire::Sound => supply * levels[self.pins[axis.index()].index()],
            Wire::ToSupply => supply,
            Wire::ToGround => 0.0,
            Wire::Open { .. } => 0.5 * supply,
        }
    }

    /// True when the rig has the part behind an axis.
    pub fn has(&self, axis: AxisId) -> bool {
        let half = axis.half() as usize;
        if axis.is_trigger() { self.triggers[half].is_some() } else { self.sticks[half].is_some() }
    }

    /// The half whose controller reads a button: the first half of the bits is the left one's.
    pub fn half_of_button(&self, button: usize) -> Half {
        if button < self.contacts.len().div_ceil(2) { Half::Left } else { Half::Right }
    }
}

/// Counts of a converter for one count at 10 bit.
pub(super) fn scale_of(bits: u8) -> f64 {
    (f64::from(bits) - 10.0).exp2()
}

/// The order in which a half's controller converts its pins.
pub(super) fn scan_order(half: Half) -> [AxisId; 3] {
    let [x, y] = half.stick();
    [x, y, half.trigger()]
}

fn draw_stick(half: Half, dice: &mut Dice) -> (StickCauses, StickSensor) {
    let lobes = [(2, 0.001), (3, 0.0035), (5, 0.0025)]
        .map(|(order, most)| Lobe {
            order,
            amplitude: dice.uniform(0.2 * most, most),
            phase_rad: dice.uniform(0.0, TAU),
        })
        .to_vec();
    let stick = StickCauses {
        natural_hz: dice.uniform(16.0, 20.0),
        damping_ratio: dice.uniform(0.65, 0.8),
        friction_band: dice.uniform(0.0015, 0.004),
        friction_spread: 0.3,
        seat_sd: dice.uniform(0.0042, 0.0062),
        hang_up_share: 0.0,
        hang_up: 0.0,
        gate: Gate { outline: Outline::Circle, lobes, obstacle: None, give: 0.015 },
    };
    let lean = if half == Half::Left { 1.0 } else { -1.0 };
    let sensor = StickSensor {
        rotation_rad: lean * dice.bounded(0.8, 2.0) * PI / 180.0,
        skew_rad: dice.uniform(-2.5, 2.5) * PI / 180.0,
        axes: [draw_axis(dice), draw_axis(dice)],
    };
    (stick, sensor)
}

fn draw_axis(dice: &mut Dice) -> AxisSensor {
    let travel = dice.uniform(370.0, 425.0) / 1024.0;
    let lopsided = dice.uniform(-0.045, 0.045);
    AxisSensor {
        rest: (512.0 + dice.bounded(9.0, 24.0)) / 1024.0,
        gain_low: travel * (1.0 - lopsided),
        gain_high: travel * (1.0 + lopsided),
        rails: [0.0, 1.0],
        inverted: false,
    }
}

fn mounted(mut sensor: StickSensor, part: &StickPart) -> StickSensor {
    sensor.axes[0].inverted = part.x_inverted;
    sensor.axes[1].inverted = part.y_inverted;
    sensor
}

/// The third result: whether it rests high when the rig leaves that open.
fn draw_trigger(dice: &mut Dice) -> (TriggerCauses, TriggerSensor, bool) {
    let causes = TriggerCauses {
        natural_hz: dice.uniform(12.0, 16.0),
        damping_ratio: dice.uniform(0.8, 1.0),
        seat_sd: dice.uniform(0.002, 0.004),
        play: dice.uniform(0.004, 0.010),
        give: 0.01,
    };
    let rest = dice.uniform(70.0, 150.0) / 1024.0;
    let sensor = TriggerSensor {
        rest,
        full: rest + dice.uniform(560.0, 740.0) / 1024.0,
        early_plateau: 0.0,
        end_plateau: 0.0,
        fold: 0.0,
    };
    (causes, sensor, dice.chance(0.3))
}

fn turned(sensor: TriggerSensor, part: &TriggerPart, drawn_high: bool) -> TriggerSensor {
    if part.rests_high.unwrap_or(drawn_high) {
        TriggerSensor { rest: 1.0 - sensor.rest, full: 1.0 - sensor.full, ..sensor }
    } else {
        sensor
    }
}

/// Resistance of what drives a pin on a decent board, and for which hum is given.
pub(super) const USUAL_SOURCE_OHM: f64 = 2_500.0;

fn draw_channel(bits: u8, dice: &mut Dice) -> ChannelCauses {
    let scale = scale_of(bits);
    ChannelCauses {
        source_ohm: USUAL_SOURCE_OHM,
        noise: scale * dice.uniform(0.5, 1.2),
        hum: scale * dice.uniform(0.01, 0.05),
        hum_phase_rad: dice.uniform(0.0, TAU),
    }
}

fn draw_contact(dice: &mut Dice) -> ContactCauses {
    let longest = dice.uniform(1.5, 3.0);
    ContactCauses {
        press_ms: [0.6, longest],
        release_ms: [0.8, (1.2 * longest).min(3.0)],
        most_pulses: 3,
        rebound_share: 0.0,
        stuck: false,
        pulled_up: true,
    }
}

/// Small 8-bit controllers convert 10 bits in 112 µs from 5 V; wider converters are taken to be
/// fast ones at 3.3 V (sample time and capacitor of those from memory).
fn converter(bits: u8) -> ConverterCauses {
    let slow = bits <= 10;
    let volts = if slow { 5.0 } else { 3.3 };
    ConverterCauses {
        bits,
        reference_v: volts,
        sensor_v: volts,
        ground_v: 0.0,
        reference_noise: 0.0,
        hold_f: if slow { 14e-12 } else { 1e-12 },
        mux_ohm: 10e3,
        sample_us: if slow { 12.0 } else { 0.5 },
        channel_us: if slow { 112.0 } else { 4.0 },
        mains_hz: 50.0,
    }
}
