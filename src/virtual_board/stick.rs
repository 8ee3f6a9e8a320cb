//! A thumbstick's mechanics: return spring, damping, dry friction, seat and gate, in fine time.
use std::f64::consts::TAU;

use super::body::STEP_US;
use super::dice::{Dice, Purpose};
use super::gate::Gate;
use super::hand::Grip;

/// What a stick is made of. Lengths in units of mean travel to the gate.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct StickCauses {
    /// Undamped frequency of the return, Hz.
    pub natural_hz: f64,
    /// Damping over critical damping.
    pub damping_ratio: f64,
    /// Half-width of the band round the seat in which dry friction holds against the spring.
    pub friction_band: f64,
    /// Relative spread of that friction from one let-go to the next.
    pub friction_spread: f64,
    /// SD per axis of the seat that the spring finds at each let-go.
    pub seat_sd: f64,
    /// Share of let-goes that end `hang_up` away from the seat, held by a burr.
    pub hang_up_share: f64,
    /// How far such a let-go stays out.
    pub hang_up: f64,
    /// What stops it.
    pub gate: Gate,
}

impl StickCauses {
    /// Swing beyond the rest after a let-go from the gate, share of the way, with the mean friction and
    /// the mean seat: exp(−πζ/√(1−ζ²)) without friction, which takes some of the swing and lets the
    /// stick come to rest short of its seat. Played in the board's own steps. Cost: a second of motion.
    pub fn overshoot(&self) -> f64 {
        let still =
            StickCauses { seat_sd: 0.0, friction_spread: 0.0, hang_up_share: 0.0, ..self.clone() };
        let mut stick = Stick::new(still, Dice::new(0, Purpose::Stick(0)));
        (stick.position, stick.held) = ([1.0, 0.0], true);
        let mut least = 1.0_f64;
        for _ in 0..2_000 {
            stick.step(Grip::Free, STEP_US * 1e-6);
            least = least.min(stick.position[0]);
        }
        let rest = stick.position[0];
        (rest - least) / (1.0 - rest)
    }
}

/// Natural frequency of the hand that guides a stick, Hz; critically damped.
const HAND_HZ: f64 = 9.0;

/// Speed below which a rubbing contact seizes, travels/s: without it a slow return would creep on
/// for ever toward the edge of its band.
const CREEP: f64 = 1e-4;

/// How long a let-go stick must stand still before it counts as settled, s.
const SETTLED_S: f64 = 0.3;

/// A stick in motion.
#[derive(Clone, Debug)]
pub(super) struct Stick {
    causes: StickCauses,
    position: [f64; 2],
    velocity: [f64; 2],
    seat: [f64; 2],
    friction: f64,
    held: bool,
    still_s: f64,
    let_go_toward: Option<f64>,
    dice: Dice,
}

/// A stick that has come to rest after a let-go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Settled {
    /// Direction in which it had been held, radians.
    pub from_rad: f64,
    /// Where it stands, units of travel.
    pub at: [f64; 2],
}

impl Stick {
    /// A stick at rest on a first seat.
    pub fn new(causes: StickCauses, mut dice: Dice) -> Self {
        let seat = [dice.normal() * causes.seat_sd, dice.normal() * causes.seat_sd];
        let friction = causes.friction_band;
        Stick {
            causes,
            position: seat,
            velocity: [0.0; 2],
            seat,
            friction,
            held: false,
            still_s: 0.0,
            let_go_toward: None,
            dice,
        }
    }

    /// Position at `ahead_s` from the last step (small, may be negative).
    pub fn position(&self, ahead_s: f64) -> [f64; 2] {
        [0, 1].map(|i| self.position[i] + self.velocity[i] * ahead_s)
    }

