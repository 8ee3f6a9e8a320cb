//! From causes to truth: what each axis, stick and trigger would read without noise.
use std::f64::consts::{PI, TAU};

use super::body::rest_travels;
use super::causes::{Causes, scan_order};
use super::sensor::Wire;
use super::stick::StickCauses;
use super::strokes::USUAL_PRESSURE;
use super::trigger;
use super::truth::{AxisTruth, ButtonTruth, StickTruth, StreamTruth, TriggerTruth, Truth};
use crate::rig::{AxisId, Half};

/// Directions in which a gate is looked at.
const DIRECTIONS: usize = 3600;

impl Truth {
    /// The truth of a board as built, before anything has happened.
    pub(super) fn of(causes: &Causes) -> Self {
        let rest = causes.scan([[0.0; 2]; 2], rest_travels(causes));
        let loci = [Half::Left, Half::Right].map(|half| causes.gate_locus(half));
        let full = causes.scan([[0.0; 2]; 2], causes.full_travels());
        let mut axes = [None; 6];
        for axis in AxisId::ALL.into_iter().filter(|&a| causes.has(a)) {
            let channel = &causes.channels[axis.index()];
            let k = axis.index();
            let mut seen: Vec<f64> = vec![rest[k], full[k]];
            if !axis.is_trigger() {
                let locus = &loci[axis.half() as usize];
                let place = usize::from(axis == axis.half().stick()[1]);
                seen.extend(locus.iter().map(|p| p[place]));
            }
            axes[k] = Some(AxisTruth {
                rest: rest[k],
                noise_sigma: channel.noise,
                hum: channel.hum,
                low: seen.iter().copied().fold(f64::INFINITY, f64::min),
                high: seen.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            });
        }
        let stick = |half: Half| {
            causes.sticks[half as usize].as_ref()?;
            Some(causes.stick_truth(half, &rest, &loci[half as usize]))
        };
        Truth {
            raw_bits: causes.converters[0].bits,
            rate_hz: causes.firmware.rate_hz,
            clock_ppm: causes.firmware.clock_ppm,
            axes,
            sticks: Half::ALL.map(stick),
            triggers: Half::ALL.map(|half| causes.trigger_truth(half, &rest, &full)),
            buttons: vec![ButtonTruth::default(); causes.contacts.len()],
            stream: StreamTruth::default(),
        }
    }
}

impl Causes {
    fn full_travels(&self) -> [f64; 2] {
        [0, 1].map(|h| self.triggers[h].as_ref().map_or(0.0, trigger::full_travel))
    }

    /// Codes of every pin without noise and rounding, what each channel leaves to the next included.
    pub(super) fn scan(&self, sticks: [[f64; 2]; 2], travels: [f64; 2]) -> [f64; 6] {
        let levels = self.levels(sticks, travels);
        let mut codes = [0.0; 6];
        for half in Half::ALL {
            let converter = &self.converters[half as usize];
            let mut held = 0.0;
            // Twice: the first channel takes over from the last one of the scan before.
            for axis in scan_order(half).into_iter().chain(scan_order(half)) {
                if self.has(axis) {
                    let pin = converter.code_of(self.pin_volts(axis, &levels));
                    held = pin + (held - pin) * converter.residual(self.source_ohm(axis));
                    codes[axis.index()] = converter.clipped(held);
                }
            }
        }
        codes
    }

    /// Resistance of what drives a pin; a few megohms of leakage when nothing does.
    pub(super) fn source_ohm(&self, axis: AxisId) -> f64 {
        match self.wires[axis.index()] {
            Wire::Open { .. } => OPEN_PIN_OHM,
            _ => self.channels[axis.index()].source_ohm,
        }
    }

