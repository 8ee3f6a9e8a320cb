//! Directions in which the reach falls short of the gate's form.
use super::profile::{Profile, SECTORS};
use super::shape::Form;

/// Smallest shortfall named, share of the form.
const DEPTH_MIN: f64 = 0.05;

/// A run of neighbouring sectors that fall short.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Deficit {
    /// First direction, degrees: lower border of the first sector.
    pub from_deg: f64,
    /// Last direction, degrees, greater than `from_deg`; may exceed 360.
    pub to_deg: f64,
    /// Largest shortfall, share of the form.
    pub depth: f64,
}

/// Runs of at least two sectors whose reach falls short of the fitted form by 5 % and by four
/// standard errors over the turns.
pub(super) fn deficits(profile: &Profile, form: &Form) -> Vec<Deficit> {
    let limit = DEPTH_MIN.max(4.0 * profile.sector_error());
    let short = |k: usize| {
        let k = k % SECTORS;
        let depth = 1.0 - profile.reach[k] / form.model[k];
        (depth >= limit).then_some(depth)
    };
    // Begin at a sector that is not short, so that no run is cut.
    let Some(start) = (0..SECTORS).find(|&k| short(k).is_none()) else { return Vec::new() };
    let mut found = Vec::new();
    let mut run: Option<(usize, f64)> = None;
    for k in start..=start + SECTORS {
        match (short(k), run) {
            (Some(depth), Some((first, deepest))) => run = Some((first, depth.max(deepest))),
            (Some(depth), None) => run = Some((k, depth)),
            (None, Some((first, depth))) => {
                if k - first >= 2 {
                    let step = 360.0 / SECTORS as f64;
                    let from_deg = (first as f64 - 0.5) * step;
                    let to_deg = (k as f64 - 0.5) * step;
                    found.push(Deficit { from_deg, to_deg, depth });
                }
                run = None;
            }
            (None, None) => {}
        }
    }
    found
}