    /// One step of `h` seconds under the hand's grip; tells when a let-go has settled.
    ///
    /// Semi-implicit Euler; friction is taken off the speed last and may stop it but never turn it,
    /// which gives the stick-slip of a dry contact without chatter.
    pub fn step(&mut self, grip: Grip, h: f64) -> Option<Settled> {
        let pull = match grip {
            Grip::Held(target) => {
                self.held = true;
                self.guided(target)
            }
            Grip::Free => {
                if std::mem::take(&mut self.held) {
                    self.let_go();
                }
                let omega = TAU * self.causes.natural_hz;
                let drag = 2.0 * self.causes.damping_ratio * omega;
                [0, 1].map(|i| {
                    omega * omega * (self.seat[i] - self.position[i]) - drag * self.velocity[i]
                })
            }
        };
        self.velocity = [0, 1].map(|i| self.velocity[i] + h * pull[i]);
        self.rub(h);
        self.position = self.position(h);
        if let Grip::Held(target) = grip {
            self.stop_at_gate(target);
        }
        self.watch_still(h)
    }

    /// Acceleration under a hand that carries the spring's load and leads to `target`.
    fn guided(&self, target: [f64; 2]) -> [f64; 2] {
        let omega = TAU * HAND_HZ;
        [0, 1].map(|i| {
            omega * omega * (target[i] - self.position[i]) - 2.0 * omega * self.velocity[i]
        })
    }

    /// Dry friction: takes up to `ω²·band·h` off the speed.
    fn rub(&mut self, h: f64) {
        let omega = TAU * self.causes.natural_hz;
        let taken = omega * omega * self.friction * h;
        let speed = self.velocity[0].hypot(self.velocity[1]);
        let left = if speed > taken + CREEP { 1.0 - taken / speed } else { 0.0 };
        self.velocity = self.velocity.map(|v| v * left);
    }

    /// The rim holds the stick back and takes the outward part of its speed.
    fn stop_at_gate(&mut self, target: [f64; 2]) {
        let radius = self.position[0].hypot(self.position[1]);
        if radius < 0.5 {
            return;
        }
        let angle = self.position[1].atan2(self.position[0]);
        let pressure = (target[0].hypot(target[1]) - 1.0).clamp(0.0, 0.5);
        let rim = self.causes.gate.radius_pressed(angle, pressure);
        if radius <= rim {
            return;
        }
        let outward = [self.position[0] / radius, self.position[1] / radius];
        let speed = (self.velocity[0] * outward[0] + self.velocity[1] * outward[1]).max(0.0);
        self.position = outward.map(|u| u * rim);
        self.velocity = [0, 1].map(|i| self.velocity[i] - outward[i] * speed);
    }

    /// The thumb slips off: a new seat and a new friction for this return.
    fn let_go(&mut self) {
        let causes = &self.causes;
        let toward = self.position[1].atan2(self.position[0]);
        let hung = self.dice.chance(causes.hang_up_share);
        let out = if hung { causes.hang_up } else { 0.0 };
        let along = [toward.cos(), toward.sin()];
        self.seat = [0, 1].map(|i| self.dice.normal() * causes.seat_sd + out * along[i]);
        let spread = causes.friction_spread;
        self.friction = causes.friction_band * self.dice.uniform(1.0 - spread, 1.0 + spread);
        self.still_s = 0.0;
        self.let_go_toward = Some(toward);
    }

    fn watch_still(&mut self, h: f64) -> Option<Settled> {
        let from_rad = self.let_go_toward?;
        if self.held {
            self.let_go_toward = None;
            return None;
        }
        let still = self.velocity == [0.0; 2];
        self.still_s = if still { self.still_s + h } else { 0.0 };
        if self.still_s < SETTLED_S {
            return None;
        }
        self.let_go_toward = None;
        Some(Settled { from_rad, at: self.position })
    }
}

#[cfg(test)]
mod tests {
    use super::super::gate::Outline;
    use super::*;

    const H: f64 = 0.0005;

    fn causes() -> StickCauses {
        StickCauses {
            natural_hz: 18.0,
            damping_ratio: 0.7,
            friction_band: 0.004,
            friction_spread: 0.0,
            seat_sd: 0.0,
            hang_up_share: 0.0,
            hang_up: 0.0,
            gate: Gate { outline: Outline::Circle, lobes: Vec::new(), obstacle: None, give: 0.0 },
        }
    }

