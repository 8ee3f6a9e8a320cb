//! The gate: the rim in the shell that stops a stick, as a radius by direction.
use std::f64::consts::{PI, TAU};

/// The outline that was meant, with the mean travel as unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Outline {
    /// Round.
    Circle,
    /// Half-axes 1 ± `excess`, the longer one at `toward_rad`.
    Ellipse { excess: f64, toward_rad: f64 },
    /// Regular polygon of circumradius 1, one corner at `corner_rad`.
    Polygon { sides: u8, corner_rad: f64 },
}

/// One departure of the rim from its outline: `amplitude · cos(order · (angle − phase))`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lobe {
    pub order: u8,
    pub amplitude: f64,
    pub phase_rad: f64,
}

/// Material standing in the way over part of the rim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Obstacle {
    pub at_rad: f64,
    pub width_rad: f64,
    /// Share of the radius that is missing at its middle.
    pub depth: f64,
}

/// A gate in units of mean mechanical travel.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Gate {
    pub outline: Outline,
    /// Form errors of the rim.
    pub lobes: Vec<Lobe>,
    pub obstacle: Option<Obstacle>,
    /// Travel beyond the rim for each unit of pressure of the hand.
    pub give: f64,
}

impl Gate {
    /// Radius at a direction, unpressed.
    pub fn radius(&self, angle_rad: f64) -> f64 {
        let outline = match self.outline {
            Outline::Circle => 1.0,
            Outline::Ellipse { excess, toward_rad } => {
                let (sin, cos) = (angle_rad - toward_rad).sin_cos();
                1.0 / ((cos / (1.0 + excess)).powi(2) + (sin / (1.0 - excess)).powi(2)).sqrt()
            }
            Outline::Polygon { sides, corner_rad } => {
                let half = PI / f64::from(sides.max(3));
                let within = (angle_rad - corner_rad).rem_euclid(2.0 * half) - half;
                half.cos() / within.cos()
            }
        };
        let form: f64 = self
            .lobes
            .iter()
            .map(|l| l.amplitude * (f64::from(l.order) * (angle_rad - l.phase_rad)).cos())
            .sum();
        outline * (1.0 + form) * (1.0 - self.obstacle.map_or(0.0, |o| o.missing(angle_rad)))
    }

    /// Radius at a direction under the hand's pressure.
    pub fn radius_pressed(&self, angle_rad: f64, pressure: f64) -> f64 {
        self.radius(angle_rad) * (1.0 + self.give * pressure)
    }
}

impl Obstacle {
    /// Share of the radius missing at a direction: full depth over the middle half, sloping ends.
    fn missing(&self, angle_rad: f64) -> f64 {
        let off = (angle_rad - self.at_rad + PI).rem_euclid(TAU) - PI;
        let within = 1.0 - off.abs() / (0.5 * self.width_rad);
        self.depth * (2.0 * within).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(outline: Outline) -> Gate {
        Gate { outline, lobes: Vec::new(), obstacle: None, give: 0.0 }
    }

    #[test]
    fn an_octagon_is_smallest_in_the_middle_of_its_sides() {
        let gate = plain(Outline::Polygon { sides: 8, corner_rad: 0.0 });
        assert!((gate.radius(0.0) - 1.0).abs() < 1e-12);
        assert!((gate.radius(PI / 4.0) - 1.0).abs() < 1e-12);
        // Inscribed over circumscribed radius of a regular octagon: cos(π/8) = 0.92388.
        assert!((gate.radius(PI / 8.0) - 0.923_879_532_5).abs() < 1e-9);
    }

    #[test]
    fn an_ellipse_has_its_half_axes() {
        let gate = plain(Outline::Ellipse { excess: 0.05, toward_rad: 0.3 });
        assert!((gate.radius(0.3) - 1.05).abs() < 1e-12);
        assert!((gate.radius(0.3 + PI / 2.0) - 0.95).abs() < 1e-12);
    }

    #[test]
    fn an_obstacle_takes_only_its_sector() {
        let mut gate = plain(Outline::Circle);
        gate.obstacle = Some(Obstacle { at_rad: 0.0, width_rad: 0.4, depth: 0.18 });
        assert!((gate.radius(0.05) - 0.82).abs() < 1e-12);
        assert!((gate.radius(TAU - 0.05) - 0.82).abs() < 1e-12);
        assert!((gate.radius(0.21) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn pressure_moves_the_rim_by_its_give() {
        let gate = Gate { give: 0.02, ..plain(Outline::Circle) };
        assert!((gate.radius_pressed(1.0, 0.1) - 1.002).abs() < 1e-12);
    }
}
