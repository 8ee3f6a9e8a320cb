//! The faults that can be planted, each at the cause from which it really arises.
//!
//! Sizes at strength 1 are those that such faults typically have on a bench (common practice). Where
//! half of that would lie inside what passes for good, strength 1 is the reject limit instead, so that
//! half strength is marginal and no right instrument may stay silent: axes 10° from square (good ends
//! at 3°), a gate 20 % wider one way (a good rim departs by 5 %), bounce of 18 ms (good ends at 5 ms,
//! and frames 4 ms apart must show it).
use super::causes::{Causes, Matrix, Restart, WarmUp, scale_of};
use super::dice::Dice;
use super::gate::{Gate, Obstacle, Outline};
use super::scenario::Fault;
use super::sensor::{Wire, WornTrack};
use crate::rig::{AxisId, Half};

macro_rules! faults {
    ($($word:literal, $line:literal, $plant:expr;)+) => {
        &[$(Fault { word: $word, line: $line, plant: $plant }),+]
    };
}

/// Every fault.
pub(super) const FAULTS: &[Fault] = faults! {
    "stale-half", "the right half scans at 100 Hz by itself, whatever the loop's rate",
        |c, _, s| if let Some(r) = &mut c.remote { r.scan_period_us = Some(10_000.0 * s) };
    "lossy-link", "2 % of the lines are lost and one bit flips in 0.5 % of them",
        |c, _, s| { c.losses.drop_share = 0.02 * s; c.losses.flip_share = 0.005 * s; };
    "half-hang", "the bus to the right half hangs for 400 ms about once a minute", half_hang;
    "dead-half", "the right half falls silent for good during the run", dead_half;
    "slow-loop", "the loop waits for a debug port of 57600 baud",
        |c, _, s| c.firmware.blocking_baud = Some(57_600.0 / s);
    "baud-mismatch", "the port is opened at 9600 while the board prints at 115200",
        // By its logarithm: a strength of 0.279 is half of the rate.
        |c, _, s| c.losses.rate_ratio = 12f64.powf(-s);
    "board-reset", "a watchdog restarts the board once", board_reset;
    "floating-input", "the pin of left x is not connected",
        |c, _, s| c.wires[AxisId::Lx.index()] = Wire::Open { walk: 17.0 * s, hum: 70.0 * s };
    "stuck-rail", "the pin of right y is bridged to the supply",
        |c, _, _| c.wires[AxisId::Ry.index()] = Wire::ToSupply;
    "grounded-trigger", "the pin of the right trigger is bridged to ground",
        |c, _, _| c.wires[AxisId::Rt.index()] = Wire::ToGround;
    "swapped-axes", "left x and left y are wired the wrong way round",
        |c, _, _| c.pins.swap(AxisId::Lx.index(), AxisId::Ly.index());
    "inverted-axis", "the ends of right y are wired the wrong way round",
        |c, _, _| if let Some(s) = &mut c.stick_sensors[1] {
            s.axes[1].inverted = !s.axes[1].inverted;
        };
    "halves-exchanged", "the left half answers for the right one and the other way round",
        halves_exchanged;
    "mirrored-half", "the right half is built on a left circuit board", mirrored_half;
    "reference-mismatch", "sensors run on 3.3 V, the converter compares with 5 V",
        |c, _, s| for k in &mut c.converters { k.sensor_v *= 1.0 - 0.34 * s.min(2.0) };
    "reference-noise", "the left half's reference lacks its capacitor",
        |c, _, s| c.converters[0].reference_noise = 0.006 * s;
    "mains-hum", "the left half's leads pick up the mains", mains_hum;
    "noisy-input", "right x is four times as noisy as it should be",
        |c, _, s| c.channels[AxisId::Rx.index()].noise *= 1.0 + 3.0 * s;
    "mux-crosstalk", "left y is driven through so much resistance that it follows left x",
        mux_crosstalk;
    "worn-track", "the track of right x is worn a quarter of the way out", worn_track;
    "sticky-return", "the left stick rubs and stays where it likes", sticky_return;
    "release-overshoot", "the left stick swings through when let go", |c, _, s|
        if let Some(k) = &mut c.sticks[0] {
            k.damping_ratio = damping_of(0.372 * s);
            k.natural_hz = 14.0;
        };
    "warm-up-drift", "the right half's sensors drift while the board warms up",
        |c, _, s| c.warm_up[1] = WarmUp { counts: 12.0 * s, kelvin: 9.0 * s, tau_s: 180.0 };
    "uneven-travel", "left x is off centre, reaches its sensor's rail one way and little the other",
        uneven_travel;
    "skewed-axes", "the left stick's sensing axes are 10° from square",
        |c, _, s| if let Some(k) = &mut c.stick_sensors[0] { k.skew_rad = (10.0 * s).to_radians() };
    "rotated-stick", "the left stick's module is turned by 8° in its footprint",
        |c, _, s| if let Some(k) = &mut c.stick_sensors[0] {
            k.rotation_rad = (8.0 * s).to_radians();
        };
    "gate-defect", "the right gate is an octagon that lacks a corner", gate_defect;
    "oval-gate", "the right gate is 20 % wider one way than the other", |c, _, s|
        if let Some(k) = &mut c.sticks[1] {
            k.gate.outline = Outline::Ellipse { excess: (0.10 * s).min(0.3), toward_rad: 0.8 };
        };
    "trigger-plateau", "the right trigger moves nothing at the start and the end of its travel",
        |c, _, s| if let Some(k) = &mut c.trigger_sensors[1] {
            k.early_plateau = 0.12 * s.min(2.0);
            k.end_plateau = 0.20 * s.min(2.0);
        };
    "non-monotonic", "the left trigger's magnet passes the sensor's peak",
        |c, _, s| if let Some(k) = &mut c.trigger_sensors[0] {
            k.fold = 25.0 * s / 1024.0 / (k.full - k.rest).abs();
        };
    "missing-pull-up", "the line of b3 has no pull-up",
        |c, _, _| if let Some(k) = c.contacts.get_mut(3) { k.pulled_up = false };
    "bridged-buttons", "solder joins the lines of b5 and b6",
        |c, _, _| if c.contacts.len() > 6 { c.bridges.push([5, 6]) };
    "stuck-button", "the line of b2 is bridged so that it always reads pressed",
        |c, _, _| if let Some(k) = c.contacts.get_mut(2) { k.stuck = true };
    "chatter", "the contact of b1 is worn and bounces for long", chatter;
    "matrix-ghost", "the buttons stand in a matrix without diodes", matrix_ghost;
    "pwm-coupling", "motor 0 returns through the ground of the left half's converter", |c, _, s|
        if let Some(k) = c.loads.motors.first_mut() { k.shared_ohm = 0.24 * s };
    "ground-step", "the lights return through the ground of the left half's converter", |c, _, s|
        if let Some(k) = c.loads.lights.first_mut() { k.shared_ohm = 0.18 * s };
    "brown-out", "the supply is so weak that it collapses when a motor starts",
        |c, _, _| c.loads.supply_ohm = 2.6 * c.converters[0].sensor_v;
    "double-fire", "b4 closes a second time after most releases",
        |c, _, s| if let Some(k) = c.contacts.get_mut(4) { k.rebound_share = (0.6 * s).min(1.0) };
};

