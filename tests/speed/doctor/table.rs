//! What each scenario should be named, where, and what may be named with it.

/// One scenario of the confusion table.
#[derive(Clone, Copy)]
pub struct Row {
    /// Word of the scenario.
    pub scenario: &'static str,
    /// Codes that must be found; with `|` between them any of them will do.
    pub code: &'static str,
    /// Where: a channel, a half, a button, `stream`; with `|` between them any of them will do.
    pub place: &'static str,
    /// Codes that the same cause rightly brings along.
    pub with: &'static [&'static str],
    /// The one width that it shows at; `None` = any.
    pub bits: Option<u8>,
    /// Half strength has a meaning: not for swaps, inversions, rails, bridges.
    pub scales: bool,
}

const fn row(
    scenario: &'static str,
    code: &'static str,
    place: &'static str,
    with: &'static [&'static str],
    scales: bool,
) -> Row {
    Row { scenario, code, place, with, scales, bits: None }
}

/// Every scenario with a fault in it.
pub const ROWS: &[Row] = &[
    row("stale-half", "stale-half", "right", &[], true),
    row("lossy-link", "link-loss", "stream", &[], true),
    row("half-hang", "half-hang", "right", &["slow-loop"], true),
    row("dead-half", "half-hang", "right", &[], false),
    row("baud-mismatch", "baud-mismatch", "stream", &[], false),
    // Half of the board's rate: its bytes look like text.
    row("baud-mismatch@0.279", "baud-mismatch", "stream", &[], false),
    row("slow-loop", "slow-loop", "stream", &[], false),
    row("board-reset", "board-reset", "stream", &[], false),
    row("floating-input", "floating-input", "lx", &["mains-hum", "noisy-input"], true),
    row("stuck-rail", "stuck-rail", "ry", &[], false),
    row("grounded-trigger", "stuck-rail", "rt", &[], false),
    row("swapped-axes", "swapped-axes", "left", &[], false),
    row("inverted-axis", "inverted-axis", "ry", &[], false),
    row("halves-exchanged", "halves-exchanged", "left|right|halves", &[], false),
    row("mirrored-half", "mirrored-half", "right", &[], false),
    row("reference-mismatch", "reference-mismatch", "left|right|halves", &["short-travel"], true),
    row("reference-noise", "reference-noise", "left", &["noisy-input"], true),
    row("mains-hum", "mains-hum", "lx|ly|lt", &[], true),
    row("noisy-input", "noisy-input", "rx", &[], true),
    row("mux-crosstalk", "mux-crosstalk", "ly", &["skewed-axes"], true),
    row("worn-track", "worn-track", "rx", &["noisy-input"], true),
    row("sticky-return", "sticky-return", "lx|ly|left", &[], true),
    row("release-overshoot", "release-overshoot", "left", &[], true),
    row("warm-up-drift", "warm-up-drift", "rx|ry", &[], true),
    row("uneven-travel", "uneven-travel|saturated", "lx", &["saturated", "uneven-travel"], true),
    row("skewed-axes", "skewed-axes", "left", &[], true),
    row("rotated-stick", "rotated-stick", "left", &[], true),
    row("gate-defect", "gate-defect", "right", &[], true),
    row("oval-gate", "gate-defect|skewed-axes", "right", &["skewed-axes", "gate-defect"], true),
    row("trigger-plateau", "trigger-plateau", "rt", &[], true),
    row("non-monotonic", "non-monotonic", "lt", &[], true),
    row("missing-pull-up", "missing-pull-up", "b3", &[], false),
    row("bridged-buttons", "bridged-buttons", "b5|b6", &[], false),
    row("stuck-button", "stuck-rail", "b2", &[], false),
    row("matrix-ghost", "matrix-ghost", "b5", &[], false),
    row("pwm-coupling", "pwm-coupling", "lx|ly|lt", &["ground-step"], true),
    row("ground-step", "ground-step", "left", &[], true),
    row("brown-out", "brown-out", "supply", &[], false),
    row("chatter", "chatter", "b1", &[], true),
    row("double-fire", "double-fire", "b4", &[], true),
];
