//! Constants of a trigger: zero past the scatter of its rests, full before every full pull, and the
//! two thresholds of a switch.
use super::range::{allowance, noise_met, seen};
use super::{Solving, lacking, too_short};
use crate::measure::Shortage;
use crate::rig::Place;
use crate::survey::{TriggerFigures, short};
use crate::trim::apply::gain;
use crate::trim::{Refusal, TriggerSource, TriggerTrim};

/// Fewest pulls that give a scatter worth a tolerance factor.
const PULLS_MIN: usize = 4;

impl Solving<'_> {
    /// One trigger.
    ///
    /// Dead travel: k₁·s of the rests (99 % of releases, 95 % sure) + 3.3·σ + rounding. Off at the
    /// larger of that and 2 % of the travel, on above it by the larger of 6·σ and 3 %: at 6·σ noise
    /// alone toggles it less than once in 10⁹ samples.
    pub(super) fn trigger(&mut self, figures: &TriggerFigures) -> Result<TriggerTrim, Refusal> {
        let id = figures.half.trigger();
        let place = Place::Axis(id);
        let missing = |s: &Shortage| lacking(place, s);
        let rest = figures.rest.as_ref().map_err(missing)?;
        let full = figures.full.as_ref().map_err(missing)?;
        let advice = "pull the trigger against its stop four times more and hold it there";
        seen(place, full, "pulls that agree on where it ends", advice)?;
        let scatter = figures.rest_scatter.as_ref().map_err(missing)?;
        if scatter.n < PULLS_MIN {
            let advice = "pull the trigger four times slowly and four times fast, all the way";
            return Err(missing(&short("pulls", scatter.n, PULLS_MIN, advice)));
        }
        let still = short("quiet rests", 0, 1, "keep both hands off for eight seconds");
        let axis = self.survey.axis(id);
        let noise = axis.and_then(noise_met).ok_or_else(|| missing(&still))?;
        let rises = full.value > rest.value;
        let sign = if rises { 1.0 } else { -1.0 };
        let travel = (full.value - rest.value).abs();
        let highest = f64::from(self.full_scale);
        let rest_code = rest.value.round().clamp(0.0, highest);
        let end = sign * full.value - allowance(full, travel, self.factors);
        let full_code = (sign * end.floor()).clamp(0.0, highest);
        let dead = self.factors.one(scatter.n, 0.99) * scatter.value
            + 3.3 * noise
            + (rest.value - rest_code).abs();
        let dead = dead.ceil();
        let span = sign * (full_code - rest_code);
        let left = span - dead;
        let unfit = || too_short(place, left, self.shortest());
        if left.is_nan() || left < f64::from(self.shortest()) {
            return Err(unfit());
        }
        let off = dead.max((0.02 * span).ceil());
        let on = (off + (6.0 * noise).max(0.03 * span)).ceil().max((0.05 * span).ceil());
        if on >= span {
            return Err(unfit());
        }
        let code = |travelled: f64| (rest_code + sign * travelled).clamp(0.0, highest) as u16;
        Ok(TriggerTrim {
            half: figures.half,
            rest: rest_code as u16,
            full: full_code as u16,
            sign: sign as i8,
            dead: dead as u16,
            gain: gain(left as u16, self.frac_bits).ok_or_else(unfit)?,
            on: code(on),
            off: code(off),
            from: TriggerSource {
                rest: Some(*rest),
                rest_scatter: Some(*scatter),
                full: Some(*full),
                noise_rms: axis.and_then(|a| a.noise_rms.as_ref().ok().copied()),
            },
        })
    }
}
