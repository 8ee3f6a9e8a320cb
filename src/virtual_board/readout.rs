//! What the two halves' controllers read: pins through converters, contacts through the mask.
use super::body::Body;
use super::causes::{Causes, USUAL_SOURCE_OHM, scale_of, scan_order};
use super::converter::{ChannelCauses, Converter};
use super::dice::{Dice, Purpose};
use super::loads::Loads;
use super::sensor::Wire;
use crate::rig::{AxisId, Half};

/// What a half's controller read last.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Image {
    /// Codes in the order of [`AxisId::ALL`]; those of the other half are not set.
    pub codes: [i32; 6],
    /// Bit k = button k reads pressed; bits of the other half are 0.
    pub pressed: u32,
}

/// Both controllers' inputs.
#[derive(Debug)]
pub(super) struct Readout {
    converters: [Converter; 2],
    channels: [ChannelCauses; 6],
    residuals: [f64; 6],
    /// Where an open pin has drifted, counts of a 10-bit converter, and when that was.
    adrift: [(f64, f64); 6],
    /// Readings for which a wiper is still lifted, and the level that it reads.
    lifted: [(u8, f64); 6],
    /// What is driven meanwhile.
    pub loads: Loads,
}

impl Readout {
    /// Controllers that have read nothing yet.
    pub fn new(causes: &Causes, seed: u64) -> Self {
        let converter = |half: Half| {
            let dice = Dice::new(seed, Purpose::Converter(half as u8));
            Converter::new(causes.converters[half as usize].clone(), dice)
        };
        let channels = AxisId::ALL.map(|axis| {
            let mut channel = causes.channels[axis.index()];
            // The mains drives a small current into the lead: what it lifts goes by the source.
            channel.hum *= channel.source_ohm / USUAL_SOURCE_OHM;
            if let Wire::Open { hum, .. } = causes.wires[axis.index()] {
                channel.hum = hum * scale_of(causes.converters[0].bits);
            }
            channel
        });
        Readout {
            converters: Half::ALL.map(converter),
            channels,
            residuals: AxisId::ALL
                .map(|a| causes.converters[a.half() as usize].residual(causes.source_ohm(a))),
            adrift: [(0.0, 0.0); 6],
            lifted: [(0, 0.0); 6],
            loads: Loads::default(),
        }
    }

    /// One half's controller reads everything it has, beginning at `start_us`; gives the time when
    /// it is done.
    pub fn scan(
        &mut self,
        half: Half,
        causes: &Causes,
        body: &mut Body,
        start_us: f64,
        image: &mut Image,
    ) -> f64 {
        image.pressed = mask(half, causes, body, start_us);
        self.converters[half as usize].begin_scan();
        let mut now = start_us + BUTTONS_US;
        for axis in scan_order(half) {
            if !causes.has(axis) {
                continue;
            }
            body.advance_to(now);
            let volts =
                self.volts(axis, causes, body, now) - self.loads.lift_v(&causes.loads, half, now);
            let k = axis.index();
            let converter = &mut self.converters[half as usize];
            image.codes[k] = converter.convert(&self.channels[k], self.residuals[k], volts, now);
            now += causes.converters[half as usize].channel_us;
        }
        now
    }

    fn volts(&mut self, axis: AxisId, causes: &Causes, body: &Body, t_us: f64) -> f64 {
        let k = axis.index();
        let dice = self.converters[axis.half() as usize].dice();
        let mut levels = [0.5; 6];
        match causes.wires[k] {
            Wire::Sound => {
                let sensor = causes.pins[k];
                let mut level = level(sensor, causes, body, t_us);
                if let Some(worn) = causes.worn[sensor.index()] {
                    level = worn.wiped(level, &mut self.lifted[k], dice);
                }
                levels[sensor.index()] = level;
            }
            Wire::Open { walk, .. } => {
                let (place, since) = self.adrift[k];
                let seconds = (t_us - since).max(0.0) * 1e-6;
                // Leakage pulls a drifting pin back to mid-scale over some tens of seconds.
                let kept = (-seconds / 20.0).exp();
                let place = place * kept + walk * seconds.sqrt() * dice.normal();
                self.adrift[k] = (place, t_us);
                let supply = causes.converters[axis.half() as usize].sensor_v;
                return causes.pin_volts(axis, &levels) + place / 1024.0 * supply;
            }
            Wire::ToSupply | Wire::ToGround => {}
        }
        causes.pin_volts(axis, &levels)
    }
}

/// Time that reading the buttons takes at the start of a scan, µs.
const BUTTONS_US: f64 = 20.0;

/// Level that a sensor gives at `t_us`.
fn level(sensor: AxisId, causes: &Causes, body: &Body, t_us: f64) -> f64 {
    let half = sensor.half();
    let h = half as usize;
    if sensor.is_trigger() {
        return causes.trigger_sensors[h].as_ref().map_or(0.5, |s| s.level(body.travel(half)));
    }
    let Some(stick) = &causes.stick_sensors[h] else { return 0.5 };
    let place = usize::from(sensor == half.stick()[1]);
    let warm = &causes.warm_up[h];
    stick.levels(body.stick(half, t_us))[place] + warm.counts / 1024.0 * warm.share(t_us)
}

/// What the button lines of a half read at `t_us`, bridges included.
fn mask(half: Half, causes: &Causes, body: &mut Body, t_us: f64) -> u32 {
    body.advance_to(t_us);
    let mut closed = 0_u32;
    for (line, &contact) in causes.button_pins.iter().enumerate() {
        if causes.half_of_button(line) == half {
            let mains_hz = causes.converters[half as usize].mains_hz;
            closed |= u32::from(body.contacts[contact].read(t_us, mains_hz)) << line;
        }
    }
    if let Some(matrix) = causes.matrix {
        closed = matrix.read(closed, causes.contacts.len());
    }
    for &[a, b] in &causes.bridges {
        let pair = 1 << a | 1 << b;
        if closed & pair != 0 {
            closed |= pair;
        }
    }
    closed
}
