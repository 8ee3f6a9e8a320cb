//! The trim file: RON, formats 1 and 2, read with every rule that the arithmetic relies on.
use super::apply::{NoZone, gain};
use super::{AxisTrim, FORMAT, FULL_OUTPUT, StickTrim, TriggerTrim, Trim};

/// Why a trim file could not be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TrimError {
    /// Not RON, or keys and values that this format does not have.
    #[error("line {line}, column {column}: {what}")]
    Text {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What is wrong there.
        what: String,
    },
    /// Another format number.
    #[error(
        "format {0} is not known to this version, which reads 1 and 2; use the Trimbench that wrote it"
    )]
    Format(u32),
    /// Constants that contradict each other.
    #[error("{part}: {why}")]
    Constants {
        /// Which part.
        part: String,
        /// What does not fit.
        why: String,
    },
}

impl Trim {
    /// Reads a trim file and checks it. Errors: [`TrimError`].
    pub fn from_ron(text: &str) -> Result<Trim, TrimError> {
        let trim: Trim = ron::from_str(text).map_err(|e| TrimError::Text {
            line: e.span.start.line,
            column: e.span.start.col,
            what: e.code.to_string(),
        })?;
        trim.checked()
    }

    /// The trim file: same trim, same bytes.
    pub fn to_ron(&self) -> String {
        let pretty = ron::ser::PrettyConfig::new().struct_names(false).new_line("\n".to_owned());
        let mut text = ron::ser::to_string_pretty(self, pretty)
            .expect("numbers, strings and lists always have a form in RON");
        text.push('\n');
        text
    }

    /// The trim itself if its constants agree with each other. Errors: [`TrimError`].
    pub fn checked(self) -> Result<Trim, TrimError> {
        if !(1..=FORMAT).contains(&self.format) {
            return Err(TrimError::Format(self.format));
        }
        self.widths()?;
        self.axes.iter().try_for_each(|a| self.axis_fits(a))?;
        self.sticks.iter().try_for_each(|s| self.stick_fits(s))?;
        self.triggers.iter().try_for_each(|t| self.trigger_fits(t))?;
        self.options_fit()?;
        Ok(self)
    }

    fn widths(&self) -> Result<(), TrimError> {
        ensure((8..=16).contains(&self.raw_bits), "raw_bits", "must be 8 to 16")?;
        ensure(self.frac_bits == self.raw_bits - 2, "frac_bits", "must be raw_bits − 2")?;
        let of_sticks = self.axes.iter().all(|a| !a.axis.is_trigger());
        let axes = of_sticks && once(self.axes.iter().map(|a| a.axis.index()));
        ensure(axes, "axes", "each of lx, ly, rx, ry may stand once")?;
        let sticks = once(self.sticks.iter().map(|s| s.half as usize));
        ensure(sticks, "sticks", "each half may stand once")?;
        let triggers = once(self.triggers.iter().map(|t| t.half as usize));
        ensure(triggers, "triggers", "each half may stand once")?;
        let few = self.buttons.iter().all(|b| b.index < 32);
        let buttons = few && once(self.buttons.iter().map(|b| usize::from(b.index)));
        ensure(buttons, "buttons", "each number from 0 to 31 may stand once")
    }

    fn axis_fits(&self, a: &AxisTrim) -> Result<(), TrimError> {
        let part = a.axis.key();
        let within = a.low < a.centre && a.centre < a.high && a.high <= self.full_scale();
        ensure(within, part, "low, centre and high must rise within the raw width")?;
        let (neg, pos) = (a.span_neg(), a.span_pos());
        ensure(a.dead < neg && a.dead < pos, part, "the dead zone must lie within the travel")?;
        ensure(a.sign == 1 || a.sign == -1, part, "sign must be 1 or -1")?;
        let gains = [
            (a.gain_neg, neg),
            (a.gain_pos, pos),
            (a.axial_gain_neg, neg - a.dead),
            (a.axial_gain_pos, pos - a.dead),
        ];
        let right = gains.iter().all(|&(g, span)| gain(span, self.frac_bits) == Some(g));
        ensure(right, part, "gains must be 32767·2^frac_bits over the travel, rounded up")
    }

