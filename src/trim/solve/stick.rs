//! Constants of a stick: both axes, the offered correction, the radial zone.
use super::axis::Released;
use super::optional::radii;
use super::pair::Pair;
use super::zone::{RELEASES_MIN, Rests, bound, doubt};
use super::{Solving, correction, lacking};
use crate::measure::centre::Rested;
use crate::measure::{Estimate, Span};
use crate::rig::{Place, Reach, StickPart, ZoneForm};
use crate::survey::{Code, StickFigures, short};
use crate::trim::apply::{Radial, Shape};
use crate::trim::{FULL_OUTPUT, ReachTrim, Refusal, StickSource, StickTrim};
use crate::units::Unit;

impl Solving<'_> {
    /// Adds the stick and its axes, or gives the first reason against. The axes stay when only the
    /// radial zone fails.
    pub(super) fn stick(&mut self, figures: &StickFigures, corrected: bool) -> Result<(), Refusal> {
        let part = self.part(figures.half);
        let released = released(figures)?;
        let [x, y] = figures.half.stick();
        let (x, y) = match (self.axis(x, &part, &released), self.axis(y, &part, &released)) {
            (Ok(x), Ok(y)) => (x, y),
            (x, y) => {
                let (kept, refused): (Vec<_>, Vec<_>) = [x, y].into_iter().partition(Result::is_ok);
                self.out.trim.axes.extend(kept.into_iter().flatten().map(|a| a.trim));
                self.out.trim.refusals.extend(refused.into_iter().filter_map(Result::err));
                return Err(half_missing(figures));
            }
        };
        let offer = correction::offer(figures);
        let matrix = offer.filter(|_| corrected).map(|o| o.matrix);
        self.out.offers.extend(offer);
        let pair = Pair { half: figures.half, axes: [x, y], matrix, frac_bits: self.frac_bits };
        self.out.trim.axes.extend(pair.axes.iter().map(|a| a.trim.clone()));
        let stick = self.radial(figures, &part, &pair, &released)?;
        self.out.trim.sticks.push(stick);
        Ok(())
    }

    /// The radial zone in output units.
    fn radial(
        &mut self,
        figures: &StickFigures,
        part: &StickPart,
        pair: &Pair,
        released: &Released,
    ) -> Result<StickTrim, Refusal> {
        let place = Place::Stick(figures.half);
        let reach = pair.reach(figures, self.factors).map_err(|s| lacking(place, &s))?;
        let outer = reach.low.floor().clamp(0.0, f64::from(FULL_OUTPUT)) as u16;
        let zone = pair.rests(released);
        let exact = zone.radius();
        let inner = exact.ceil().clamp(0.0, f64::from(u16::MAX)) as u16;
        if Radial::new(inner, outer).is_err() {
            return Err(no_room(place, &zone, exact, outer));
        }
        let shown = zone.zone(f64::from(inner));
        self.out.zones.push(shown);
        let share = |units: f64| units / f64::from(FULL_OUTPUT);
        let shares = Estimate {
            value: share(reach.value),
            low: share(reach.low),
            high: share(reach.high),
            n: reach.n,
        };
        if part.reach == Reach::ByDirection && part.zone == ZoneForm::Radial {
            let sectors = pair.sectors(figures, self.factors).map_err(|s| lacking(place, &s))?;
            let radii = radii(&sectors);
            if Shape::new(inner, outer, Some(&radii), None).is_err() {
                return Err(no_room(place, &zone, exact, outer));
            }
            self.out.trim.options.reaches.push(ReachTrim { half: figures.half, radii });
        }
        let gate = figures.outer_reach.as_ref().map_or(Span::default(), |r| r.span);
        Ok(StickTrim {
            half: figures.half,
            form: part.zone,
            inner,
            outer,
            matrix: pair.matrix,
            from: StickSource {
                inner: Some(bound(exact, &zone, released.span)),
                outer: Some(shares.over(gate, Unit::Fraction)),
                orthogonality_deg: figures.orthogonality_deg.as_ref().ok().copied(),
                rotation_deg: figures.rotation_deg.as_ref().ok().copied(),
            },
        })
    }
}

/// The releases with their centre, or the reason why they do not suffice.
fn released(figures: &StickFigures) -> Result<Released, Refusal> {
    let place = Place::Stick(figures.half);
    let n = figures.releases.len();
    if n < RELEASES_MIN {
        let advice =
            "push the stick to its gate and let go cleanly, in eight directions, twice each";
        return Err(lacking(place, &short("releases", n, RELEASES_MIN, advice)));
    }
    let [x, y] = &figures.centre;
    let missing = |s| lacking(place, s);
    let fitted = [x.as_ref().map_err(missing)?.value, y.as_ref().map_err(missing)?.value];
    let rests: Vec<Rested> =
        figures.releases.iter().map(|r| Rested { at: r.at, from_deg: r.from_deg }).collect();
    let times = || figures.releases.iter().map(|r| r.t_us);
    Ok(Released {
        doubt: doubt(&rests, fitted),
        span: Span { start_us: times().min().unwrap_or(0), end_us: times().max().unwrap_or(0) },
        rests,
        fitted,
    })
}

fn half_missing(figures: &StickFigures) -> Refusal {
    let why = "at least one of its axes could not be solved".to_owned();
    Refusal::of(Place::Stick(figures.half), Code::NotEnoughData, why, "see to that axis first")
}

/// The dead zone leaves too little; names the term that weighs most.
fn no_room(place: Place, zone: &Rests, exact: f64, outer: u16) -> Refusal {
    let full = f64::from(FULL_OUTPUT);
    let (code, advice) = if 3.3 * zone.noise > 0.5 * exact {
        (Code::NoisyInput, "find the source of the noise first: wiring, reference, motors")
    } else if zone.drift > 0.5 * exact {
        (Code::WarmUpDrift, "let the board warm up, then measure again")
    } else if f64::from(outer) < 0.7 * full {
        (Code::GateDefect, "free the gate in the directions that fall short, then roll again")
    } else {
        (Code::StickyReturn, "see to springs, cap and friction, then release again")
    };
    let why = format!(
        "a dead zone of {:.0} % and an outer radius of {:.0} % leave less than half of the travel",
        100.0 * exact / full,
        100.0 * f64::from(outer) / full
    );
    Refusal::of(place, code, why, advice)
}