fn half_hang(c: &mut Causes, _: &mut Dice, strength: f64) {
    if let Some(remote) = &mut c.remote {
        remote.hangs_per_minute = 1.0;
        remote.hang_us = 400_000.0 * strength;
    }
}

fn dead_half(c: &mut Causes, dice: &mut Dice, _: f64) {
    if let Some(remote) = &mut c.remote {
        remote.dies_us = dice.uniform(30e6, 60e6);
    }
}

/// The rig names the columns; a matrix of four where it does not.
fn matrix_ghost(c: &mut Causes, _: &mut Dice, _: f64) {
    let columns = c.matrix.map_or(4, |matrix| matrix.columns);
    c.matrix = Some(Matrix { columns, diodes: false });
}

fn board_reset(c: &mut Causes, dice: &mut Dice, _: f64) {
    let at_us = dice.uniform(15e6, 60e6);
    c.firmware.restarts.push(Restart { at_us, dark_us: 1.2e6, cause: "watchdog", code: 8 });
}

fn halves_exchanged(c: &mut Causes, _: &mut Dice, _: f64) {
    for (left, right) in
        [(AxisId::Lx, AxisId::Rx), (AxisId::Ly, AxisId::Ry), (AxisId::Lt, AxisId::Rt)]
    {
        c.pins.swap(left.index(), right.index());
    }
    let first = c.button_pins.len().div_ceil(2);
    for k in first..c.button_pins.len() {
        c.button_pins.swap(k - first, k);
    }
}

