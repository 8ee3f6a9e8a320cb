//! An analog trigger's mechanics: spring against a rest stop, a full stop, play before the sensor.
use std::f64::consts::TAU;

use super::dice::Dice;

/// What a trigger is made of. Lengths in units of its travel.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct TriggerCauses {
    /// Undamped frequency of the return, Hz.
    pub natural_hz: f64,
    /// Damping over critical damping.
    pub damping_ratio: f64,
    /// SD of where the rest stop catches it at each let-go.
    pub seat_sd: f64,
    /// Play between lever and sensor, whole width.
    pub play: f64,
    /// Travel beyond the full stop for each unit of pressure.
    pub give: f64,
}

/// Natural frequency of the finger, Hz; critically damped.
const FINGER_HZ: f64 = 9.0;

/// A trigger in motion.
#[derive(Clone, Debug)]
pub(super) struct Trigger {
    causes: TriggerCauses,
    lever: f64,
    velocity: f64,
    sensed: f64,
    seat: f64,
    held: bool,
    dice: Dice,
}

impl Trigger {
    /// A released trigger.
    pub fn new(causes: TriggerCauses, mut dice: Dice) -> Self {
        let seat = dice.normal() * causes.seat_sd;
        let sensed = seat + causes.play / 2.0;
        Trigger { causes, lever: seat, velocity: 0.0, sensed, seat, held: false, dice }
    }

    /// Travel as the sensor sees it, 0 at rest to 1 pulled.
    pub fn travel(&self) -> f64 {
        self.sensed
    }

    /// One step of `h` seconds; `pull` is where the finger wants the lever, `None` = no finger.
    pub fn step(&mut self, pull: Option<f64>, h: f64) {
        let (omega, damping, goal) = match pull {
            Some(goal) => {
                self.held = true;
                (TAU * FINGER_HZ, 1.0, goal)
            }
            None => {
                if std::mem::take(&mut self.held) {
                    self.seat = self.dice.normal() * self.causes.seat_sd;
                }
                (TAU * self.causes.natural_hz, self.causes.damping_ratio, self.seat - 0.2)
            }
        };
        let pull_back = omega * omega * (goal - self.lever) - 2.0 * damping * omega * self.velocity;
        self.velocity += h * pull_back;
        self.lever += h * self.velocity;
        let pressure = (pull.unwrap_or(0.0) - 1.0).clamp(0.0, 0.5);
        self.stop(self.seat, 1.0 + self.causes.give * pressure);
        let half = self.causes.play / 2.0;
        self.sensed = self.sensed.clamp(self.lever - half, self.lever + half);
    }

    fn stop(&mut self, low: f64, high: f64) {
        if self.lever <= low {
            self.lever = low;
            self.velocity = self.velocity.max(0.0);
        } else if self.lever >= high {
            self.lever = high;
            self.velocity = self.velocity.min(0.0);
        }
    }
}

/// Sensed travel of a released trigger, mean over let-goes.
pub(super) fn rest_travel(causes: &TriggerCauses) -> f64 {
    causes.play / 2.0
}

/// Sensed travel at the full stop under the hand's usual pressure.
pub(super) fn full_travel(causes: &TriggerCauses) -> f64 {
    1.0 + causes.give * super::strokes::USUAL_PRESSURE - causes.play / 2.0
}

#[cfg(test)]
mod tests {
    use super::super::dice::Purpose;
    use super::*;

    const H: f64 = 0.0005;

    fn trigger(seat_sd: f64) -> Trigger {
        let causes =
            TriggerCauses { natural_hz: 14.0, damping_ratio: 0.9, seat_sd, play: 0.01, give: 0.0 };
        Trigger::new(causes, Dice::new(3, Purpose::Trigger(0)))
    }

    #[test]
    fn it_rests_and_fills_between_its_stops_less_the_play() {
        let mut t = trigger(0.0);
        assert!((t.travel() - rest_travel(&t.causes)).abs() < 1e-12);
        (0..1000).for_each(|_| t.step(Some(1.1), H));
        assert!((t.travel() - full_travel(&t.causes)).abs() < 1e-9);
        (0..1000).for_each(|_| t.step(None, H));
        assert!((t.travel() - 0.005).abs() < 1e-9);
    }

    #[test]
    fn play_makes_the_way_back_read_higher() {
        let mut t = trigger(0.0);
        let at = |t: &mut Trigger, pull: f64| {
            (0..1000).for_each(|_| t.step(Some(pull), H));
            t.travel()
        };
        let up = at(&mut t, 0.5);
        at(&mut t, 1.1);
        let down = at(&mut t, 0.5);
        assert!((down - up - 0.01).abs() < 1e-3, "{up} {down}");
    }
}