    fn stick_fits(&self, s: &StickTrim) -> Result<(), TrimError> {
        let part = s.half.key();
        let both = s.half.stick().iter().all(|&a| self.axis(a).is_some());
        ensure(both, part, "a stick needs the constants of both of its axes")?;
        ensure(s.outer <= FULL_OUTPUT, part, "the outer radius must not exceed 32767")?;
        if let Err(NoZone { .. }) = super::apply::Radial::new(s.inner, s.outer) {
            return ensure(false, part, "inner and outer radius must leave half of the travel");
        }
        let rows = s.matrix.iter().flat_map(|m| m.0);
        let small = rows
            .into_iter()
            .all(|[a, b]| u32::from(a.unsigned_abs()) + u32::from(b.unsigned_abs()) < 32768);
        ensure(small, part, "each row of the matrix must sum to less than 32768")
    }

    fn trigger_fits(&self, t: &TriggerTrim) -> Result<(), TrimError> {
        let part = ["lt", "rt"][usize::from(t.half == crate::rig::Half::Right)];
        let rises = t.sign == 1;
        ensure(rises || t.sign == -1, part, "sign must be 1 or -1")?;
        ensure((t.full > t.rest) == rises, part, "full must lie on the side that sign says")?;
        let highest = t.full.max(t.rest).max(t.on).max(t.off);
        ensure(highest <= self.full_scale(), part, "codes must lie within the raw width")?;
        ensure(t.dead < t.span(), part, "the dead travel must be shorter than the travel")?;
        let right = gain(t.span() - t.dead, self.frac_bits) == Some(t.gain);
        ensure(right, part, "gain must be 32767·2^frac_bits over the travel, rounded up")?;
        let apart = t.on != t.off && (t.on > t.off) == rises;
        ensure(apart, part, "off must lie nearer to rest than on")
    }
}

/// True when no number below 32 comes twice.
pub(super) fn once(numbers: impl Iterator<Item = usize>) -> bool {
    let mut seen = 0u32;
    for n in numbers {
        let bit = 1u32 << (n % 32);
        if seen & bit != 0 {
            return false;
        }
        seen |= bit;
    }
    true
}

pub(super) fn ensure(holds: bool, part: &str, why: &str) -> Result<(), TrimError> {
    if holds {
        return Ok(());
    }
    Err(TrimError::Constants { part: part.to_owned(), why: why.to_owned() })
}

/// A small trim for tests, as text.
#[cfg(test)]
pub(super) const PLAIN: &str = r#"(
    format: 1, board_id: "A-1", rig_name: "", session_date: "", raw_bits: 10, frac_bits: 8,
    axes: [(axis: lx, centre: 512, low: 112, high: 912, sign: 1, gain_neg: 20971, gain_pos: 20971,
        dead: 12, axial_gain_neg: 21620, axial_gain_pos: 21620)],
    sticks: [], triggers: [], buttons: [],
)"#;

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(from: &str, to: &str) -> String {
        assert!(PLAIN.contains(from), "{from}");
        Trim::from_ron(&PLAIN.replace(from, to)).expect_err("must be refused").to_string()
    }

    #[test]
    fn a_file_written_by_hand_is_read() {
        let trim = Trim::from_ron(PLAIN).expect("consistent");
        assert_eq!((trim.axes[0].centre, trim.board_id.as_str()), (512, "A-1"));
    }

    #[test]
    fn unknown_keys_are_refused_by_name_and_line() {
        let said = refused("dead: 12", "deadd: 12");
        assert!(said.contains("deadd") && said.starts_with("line 4"), "{said}");
    }

    #[test]
    fn constants_that_contradict_each_other_are_refused_by_part() {
        for (from, to, part) in [
            ("format: 1", "format: 3", "format 3"),
            ("frac_bits: 8", "frac_bits: 9", "frac_bits"),
            ("gain_neg: 20971, gain_pos", "gain_neg: 20970, gain_pos", "lx: gains"),
            ("dead: 12", "dead: 400", "lx: the dead zone"),
            ("high: 912", "high: 1024", "lx: low"),
            ("sign: 1", "sign: 0", "lx: sign"),
            ("axis: lx", "axis: lt", "axes"),
        ] {
            let said = refused(from, to);
            assert!(said.starts_with(part), "{said}");
        }
    }
}