    fn stick(causes: StickCauses) -> Stick {
        Stick::new(causes, Dice::new(7, Purpose::Stick(0)))
    }

    /// Holds to the right for 0.4 s, lets go, returns positions every step of the next 0.8 s.
    fn release(stick: &mut Stick, toward_rad: f64) -> Vec<[f64; 2]> {
        let target = [1.1 * toward_rad.cos(), 1.1 * toward_rad.sin()];
        for _ in 0..800 {
            stick.step(Grip::Held(target), H);
        }
        (0..1600)
            .map(|_| {
                stick.step(Grip::Free, H);
                stick.position(0.0)
            })
            .collect()
    }

    #[test]
    fn a_pushed_stick_stands_on_the_gate() {
        let mut stick = stick(causes());
        for _ in 0..800 {
            stick.step(Grip::Held([0.9, 0.9]), H);
        }
        let [x, y] = stick.position(0.0);
        assert!((x.hypot(y) - 1.0).abs() < 1e-9, "{x} {y}");
    }

    #[test]
    fn a_let_go_stick_settles_inside_the_friction_band() {
        for direction in 0..8 {
            let mut stick = stick(causes());
            let path = release(&mut stick, f64::from(direction) * TAU / 8.0);
            let [x, y] = path[path.len() - 1];
            assert!(x.hypot(y) <= 0.004 + 1e-9, "direction {direction}: {x} {y}");
            assert_eq!(path[path.len() - 2], path[path.len() - 1], "it stands still");
        }
    }

    #[test]
    fn a_creeping_return_stops_at_the_edge_of_the_band_on_the_side_it_came_from() {
        let mut stick = stick(StickCauses { damping_ratio: 2.0, friction_band: 0.05, ..causes() });
        let right = release(&mut stick, 0.0)[1599][0];
        let left = release(&mut stick, std::f64::consts::PI)[1599][0];
        assert!((right - 0.05).abs() < 0.002, "{right}");
        assert!((left + 0.05).abs() < 0.002, "{left}");
    }

    #[test]
    fn overshoot_is_that_of_a_second_order_return() {
        // exp(−πζ/√(1−ζ²)): 37.2 % for ζ = 0.3, 16.3 % for ζ = 0.5.
        for (damping_ratio, expected) in [(0.3, 0.372), (0.5, 0.163)] {
            let free = StickCauses { damping_ratio, friction_band: 0.0, ..causes() };
            let free_share = free.overshoot();
            assert!((free_share - expected).abs() < 0.02);
            let path = release(&mut stick(free), 0.0);
            let least = path.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
            assert!((least + expected).abs() < 0.02, "{damping_ratio}: {least}");
            // Friction of 0.4 % of the way takes 0.4 · (1 + O) % beyond the seat, and of that the rest,
            // which lies short of the seat, gives some back.
            let rubbing = StickCauses { damping_ratio, ..causes() }.overshoot();
            let taken = free_share - rubbing;
            assert!((0.001..0.004 * (1.0 + expected)).contains(&taken), "{damping_ratio}: {taken}");
        }
    }

    #[test]
    fn each_let_go_is_told_once_it_has_settled() {
        let mut stick = stick(causes());
        for _ in 0..800 {
            stick.step(Grip::Held([0.0, -1.1]), H);
        }
        let told: Vec<Settled> = (0..2000).filter_map(|_| stick.step(Grip::Free, H)).collect();
        assert_eq!(told.len(), 1);
        assert!((told[0].from_rad + TAU / 4.0).abs() < 0.01);
        assert_eq!(told[0].at, stick.position(0.0));
    }

    #[test]
    fn a_burr_leaves_the_stick_out() {
        let burr = StickCauses { hang_up_share: 1.0, hang_up: 0.15, ..causes() };
        let path = release(&mut stick(burr), 0.0);
        assert!((path[1599][0] - 0.15).abs() < 0.005);
    }
}
