//! Sticks: centre from the releases, form and reach from the turns.
use super::{Profile, ReleaseRest, Source, StickFigures, short};
use crate::measure::Measured;
use crate::rig::Half;

pub(super) fn figures(source: Source, half: Half) -> StickFigures {
    let releases = rests(source, half);
    let need: fn() -> Measured = || Err(short("turns and releases", 0, 16, "not measured yet"));
    StickFigures {
        half,
        centre: [need(), need()],
        scatter: need(),
        hysteresis: [need(), need()],
        outer_reach: need(),
        roundness: need(),
        mzci: need(),
        orthogonality_deg: need(),
        rotation_deg: need(),
        coverage: need(),
        profile: Profile::default(),
        releases,
    }
}

/// Where each release came to rest.
fn rests(source: Source, half: Half) -> Vec<ReleaseRest> {
    let [x, y] = half.stick();
    let (Some(x), Some(y)) = (source.tracks.axis(x), source.tracks.axis(y)) else {
        return Vec::new();
    };
    source
        .segments
        .releases(half)
        .iter()
        .map(|release| ReleaseRest {
            at: [level(release.settled.of(x)), level(release.settled.of(y))],
            from_deg: release.direction_deg,
            t_us: source.span(release.settled).start_us,
        })
        .collect()
}

/// Mean without what lies outside a few counts round the middle half: one damaged reading in a
/// hundred does not move it, clean readings are all used.
pub(super) fn level(codes: &[i32]) -> f64 {
    let mut ordered = codes.to_vec();
    ordered.sort_unstable();
    let n = ordered.len();
    if n == 0 {
        return f64::NAN;
    }
    let (low, high) = (ordered[n / 4], ordered[(3 * n / 4).min(n - 1)]);
    let way = 3 * (high - low).max(1);
    let kept = ordered.iter().filter(|&&c| c >= low - way && c <= high + way);
    let (sum, count) = kept.fold((0i64, 0u32), |(sum, n), &c| (sum + i64::from(c), n + 1));
    sum as f64 / f64::from(count)
}
