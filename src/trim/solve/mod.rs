//! From the survey to the constants: centre, ends, dead zones, thresholds, windows.
//!
//! A part that the data do not support is refused with advice; the others are solved all the same.
mod factors;
mod range;
mod scatter;
mod zone;
mod axis;
mod pair;
mod correction;
mod stick;
mod trigger;
mod optional;
mod button;
mod chosen;

use serde::{Deserialize, Serialize};

use super::{DeadZone, FORMAT, MatrixOffer, Options, Refusal, Trim, ZonePlace};
use crate::measure::Shortage;
use crate::rig::{AxisId, Half, Place, Rig, StickPart};
use crate::survey::{Code, Survey};

#[cfg(test)]
mod drawn;
#[cfg(test)]
mod promise {
    mod tests;
}
#[cfg(test)]
mod slips;
#[cfg(test)]
mod tests;

use factors::Factors;

/// What the survey gives: the constants, and the figures behind the dead zones for display.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The constants; refused parts are listed in [`Trim::refusals`].
    pub trim: Trim,
    /// Dead zones of sticks (radial) and axes (axial), with their terms.
    pub zones: Vec<DeadZone>,
    /// Corrections of skew or rotation that a person may accept.
    pub offers: Vec<MatrixOffer>,
}

/// What a person has accepted or chosen beyond the defaults.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Choices {
    /// Use the offered 2×2 correction of the left and the right stick.
    pub corrected: [bool; 2],
    /// Dead zones in place of the proposed ones, counts; one a place.
    pub zones: Vec<(ZonePlace, f64)>,
}

impl Choices {
    /// The dead zone chosen for a place, counts.
    pub fn zone(&self, place: ZonePlace) -> Option<f64> {
        self.zones.iter().find(|(p, _)| *p == place).map(|(_, counts)| *counts)
    }

    /// Chooses a dead zone for a place, or goes back to the proposed one.
    pub fn set_zone(&mut self, place: ZonePlace, counts: Option<f64>) {
        self.zones.retain(|(p, _)| *p != place);
        self.zones.extend(counts.map(|counts| (place, counts)));
    }
}

/// The constants that a survey supports. `session_date` is written as handed in.
///
/// Same inputs, same result. Cost: a few tolerance factors, some tens of milliseconds.
pub fn solve(survey: &Survey, rig: &Rig, session_date: &str) -> Solution {
    solve_with(survey, rig, session_date, &Choices::default())
}

/// As [`solve`], with what a person has accepted.
pub fn solve_with(survey: &Survey, rig: &Rig, session_date: &str, choices: &Choices) -> Solution {
    solve_by(survey, rig, session_date, choices, &mut Factors::default())
}

/// As [`solve_with`], with factors that may be known from an earlier solve.
fn solve_by(
    survey: &Survey,
    rig: &Rig,
    session_date: &str,
    choices: &Choices,
    factors: &mut Factors,
) -> Solution {
    let raw_bits = survey.raw_bits.clamp(8, 16);
    let mut solving = Solving {
        survey,
        rig,
        frac_bits: raw_bits - 2,
        full_scale: u16::MAX >> (16 - raw_bits),
        factors,
        out: Solution {
            trim: Trim {
                format: FORMAT,
                board_id: rig.board_id.clone(),
                rig_name: rig.name.clone(),
                session_date: session_date.to_owned(),
                raw_bits,
                raw_bits_guessed: survey.raw_bits_guessed,
                frac_bits: raw_bits - 2,
                axes: Vec::new(),
                sticks: Vec::new(),
                triggers: Vec::new(),
                buttons: Vec::new(),
                options: Options::default(),
                fitted_to: Default::default(),
                origin: None,
                guessed: Vec::new(),
                refusals: Vec::new(),
            },
            zones: Vec::new(),
            offers: Vec::new(),
        },
    };
    for half in Half::ALL {
        solving.half(half, choices);
    }
    solving.optional();
    solving.choose(&choices.zones);
    for figures in &survey.buttons {
        match button::solved(survey, rig, figures) {
            Ok(button) => solving.out.trim.buttons.push(button),
            Err(refusal) => solving.out.trim.refusals.push(refusal),
        }
    }
    solving.out
}

/// The work in hand.
struct Solving<'a> {
    survey: &'a Survey,
    rig: &'a Rig,
    frac_bits: u8,
    full_scale: u16,
    factors: &'a mut Factors,
    out: Solution,
}

impl Solving<'_> {
    /// Stick and trigger of a half.
    fn half(&mut self, half: Half, choices: &Choices) {
        if let Some(figures) = self.survey.stick(half) {
            let corrected = choices.corrected[half as usize];
            if let Err(refusal) = self.stick(figures, corrected) {
                self.out.trim.refusals.push(refusal);
            }
        } else {
            let lone = half.stick().into_iter().filter(|&a| self.survey.axis(a).is_some());
            self.out.trim.refusals.extend(lone.map(alone));
        }
        if let Some(figures) = self.survey.trigger(half) {
            match self.trigger(figures) {
                Ok(trigger) => self.out.trim.triggers.push(trigger),
                Err(refusal) => self.out.trim.refusals.push(refusal),
            }
        }
    }

    /// The rig's entry for a stick, or the plain one.
    fn part(&self, half: Half) -> StickPart {
        let listed = self.rig.sticks.iter().find(|s| s.half == half).cloned();
        listed.unwrap_or_else(|| StickPart::plain(half))
    }

    /// Shortest travel that a gain of 16 bits can lift: an eighth of full scale, counts.
    fn shortest(&self) -> u16 {
        self.full_scale / 8 + 1
    }
}

/// Refused because a figure is missing.
fn lacking(place: Place, shortage: &Shortage) -> Refusal {
    let why = format!("{}: {} of {} needed", shortage.what, shortage.have, shortage.need);
    Refusal::of(place, Code::NotEnoughData, why, &shortage.advice)
}

/// Refused because the travel left is too short for the arithmetic.
fn too_short(place: Place, travel: f64, shortest: u16) -> Refusal {
    let why = format!(
        "{:.0} counts of travel are left; {shortest} are needed, an eighth of full scale",
        travel.max(0.0)
    );
    let advice = "give the sensor more travel (magnet distance, supply and reference, stops of the \
        shell), then measure again";
    Refusal::of(place, Code::ShortTravel, why, advice)
}

fn alone(axis: AxisId) -> Refusal {
    let why = "the stick's other axis is not in the stream".to_owned();
    Refusal::of(axis, Code::NotEnoughData, why, "print both axes of the stick")
}
