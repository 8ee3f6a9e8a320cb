//! Channels of one converter that move together at rest.
use super::say::{self, SUPPLY_CAUTION};
use super::{Bench, Code, Finding, Severity};
use crate::measure::coupling::{CommonCause, CommonMode, common_mode};
use crate::rig::{AxisId, Half, Place};

/// Room to either side of a shared motion, times its size.
const ROOM: [f64; 2] = [0.9, 1.1];
/// Least correlation of the channels.
const TOGETHER: f64 = 0.3;

/// Readings of a half that swell and shrink together.
pub(super) fn reference_noise(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(rest) = bench.segments.longest_rest() else { return };
    for half in Half::ALL {
        let [x, y] = half.stick();
        let axes: Vec<AxisId> = [x, y, half.trigger()]
            .into_iter()
            .filter(|a| !super::has(found, &[Code::StuckRail, Code::FloatingInput], *a))
            .collect();
        let columns: Vec<&[i32]> =
            axes.iter().filter_map(|&a| bench.tracks.axis(a)).map(|c| rest.rows.of(c)).collect();
        let Ok(common) = common_mode(&columns) else { continue };
        if common.cause != CommonCause::Reference || common.correlation.low < TOGETHER {
            continue;
        }
        let band = &bench.limits.noise_rms_counts;
        // Means of four frames: the shared motion of single frames is twice as large.
        let rms = 2.0 * common.rms;
        let severity =
            Severity::of(band.grade(ROOM[0] * rms, ROOM[1] * rms)).unwrap_or(Severity::Note);
        let evidence = evidence(half, &common, rms, &axes);
        let remedy = "Fit the reference pin's capacitor (100 nF, close to the pin) and filter the \
            analog supply; a motor or light on the same rail needs its own";
        found.push(
            Finding::new(Code::ReferenceNoise, Place::Half(half), severity, evidence, remedy)
                .with_caution(SUPPLY_CAUTION)
                .at(bench.span(rest.rows)),
        );
    }
}

fn evidence(half: Half, common: &CommonMode, rms: f64, axes: &[AxisId]) -> String {
    let shares: Vec<String> = axes
        .iter()
        .zip(&common.shares)
        .map(|(axis, share)| format!("{} {share:.2}", axis.words()))
        .collect();
    format!(
        "channels of the {} half move together at rest: correlation {:.2} ({:.2} to {:.2}, \
         n\u{a0}=\u{a0}{}), about {rms:.1}\u{a0}counts rms, in proportion to each reading ({}); a ground \
         current would move all alike, a floating pin only itself",
        half.key(),
        common.correlation.value,
        common.correlation.low,
        common.correlation.high,
        say::count_of(common.correlation.n as u64, "mean"),
        shares.join(", "),
    )
}