    /// Raw x, y of a half's columns with both sticks led round their gates together.
    fn gate_locus(&self, half: Half) -> Vec<[f64; 2]> {
        let [x, y] = half.stick();
        (0..DIRECTIONS)
            .map(|k| {
                let angle = k as f64 * TAU / DIRECTIONS as f64;
                let at = [0, 1].map(|h| {
                    let gate = self.sticks[h].as_ref().map(|s| &s.gate);
                    let radius = gate.map_or(0.0, |g| g.radius_pressed(angle, USUAL_PRESSURE));
                    [radius * angle.cos(), radius * angle.sin()]
                });
                let codes = self.scan(at, rest_travels(self));
                [codes[x.index()], codes[y.index()]]
            })
            .collect()
    }

    fn stick_truth(&self, half: Half, rest: &[f64; 6], locus: &[[f64; 2]]) -> StickTruth {
        let pair = half.stick().map(AxisId::index);
        let centre = pair.map(|k| rest[k]);
        let (gate_centre, gate_radius) = circle(locus);
        let codes = self.converters[half as usize].codes();
        let ratio = codes * self.converters[half as usize].sensor_v
            / self.converters[half as usize].reference_v;
        let (mut seat_sd, mut orthogonality, mut rotation) = ([0.0; 2], 0.0, 0.0);
        if let (Some(stick), Some(sensor)) =
            (&self.sticks[half as usize], &self.stick_sensors[half as usize])
        {
            seat_sd = sensor.axes.map(|a| stick.seat_sd * 0.5 * (a.gain_low + a.gain_high) * ratio);
            let flipped = sensor.axes[0].inverted != sensor.axes[1].inverted;
            orthogonality = if flipped { -sensor.skew_rad } else { sensor.skew_rad };
            rotation = sensor.rotation_rad;
        }
        StickTruth {
            centre,
            seat_sd,
            gate_centre,
            gate_radius,
            roundness: roundness(locus, centre),
            profile: profile(locus, centre),
            orthogonality_deg: orthogonality.to_degrees(),
            rotation_deg: rotation.to_degrees(),
            overshoot: self.sticks[half as usize].as_ref().map_or(0.0, StickCauses::overshoot),
            rests: Vec::new(),
        }
    }

    fn trigger_truth(&self, half: Half, rest: &[f64; 6], full: &[f64; 6]) -> Option<TriggerTruth> {
        let causes = self.triggers[half as usize].as_ref()?;
        let sensor = self.trigger_sensors[half as usize].as_ref()?;
        let k = half.trigger().index();
        let at = |travel: f64| {
            let mut travels = rest_travels(self);
            travels[half as usize] = travel;
            self.scan([[0.0; 2]; 2], travels)[k]
        };
        let (low, high) = (at(0.5 - causes.play / 2.0), at(0.5 + causes.play / 2.0));
        let (start, end) = (trigger::rest_travel(causes), trigger::full_travel(causes));
        let toward = (full[k] - rest[k]).signum();
        let (mut furthest, mut reversal) = (f64::NEG_INFINITY, 0.0_f64);
        for step in 0..=1000 {
            let code = toward * at(start + (end - start) * f64::from(step) / 1000.0);
            furthest = furthest.max(code);
            reversal = reversal.max(furthest - code);
        }
        // A seat that is further in than the early plateau is long moves the reading.
        let slope = (at(start + 0.05) - at(start)) / 0.05;
        Some(TriggerTruth {
            rest: rest[k],
            full: full[k],
            rest_sd: (causes.seat_sd * slope).abs(),
            hysteresis: (high - low).abs(),
            reversal,
            end_plateau: sensor.end_plateau,
        })
    }
}

/// Leakage of an unconnected pin (order of magnitude, common practice).
const OPEN_PIN_OHM: f64 = 2e6;