fn mirrored_half(c: &mut Causes, _: &mut Dice, _: f64) {
    if let Some(sensor) = &mut c.stick_sensors[1] {
        sensor.axes[0].inverted = !sensor.axes[0].inverted;
    }
    let first = c.button_pins.len().div_ceil(2);
    c.button_pins[first..].reverse();
}

fn mains_hum(c: &mut Causes, _: &mut Dice, strength: f64) {
    let scale = scale_of(c.converters[0].bits);
    for axis in AxisId::ALL.into_iter().filter(|a| a.half() == Half::Left) {
        c.channels[axis.index()].hum = 6.0 * scale * strength;
    }
}

/// Source resistance at which 6 % of the earlier channel stays: `R = t / (C · ln(1/share)) − switch`.
fn mux_crosstalk(c: &mut Causes, _: &mut Dice, strength: f64) {
    let converter = &c.converters[0];
    let share = (0.06 * strength).clamp(1e-6, 0.9);
    let ohm = converter.sample_us * 1e-6 / (converter.hold_f * (1.0 / share).ln());
    c.channels[AxisId::Ly.index()].source_ohm = ohm - converter.mux_ohm;
}

/// Damping ratio at which a return swings through by a share: `exp(−πζ/√(1−ζ²))` solved for ζ.
fn damping_of(overshoot: f64) -> f64 {
    let log = overshoot.clamp(1e-3, 0.9).ln();
    -log / std::f64::consts::PI.hypot(log)
}

fn worn_track(c: &mut Causes, _: &mut Dice, strength: f64) {
    let (from, to) = (596.0 / 1024.0, 612.0 / 1024.0);
    let lift_share = (0.2 * strength).min(1.0);
    c.worn[AxisId::Rx.index()] = Some(WornTrack { from, to, lift_share });
}

fn sticky_return(c: &mut Causes, _: &mut Dice, strength: f64) {
    if let Some(stick) = &mut c.sticks[0] {
        // So slow a return that it stops where friction first holds: the side it came from.
        stick.damping_ratio = 1.4;
        stick.friction_band = 0.07 * strength;
        stick.friction_spread = 0.1;
        stick.hang_up_share = 0.10;
        stick.hang_up = 0.08 * strength;
    }
}

fn uneven_travel(c: &mut Causes, _: &mut Dice, strength: f64) {
    if let Some(sensor) = &mut c.stick_sensors[0] {
        let axis = &mut sensor.axes[0];
        axis.rest = (512.0 + 33.0 * strength) / 1024.0;
        axis.gain_high = (400.0 + 100.0 * strength) / 1024.0;
        axis.gain_low = (400.0 - 100.0 * strength).max(20.0) / 1024.0;
        // Such a sensor ends 0.3 V short of a 5 V supply.
        axis.rails = [41.0 / 1024.0, 962.0 / 1024.0];
    }
}

fn gate_defect(c: &mut Causes, dice: &mut Dice, strength: f64) {
    if let Some(stick) = &mut c.sticks[1] {
        let corner = dice.below(8) as f64 * std::f64::consts::FRAC_PI_4;
        let depth = (0.18 * strength).min(0.5);
        let width_rad = 25_f64.to_radians();
        stick.gate = Gate {
            outline: Outline::Polygon { sides: 8, corner_rad: 0.0 },
            obstacle: Some(Obstacle { at_rad: corner, width_rad, depth }),
            ..stick.gate.clone()
        };
    }
}

fn chatter(c: &mut Causes, _: &mut Dice, strength: f64) {
    if let Some(contact) = c.contacts.get_mut(1) {
        contact.press_ms = [9.0 * strength, 13.0 * strength];
        contact.release_ms = [13.0 * strength, 18.0 * strength];
        contact.most_pulses = 3;
    }
}
