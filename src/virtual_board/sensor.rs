//! Sensors: where a part stands to a share of the sensor's supply.
use super::dice::Dice;

/// What happened to the wire between a sensor and the converter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Wire {
    /// As drawn.
    #[default]
    Sound,
    /// Bridged to the supply.
    ToSupply,
    /// Bridged to ground.
    ToGround,
    /// Not connected: the pin drifts, picks up mains and keeps what the converter left on it.
    Open {
        /// Random walk of the pin, counts of a 10-bit converter per √s.
        walk: f64,
        /// Mains picked up, counts of a 10-bit converter, peak.
        hum: f64,
    },
}

/// One axis of a stick's sensor. Levels are shares of the sensor's supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct AxisSensor {
    /// Level with the stick on its mean seat.
    pub rest: f64,
    /// Level lost for one unit of travel to the low side.
    pub gain_low: f64,
    /// Level gained for one unit of travel to the high side.
    pub gain_high: f64,
    /// Lowest and highest level that the sensor can give.
    pub rails: [f64; 2],
    /// A push right or away lowers the level.
    pub inverted: bool,
}

/// A stretch of resistive track on which the wiper loses contact at times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WornTrack {
    /// Levels between which the track is worn.
    pub from: f64,
    /// Upper end of the stretch.
    pub to: f64,
    /// Chance of a lift at each reading inside the stretch.
    pub lift_share: f64,
}

impl WornTrack {
    /// The level as the wiper gives it: inside the stretch it lifts at times, for one to three
    /// readings, and falls to anything below 30 % of full scale.
    pub fn wiped(&self, level: f64, lifted: &mut (u8, f64), dice: &mut Dice) -> f64 {
        if !(self.from..=self.to).contains(&level) {
            lifted.0 = 0;
            return level;
        }
        if lifted.0 == 0 && dice.chance(self.lift_share) {
            *lifted = (1 + dice.below(3) as u8, dice.uniform(0.0, 0.3));
        }
        if lifted.0 == 0 {
            return level;
        }
        lifted.0 -= 1;
        lifted.1
    }
}

impl AxisSensor {
    /// Level at a displacement along this axis, units of travel.
    pub fn level(&self, along: f64) -> f64 {
        let up = if self.inverted { -along } else { along };
        let gain = if up < 0.0 { self.gain_low } else { self.gain_high };
        (self.rest + gain * up).clamp(self.rails[0], self.rails[1])
    }
}

/// The sensor under a stick: two axes, seldom quite square to each other or to the shell.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct StickSensor {
    /// Module turned in its footprint, counter-clockwise.
    pub rotation_rad: f64,
    /// The y axis leans toward x by this angle.
    pub skew_rad: f64,
    /// x, then y.
    pub axes: [AxisSensor; 2],
}

impl StickSensor {
    /// Displacements along the two sensing axes for a position of the stick in the shell.
    pub fn along(&self, position: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = self.rotation_rad.sin_cos();
        let x = position[0] * cos + position[1] * sin;
        let y = position[1] * cos - position[0] * sin;
        let (lean, upright) = self.skew_rad.sin_cos();
        [x, x * lean + y * upright]
    }

    /// Levels of both axes.
    pub fn levels(&self, position: [f64; 2]) -> [f64; 2] {
        let along = self.along(position);
        [0, 1].map(|i| self.axes[i].level(along[i]))
    }
}

/// A trigger's sensor. Levels are shares of the sensor's supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TriggerSensor {
    /// Level at no travel.
    pub rest: f64,
    /// Level at full travel; below `rest` when the magnet sits the other way round.
    pub full: f64,
    /// Share of the travel at the start that moves nothing.
    pub early_plateau: f64,
    /// Share of the travel at the end that moves nothing more.
    pub end_plateau: f64,
    /// The magnet passes the sensor's peak: depth of the dip, share of the span, deepest at 60 %.
    pub fold: f64,
}

/// Travel at which a fold is deepest, and over which it falls.
const FOLD_AT: f64 = 0.6;
const FOLD_WIDTH: f64 = 0.06;

impl TriggerSensor {
    /// Level at a travel of 0 to 1.
    pub fn level(&self, travel: f64) -> f64 {
        let live = (1.0 - self.early_plateau - self.end_plateau).max(0.05);
        let share = ((travel - self.early_plateau) / live).clamp(0.0, 1.0);
        self.rest + (self.full - self.rest) * (share - self.dip(share))
    }

    /// A dip steep enough that a one-way pull runs backward by `fold` of the span.
    fn dip(&self, share: f64) -> f64 {
        if self.fold <= 0.0 {
            return 0.0;
        }
        let down = ((share - FOLD_AT + FOLD_WIDTH) / FOLD_WIDTH).clamp(0.0, 1.0);
        // Made up again over a longer way than it was lost.
        let back = ((share - FOLD_AT) / 0.3).clamp(0.0, 1.0);
        (self.fold + FOLD_WIDTH) * (down - back).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis() -> AxisSensor {
        AxisSensor { rest: 0.5, gain_low: 0.4, gain_high: 0.3, rails: [0.0, 1.0], inverted: false }
    }

    #[test]
    fn each_side_has_its_own_gain_and_the_rails_hold() {
        assert!((axis().level(0.5) - 0.65).abs() < 1e-12);
        assert!((axis().level(-0.5) - 0.30).abs() < 1e-12);
        assert!((AxisSensor { inverted: true, ..axis() }.level(0.5) - 0.30).abs() < 1e-12);
        assert_eq!(AxisSensor { rails: [0.2, 0.7], ..axis() }.level(1.0), 0.7);
    }

    #[test]
    fn skew_is_the_lean_of_y_and_rotation_turns_both() {
        let mut sensor = StickSensor { rotation_rad: 0.0, skew_rad: 0.1, axes: [axis(), axis()] };
        let [x, y] = sensor.along([1.0, 0.0]);
        assert!((x - 1.0).abs() < 1e-12 && (y - 0.1_f64.sin()).abs() < 1e-12);
        sensor = StickSensor { rotation_rad: 0.2, skew_rad: 0.0, ..sensor };
        let [x, y] = sensor.along([0.2_f64.cos(), 0.2_f64.sin()]);
        assert!((x - 1.0).abs() < 1e-12 && y.abs() < 1e-12);
    }

    #[test]
    fn a_fold_runs_backward_by_its_depth() {
        let sensor = TriggerSensor {
            rest: 0.1,
            full: 0.9,
            early_plateau: 0.0,
            end_plateau: 0.0,
            fold: 0.05,
        };
        let levels: Vec<f64> = (0..=1000).map(|i| sensor.level(f64::from(i) / 1000.0)).collect();
        let mut highest = 0.0_f64;
        let back = levels.iter().fold(0.0_f64, |worst, &level| {
            highest = highest.max(level);
            worst.max(highest - level)
        });
        assert!((back / 0.8 - 0.05).abs() < 0.005, "{back}");
        assert!((levels[1000] - 0.9).abs() < 1e-12);
    }
}
