//! The C header: the constants, and the arithmetic that uses them, for C99 and C++11.
//!
//! Pure function of the trim: same trim, same bytes. What the text computes is what
//! [`crate::trim::apply`] computes, for every input. Text from the rig or the session cannot leave
//! its comment or string.
mod arithmetic;
mod calls;
mod macros;
mod quote;

use std::fmt::Write;

use crate::trim::{Trim, TrimError};

/// Writes the header. Errors: constants that contradict each other ([`Trim::checked`]).
pub fn header(trim: &Trim) -> Result<String, TrimError> {
    let trim = trim.clone().checked()?;
    let crc = trim.crc().map_err(|zone| TrimError::Constants {
        part: "sticks".to_owned(),
        why: zone.to_string(),
    })?;
    let mut out = Lines::default();
    title(&mut out, &trim, crc);
    calls::how_to(&mut out, &trim);
    refusals(&mut out, &trim);
    out.line("#ifndef TB_TRIM_H");
    out.line("#define TB_TRIM_H");
    out.blank();
    out.line("#include <stdint.h>");
    identity(&mut out, &trim, crc);
    macros::parts(&mut out, &trim);
    arithmetic::functions(&mut out, &trim);
    calls::functions(&mut out, &trim);
    out.line("#endif");
    Ok(out.0)
}

/// Text under construction, line by line.
#[derive(Default)]
struct Lines(String);

impl Lines {
    fn line(&mut self, text: &str) {
        self.0.push_str(text);
        self.0.push('\n');
    }

    fn blank(&mut self) {
        self.0.push('\n');
    }

    /// A macro and its comment.
    fn define(&mut self, name: &str, value: impl std::fmt::Display, comment: &str) {
        let head = format!("#define {name} {value}");
        // Writing to a String cannot fail.
        let _ = writeln!(self.0, "{head:<44} /* {comment} */");
    }

    /// A compile-time check: an array of negative size when it fails.
    fn check(&mut self, name: &str, condition: &str) {
        let _ = writeln!(self.0, "typedef char tb_check_{name}[({condition}) ? 1 : -1];");
    }
}

fn title(out: &mut Lines, trim: &Trim, crc: u16) {
    out.line("/*");
    out.line(" * Constants measured at the bench, and the integer arithmetic that uses them.");
    out.line(&format!(" * Controller: {}", quote::comment(&trim.rig_name)));
    out.line(&format!(" * Board:      {}", quote::comment(&trim.board_id)));
    out.line(&format!(" * Session:    {}", quote::comment(&trim.session_date)));
    let guess = if trim.raw_bits_guessed { " (guessed from the samples)" } else { "" };
    out.line(&format!(
        " * Raw width:  {} bits, codes 0-{}{guess}",
        trim.raw_bits,
        trim.full_scale()
    ));
    out.line(&format!(
        " * Layout {}, CRC-16/IBM-3740 of the constants 0x{crc:04X}.",
        trim.layout()
    ));
    out.line(
        " * Raw codes are uint16_t. Outputs are int16_t: -32767 to 32767 for sticks, 0 to 32767",
    );
    out.line(" * for triggers. Written by trimbench; measure again rather than edit.");
    out.line(" *");
}

fn refusals(out: &mut Lines, trim: &Trim) {
    for refusal in &trim.refusals {
        out.line(" *");
        out.line(&format!(
            " * Absent: {} ({})",
            quote::comment(&refusal.what),
            quote::comment(&refusal.code)
        ));
        out.line(&format!(" *   {}", quote::comment(&refusal.why)));
        out.line(&format!(" *   Next: {}", quote::comment(&refusal.advice)));
    }
    out.line(" */");
}

fn identity(out: &mut Lines, trim: &Trim, crc: u16) {
    out.blank();
    out.define("TB_LAYOUT", format!("{}u", trim.layout()), "version of the constants' layout");
    out.define("TB_BOARD_ID", quote::string(&trim.board_id), "which board");
    out.define("TB_SESSION_DATE", quote::string(&trim.session_date), "when it was measured");
    out.define("TB_RAW_BITS", format!("{}u", trim.raw_bits), "width of a raw code, bits");
    out.define("TB_FRAC_BITS", format!("{}u", trim.frac_bits), "fraction bits of every gain");
    out.define("TB_CRC", format!("0x{crc:04X}u"), "CRC-16/IBM-3740 of the byte image");
    out.blank();
    out.line("/* Define these before the include to refuse constants that are not meant for this code. */");
    for (expected, have) in [
        ("TB_EXPECT_LAYOUT", "TB_LAYOUT"),
        ("TB_EXPECT_RAW_BITS", "TB_RAW_BITS"),
        ("TB_EXPECT_CRC", "TB_CRC"),
    ] {
        out.line(&format!("#if defined({expected})"));
        out.line(&format!("#if {expected} != {have}"));
        out.line(&format!("#error \"{have} differs from {expected}\""));
        out.line("#endif");
        out.line("#endif");
    }
    out.check(
        "width",
        "TB_RAW_BITS >= 8u && TB_RAW_BITS <= 16u && TB_FRAC_BITS == TB_RAW_BITS - 2u",
    );
}
