//! Motors and lights: the current that they take, the ground that it lifts, the supply that it pulls
//! down.
use super::receiver::PLACES;
use crate::rig::Half;

/// Electrical rise of a load's current, µs.
const RISE_US: f64 = 3_000.0;
/// How long a motor takes its starting current, µs (time constant).
const SPIN_UP_US: f64 = 50_000.0;
/// Frequency of the motors' PWM: the default of common 16 MHz boards, Hz.
pub(super) const PWM_HZ: f64 = 490.2;

/// One motor or light as it is wired.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Load {
    /// Current at full, A.
    pub amps: f64,
    /// Times that current at the moment of starting.
    pub start: f64,
    /// Switched at this frequency, Hz; 0 = its current is smoothed by a capacitor.
    pub pwm_hz: f64,
    /// Half near which it sits.
    pub half: Half,
    /// Resistance of the ground that its return shares with the converter of that half, Ω.
    pub shared_ohm: f64,
}

/// What is driven, and what feeds it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct LoadCauses {
    /// Motors, by number.
    pub motors: Vec<Load>,
    /// Lights, by number.
    pub lights: Vec<Load>,
    /// Resistance of the supply and its leads, Ω.
    pub supply_ohm: f64,
}

impl LoadCauses {
    /// As many vibration motors as the rig lists, left and right in turn, and one string of lights
    /// near the left half, each with a return of its own that shares 2 mΩ.
    pub fn sound(motors: usize) -> Self {
        let motor = |n: usize| Load {
            amps: 0.17,
            start: 2.0,
            pwm_hz: PWM_HZ,
            half: Half::ALL[n % 2],
            shared_ohm: 0.002,
        };
        let light =
            Load { amps: 0.19, start: 1.0, pwm_hz: 0.0, half: Half::Left, shared_ohm: 0.002 };
        LoadCauses {
            motors: (0..motors.min(PLACES)).map(motor).collect(),
            lights: vec![light],
            supply_ohm: 0.3,
        }
    }

    fn all(&self) -> impl Iterator<Item = (usize, &Load)> {
        let lights = self.lights.iter().take(PLACES).enumerate();
        let lights = lights.map(|(n, load)| (PLACES + n, load));
        self.motors.iter().take(PLACES).enumerate().chain(lights)
    }
}

/// What is being driven: motors first, then lights.
#[derive(Clone, Debug, Default)]
pub(super) struct Loads {
    shares: [f64; 2 * PLACES],
    since_us: [f64; 2 * PLACES],
}

impl Loads {
    /// Takes over what the firmware drives at `t_us`, of 255.
    pub fn follow(&mut self, t_us: f64, driven: [u8; 2 * PLACES]) {
        for (k, level) in driven.into_iter().enumerate() {
            let share = f64::from(level) / 255.0;
            if share != self.shares[k] {
                if self.shares[k] == 0.0 {
                    self.since_us[k] = t_us;
                }
                self.shares[k] = share;
            }
        }
    }

    /// How far the ground of a half's converter stands above that of its sensors at `t_us`, V.
    ///
    /// A switched current flows whole or not at all; a smoothed one in proportion.
    pub fn lift_v(&self, causes: &LoadCauses, half: Half, t_us: f64) -> f64 {
        let lift = |(k, load): (usize, &Load)| {
            let share = self.shares[k];
            if share == 0.0 || load.half != half {
                return 0.0;
            }
            let flowing = if load.pwm_hz > 0.0 {
                f64::from(u8::from((t_us * 1e-6 * load.pwm_hz).fract() < share))
            } else {
                share
            };
            load.amps * load.shared_ohm * flowing
        };
        causes.all().map(lift).sum()
    }

    /// What the supply sags by at `t_us`, V: mean currents, for it has its own capacitor.
    pub fn sag_v(&self, causes: &LoadCauses, t_us: f64) -> f64 {
        let amps = |(k, load): (usize, &Load)| {
            let age_us = (t_us - self.since_us[k]).max(0.0);
            let rise = 1.0 - (-age_us / RISE_US).exp();
            let starting = 1.0 + (load.start - 1.0) * (-age_us / SPIN_UP_US).exp();
            self.shares[k] * load.amps * rise * starting
        };
        causes.supply_ohm * causes.all().map(amps).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn driven(k: usize, level: u8) -> [u8; 2 * PLACES] {
        let mut all = [0; 2 * PLACES];
        all[k] = level;
        all
    }

    #[test]
    fn a_switched_current_is_there_for_its_duty_and_a_smoothed_one_in_proportion() {
        let mut causes = LoadCauses::sound(1);
        causes.motors[0].shared_ohm = 0.24;
        causes.lights[0].shared_ohm = 0.18;
        let mut loads = Loads::default();
        loads.follow(0.0, driven(0, 102));
        let steps = 10_000;
        let lifted: Vec<f64> =
            (0..steps).map(|k| loads.lift_v(&causes, Half::Left, f64::from(k) * 11.0)).collect();
        let on = lifted.iter().filter(|v| **v > 0.0).count() as f64 / f64::from(steps);
        assert!((on - 0.4).abs() < 0.01, "{on}");
        assert!(lifted.iter().all(|v| *v == 0.0 || (v - 0.17 * 0.24).abs() < 1e-12));
        assert_eq!(loads.lift_v(&causes, Half::Right, 11.0), 0.0);
        loads.follow(0.0, driven(PLACES, 255));
        assert!((loads.lift_v(&causes, Half::Left, 5.0) - 0.19 * 0.18).abs() < 1e-12);
    }

    #[test]
    fn a_starting_motor_takes_twice_its_current_and_then_its_own() {
        let causes = LoadCauses { supply_ohm: 10.0, ..LoadCauses::sound(1) };
        let mut loads = Loads::default();
        loads.follow(1e6, driven(0, 255));
        assert_eq!(loads.sag_v(&causes, 1e6), 0.0);
        let soon = loads.sag_v(&causes, 1.01e6);
        assert!(soon > 1.7 * 1.6 && soon < 3.4, "{soon}");
        assert!((loads.sag_v(&causes, 2e6) - 1.7).abs() < 1e-6);
    }
}
