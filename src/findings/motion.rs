//! How a let-go stick comes home: swinging through.
use super::say;
use super::{Bench, Finding, Kind, Severity};
use crate::limits::Band;
use crate::measure::centre::{Settled, location, return_motion};
use crate::measure::robust::{SIGMA_PER_MAD, mad};
use crate::measure::{Reading, Span};
use crate::rig::Half;
use crate::segment::{Release, Rows};
use crate::units::Unit;

/// Swing beyond the rest over the way home (common practice).
const BAND: Band = Band::at_most(0.10, 0.20, 0.30);
/// Releases needed.
const RELEASES_MIN: usize = 4;

/// The stick swings through when it is let go: a flick to the other side.
pub const RELEASE_OVERSHOOT: Kind = Kind {
    code: "release-overshoot",
    title: "It swings through when let go",
    look: release_overshoot,
};

fn release_overshoot(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for half in Half::ALL {
        let Some(overshoot) = overshoot(bench, half) else { continue };
        let Some(severity) = super::severity_of(&BAND, &overshoot) else { continue };
        // A flick is a nuisance and no danger to the constants: never more than a warning.
        let severity = severity.max(Severity::Warning);
        let evidence = format!(
            "{} stick swings {} of the way beyond its rest when let go ({}, n\u{a0}=\u{a0}{}); {}",
            half.key(),
            overshoot.value_text(),
            overshoot.interval_text(),
            overshoot.n,
            say::missed(&BAND, severity, Unit::Fraction),
        );
        let remedy = "Fit a lighter cap or a damped spring; in firmware hold the output at zero for \
            some 60 ms after a fast return, or filter";
        found.push(
            Finding::new(RELEASE_OVERSHOOT.code, half.key(), severity, evidence, remedy)
                .at(overshoot.span),
        );
    }
}

/// Typical swing beyond the rest, share of the way home.
fn overshoot(bench: &Bench<'_>, half: Half) -> Option<Reading> {
    let releases = bench.segments.releases(half);
    let swings: Vec<f64> = releases.iter().filter_map(|r| swing(bench, r)).collect();
    if swings.len() < RELEASES_MIN {
        return None;
    }
    let span = releases.iter().map(|r| bench.span(r.settled)).reduce(Span::join)?;
    Some(location(&swings)?.over(span, Unit::Fraction))
}

fn swing(bench: &Bench<'_>, release: &Release) -> Option<f64> {
    let [x, y] = release.half.stick().map(|axis| bench.tracks.axis(axis));
    let rows = Rows { first: release.let_go, end: release.settled.end };
    let (x, y) = (rows.of(x?), rows.of(y?));
    let still = release.settled.first.checked_sub(rows.first)?;
    let level = |codes: &[i32]| {
        let tail: Vec<f64> = codes.get(still..)?.iter().map(|&c| f64::from(c)).collect();
        let mean = tail.iter().sum::<f64>() / tail.len().max(1) as f64;
        Some((mean, SIGMA_PER_MAD * mad(&tail)))
    };
    let ((mx, sx), (my, sy)) = (level(x)?, level(y)?);
    let settled = Settled {
        at: [mx, my],
        noise: [sx, sy],
        n: release.settled.len(),
        rows: (still, still + release.settled.len()),
        last_motion: release.still_from.saturating_sub(rows.first),
    };
    return_motion(x, y, rows.of(&bench.tracks.t_us), &settled).map(|m| m.overshoot)
}