/// Least-squares circle by fixed-point iteration: `c ← mean(p) − R · mean(unit)`, `R ← mean |p − c|`.
fn circle(points: &[[f64; 2]]) -> ([f64; 2], f64) {
    let n = points.len().max(1) as f64;
    let mean = [0, 1].map(|i| points.iter().map(|p| p[i]).sum::<f64>() / n);
    let (mut centre, mut radius) = (mean, 0.0);
    for _ in 0..80 {
        let mut unit = [0.0; 2];
        radius = 0.0;
        for p in points {
            let d = [p[0] - centre[0], p[1] - centre[1]];
            let r = d[0].hypot(d[1]);
            radius += r / n;
            if r > 0.0 {
                unit = [unit[0] + d[0] / r / n, unit[1] + d[1] / r / n];
            }
        }
        let next = [0, 1].map(|i| mean[i] - radius * unit[i]);
        let moved = (next[0] - centre[0]).hypot(next[1] - centre[1]);
        centre = next;
        if moved < 1e-9 {
            break;
        }
    }
    (centre, radius)
}

/// Greatest less least distance from the least-squares centre over the mean radius, after each
/// side of each axis has been scaled to 1.
fn roundness(locus: &[[f64; 2]], centre: [f64; 2]) -> f64 {
    let reach = |axis: usize, sign: f64| {
        locus.iter().map(|p| sign * (p[axis] - centre[axis])).fold(0.0_f64, f64::max)
    };
    let sides = [0, 1].map(|axis| [reach(axis, -1.0), reach(axis, 1.0)]);
    if sides.as_flattened().iter().any(|&s| s <= 0.0) {
        return f64::NAN;
    }
    let scaled: Vec<[f64; 2]> = locus
        .iter()
        .map(|p| {
            [0, 1].map(|axis| {
                let d = p[axis] - centre[axis];
                d / sides[axis][usize::from(d >= 0.0)]
            })
        })
        .collect();
    let (middle, radius) = circle(&scaled);
    let far = |p: &[f64; 2]| (p[0] - middle[0]).hypot(p[1] - middle[1]);
    let most = scaled.iter().map(far).fold(0.0_f64, f64::max);
    let least = scaled.iter().map(far).fold(f64::INFINITY, f64::min);
    (most - least) / radius
}

/// Mean distance from the centre in each 5° sector of raw direction; NaN where nothing falls.
fn profile(locus: &[[f64; 2]], centre: [f64; 2]) -> [f64; 72] {
    let (mut sums, mut counts) = ([0.0; 72], [0.0; 72]);
    for p in locus {
        let d = [p[0] - centre[0], p[1] - centre[1]];
        let turn = d[1].atan2(d[0]).rem_euclid(TAU);
        let sector = ((turn / (PI / 36.0)) as usize).min(71);
        sums[sector] += d[0].hypot(d[1]);
        counts[sector] += 1.0;
    }
    std::array::from_fn(|s| sums[s] / counts[s])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_circle_of_a_displaced_ring_is_exact() {
        let ring: Vec<[f64; 2]> = (0..360)
            .map(|k| {
                let a = f64::from(k).to_radians();
                [518.0 + 400.0 * a.cos(), 503.0 + 400.0 * a.sin()]
            })
            .collect();
        let (centre, radius) = circle(&ring);
        assert!((centre[0] - 518.0).abs() < 1e-6 && (centre[1] - 503.0).abs() < 1e-6);
        assert!((radius - 400.0).abs() < 1e-6);
        assert!(roundness(&ring, [518.0, 503.0]) < 1e-9);
        assert!(profile(&ring, [518.0, 503.0]).iter().all(|r| (r - 400.0).abs() < 1e-6));
    }

    #[test]
    fn an_octagon_departs_from_roundness_by_eight_per_cent() {
        let gate = super::super::gate::Outline::Polygon { sides: 8, corner_rad: 0.0 };
        let gate =
            super::super::gate::Gate { outline: gate, lobes: vec![], obstacle: None, give: 0.0 };
        let ring: Vec<[f64; 2]> = (0..3600)
            .map(|k| {
                let a = f64::from(k) * TAU / 3600.0;
                let r = gate.radius(a);
                [r * a.cos(), r * a.sin()]
            })
            .collect();
        // (1 − cos(π/8)) over the mean radius (8/π)·cos(π/8)·ln tan(5π/16) of a regular octagon.
        let found = roundness(&ring, [0.0, 0.0]);
        assert!((found - 0.0802).abs() < 0.0005, "{found}");
    }
}
