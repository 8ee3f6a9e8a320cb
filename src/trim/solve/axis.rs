//! Constants of one stick axis: whole-count centre, ends that every push passes, axial zone.
use super::range::{allowance, noise_met, seen};
use super::zone::{Rests, bound, drift_of};
use super::{Solving, lacking, too_short};
use crate::measure::centre::Rested;
use crate::measure::{Reading, Shortage};
use crate::rig::{AxisId, Place, StickPart, Vertical};
use crate::survey::{AxisFigures, short};
use crate::trim::apply::gain;
use crate::trim::{AxisSource, AxisTrim, Doubt, DriftKnown, Refusal, ZonePlace};

/// What helps when turns left the rim.
const ROLL: &str = "roll once more all the way round, pressing outward without a pause";

/// The releases of a stick as its axes need them.
pub(super) struct Released {
    /// Settled means with the push before each.
    pub(super) rests: Vec<Rested>,
    /// Their span of board time.
    pub(super) span: crate::measure::Span,
    /// Fitted centre, counts.
    pub(super) fitted: [f64; 2],
    /// Why their shape gets no promise.
    pub(super) doubt: Option<Doubt>,
}

impl Released {
    /// Unit vectors of the pushes.
    pub(super) fn pushes(&self) -> impl Iterator<Item = [f64; 2]> {
        self.rests.iter().map(|r| {
            let (sin, cos) = r.from_deg.to_radians().sin_cos();
            [cos, sin]
        })
    }
}

/// An axis and what the radial zone needs beside its constants.
pub(super) struct SolvedAxis {
    pub(super) trim: AxisTrim,
    /// Fitted centre, counts.
    pub(super) fitted: f64,
    /// Noise that the firmware meets, counts RMS.
    pub(super) noise: f64,
    /// Drift allowance, counts, and whether it was measured.
    pub(super) drift: (f64, DriftKnown),
}

impl Solving<'_> {
    /// One axis of a stick, with its axial zone; the zone's figures go to the solution.
    pub(super) fn axis(
        &mut self,
        id: AxisId,
        part: &StickPart,
        released: &Released,
    ) -> Result<SolvedAxis, Refusal> {
        let place = Place::Axis(id);
        let missing = |s: &Shortage| lacking(place, s);
        let none = short("readings of this axis", 0, 1, "print it and record again");
        let figures = self.survey.axis(id).ok_or_else(|| missing(&none))?;
        let low = figures.low.as_ref().map_err(missing)?;
        let high = figures.high.as_ref().map_err(missing)?;
        let still = short("quiet rests", 0, 1, "keep both hands off for eight seconds");
        let noise = noise_met(figures).ok_or_else(|| missing(&still))?;
        let fitted = released.fitted[usize::from(id == part.half.stick()[1])];
        let ends = self.ends(place, fitted, low, high)?;
        let mut axis = SolvedAxis {
            trim: self.ungated(id, part, ends, sources(figures)),
            fitted,
            noise,
            drift: drift_of(figures.drift_per_min.as_ref().ok()),
        };
        self.axial(&mut axis, part, released)?;
        Ok(axis)
    }

    /// Low end, centre and high end in whole counts.
    ///
    /// The centre is rounded to nearest, the ends inwards: the firmware must meet them while the
    /// reach is still a little farther.
    fn ends(
        &mut self,
        place: Place,
        fitted: f64,
        low: &Reading,
        high: &Reading,
    ) -> Result<[u16; 3], Refusal> {
        let centre = fitted.round();
        let full = f64::from(self.full_scale);
        seen(place, low, "turns that agree on its lower end", ROLL)?;
        seen(place, high, "turns that agree on its upper end", ROLL)?;
        let low =
            (low.value + allowance(low, fitted - low.value, self.factors)).ceil().clamp(0.0, full);
        let high = (high.value - allowance(high, high.value - fitted, self.factors))
            .floor()
            .clamp(0.0, full);
        let travel = (centre - low).min(high - centre);
        if travel.is_nan() || travel < f64::from(self.shortest()) {
            return Err(too_short(place, travel, self.shortest()));
        }
        Ok([low as u16, centre as u16, high as u16])
    }

    /// The axis with its radial gains and no axial zone yet.
    fn ungated(
        &self,
        axis: AxisId,
        part: &StickPart,
        [low, centre, high]: [u16; 3],
        from: AxisSource,
    ) -> AxisTrim {
        let falls = if axis == part.half.stick()[0] {
            part.x_inverted
        } else {
            part.y_inverted != (self.rig.vertical == Vertical::AwayNegative)
        };
        // A travel of an eighth of full scale or more always has a gain.
        let of = |span: u16| gain(span, self.frac_bits).unwrap_or(u16::MAX);
        AxisTrim {
            axis,
            centre,
            low,
            high,
            sign: if falls { -1 } else { 1 },
            gain_neg: of(centre - low),
            gain_pos: of(high - centre),
            dead: 0,
            axial_gain_neg: of(centre - low),
            axial_gain_pos: of(high - centre),
            from,
        }
    }

    /// Gives the axis its axial zone and the gains past it.
    fn axial(
        &mut self,
        axis: &mut SolvedAxis,
        part: &StickPart,
        released: &Released,
    ) -> Result<(), Refusal> {
        let trim = &mut axis.trim;
        let second = usize::from(trim.axis == part.half.stick()[1]);
        let centre = f64::from(trim.centre);
        let zone = Rests {
            place: ZonePlace::Axis(trim.axis),
            points: released.rests.iter().map(|r| [r.at[second] - centre, 0.0]).collect(),
            pushes: released.pushes().map(|u| [u[second], 0.0]).collect(),
            noise: axis.noise,
            drift: axis.drift.0,
            drift_known: axis.drift.1,
            travel: 0.5 * f64::from(trim.high - trim.low),
            counts: 1.0,
            doubt: released.doubt,
        };
        let exact = zone.radius();
        let left = f64::from(trim.span_neg().min(trim.span_pos())) - exact.ceil();
        let unfit = || too_short(trim.axis.into(), left, self.shortest());
        if left.is_nan() || left < f64::from(self.shortest()) {
            return Err(unfit());
        }
        let dead = exact.ceil() as u16;
        let past = |span: u16| gain(span - dead, self.frac_bits).ok_or_else(unfit);
        let gains = [past(trim.span_neg())?, past(trim.span_pos())?];
        trim.dead = dead;
        [trim.axial_gain_neg, trim.axial_gain_pos] = gains;
        trim.from.dead = Some(bound(exact, &zone, released.span));
        let shown = zone.zone(f64::from(dead));
        self.out.zones.push(shown);
        Ok(())
    }
}

fn sources(figures: &AxisFigures) -> AxisSource {
    let copied = |figure: &crate::measure::Measured| figure.as_ref().ok().copied();
    AxisSource {
        centre: copied(&figures.centre),
        low: copied(&figures.low),
        high: copied(&figures.high),
        noise_rms: copied(&figures.noise_rms),
        dead: None,
    }
}
