//! The C header: the constants, and the arithmetic that uses them, for C99 and C++11.
//!
//! Pure function of the trim: same trim, same bytes. What the text computes is what
//! [`crate::trim::apply`] computes, for every input. Text from the rig or the session cannot leave
//! its comment or string. Two flavours: the whole header, and the constants alone as macros.
mod arithmetic;
mod calls;
mod extra_calls;
mod extras;
mod macros;
mod quote;

use std::fmt::Write;

use crate::trim::{Trim, TrimError};

/// Writes the header. Errors: constants that contradict each other ([`Trim::checked`]).
pub fn header(trim: &Trim) -> Result<String, TrimError> {
    let trim = trim.clone().checked()?;
    let crc = crc(&trim)?;
    let mut out = Lines::default();
    out.line("/*");
    out.line(" * Constants measured at the bench, and the integer arithmetic that uses them.");
    title(&mut out, &trim, crc);
    calls::how_to(&mut out, &trim);
    refusals(&mut out, &trim);
    out.line("#ifndef TB_TRIM_H");
    out.line("#define TB_TRIM_H");
    out.blank();
    out.line("#include <stdint.h>");
    identity(&mut out, &trim, crc);
    macros::parts(&mut out, &trim);
    extras::parts(&mut out, &trim);
    arithmetic::functions(&mut out, &trim);
    calls::functions(&mut out, &trim);
    out.line("#endif");
    Ok(out.text)
}

/// Writes the constants alone: macros and checks by the preprocessor, no types, no functions, no
/// other header. Names and values are those of [`header`]. Errors: as there.
pub fn constants(trim: &Trim) -> Result<String, TrimError> {
    let trim = trim.clone().checked()?;
    let crc = crc(&trim)?;
    let mut out = Lines { macros_only: true, ..Lines::default() };
    out.line("/*");
    out.line(" * Constants measured at the bench, as macros alone.");
    title(&mut out, &trim, crc);
    calls::by_hand(&mut out);
    refusals(&mut out, &trim);
    out.line("#ifndef TB_CONSTANTS_H");
    out.line("#define TB_CONSTANTS_H");
    identity(&mut out, &trim, crc);
    macros::parts(&mut out, &trim);
    extras::parts(&mut out, &trim);
    out.blank();
    out.line("#endif");
    Ok(out.text)
}

fn crc(trim: &Trim) -> Result<u16, TrimError> {
    trim.crc()
        .map_err(|zone| TrimError::Constants { part: "sticks".to_owned(), why: zone.to_string() })
}

/// What of the plain arithmetic is needed.
struct Shared {
    /// Tables, even without a stick.
    flash: bool,
    /// Zones without a curve or a reach table.
    plain_zone: bool,
}

/// Text under construction, line by line.
#[derive(Default)]
struct Lines {
    text: String,
    /// Nothing but macros: checks are left to the preprocessor.
    macros_only: bool,
}

impl Lines {
    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn blank(&mut self) {
        self.text.push('\n');
    }

    /// A macro and its comment.
    fn define(&mut self, name: &str, value: impl std::fmt::Display, comment: &str) {
        let head = format!("#define {name} {value}");
        // Writing to a String cannot fail.
        let _ = writeln!(self.text, "{head:<44} /* {comment} */");
    }

    /// A macro that stands for a list of words, to be put in braces.
    fn list(&mut self, name: &str, words: &[u16], comment: &str) {
        self.line(&format!("/* {comment} */"));
        self.line(&format!("#define {name} \\"));
        let rows: Vec<String> = words
            .chunks(10)
            .map(|row| row.iter().map(|w| format!("{w}u")).collect::<Vec<_>>().join(", "))
            .collect();
        self.line(&format!("    {}", rows.join(", \\\n    ")));
    }

    /// A table in flash of the words of a list macro `TB_{list}`.
    fn table(&mut self, name: &str, words: usize, list: &str) {
        self.blank();
        self.line(&format!("static const uint16_t tb_{name}_[{words}] TB_FLASH_ = {{TB_{list}}};"));
    }

    /// A compile-time check: an array of negative size when it fails, or an error of the
    /// preprocessor.
    fn check(&mut self, name: &str, condition: &str) {
        let _ = if self.macros_only {
            writeln!(self.text, "#if !({condition})\n#error \"tb_check_{name}\"\n#endif")
        } else {
            writeln!(self.text, "typedef char tb_check_{name}[({condition}) ? 1 : -1];")
        };
    }
}

fn title(out: &mut Lines, trim: &Trim, crc: u16) {
    out.line(&format!(" * Controller: {}", quote::comment(&trim.rig_name)));
    out.line(&format!(" * Board:      {}", quote::comment(&trim.board_id)));
    out.line(&format!(" * Session:    {}", quote::comment(&trim.session_date)));
    recording(out, trim);
    guessed(out, trim);
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

/// Damaged places that the comment lists.
const HARMS: usize = 8;

/// The recording by its sum, and what is damaged in it.
fn recording(out: &mut Lines, trim: &Trim) {
    let Some(origin) = &trim.origin else { return };
    if !origin.sha256.is_empty() {
        out.line(&format!(" * Recording:  {}", quote::comment(&origin.sum_words())));
    }
    if !origin.is_damaged() {
        return;
    }
    out.line(&format!(
        " * DAMAGED:    {} places of the recording, {} rows lost",
        origin.damage.len() as u64 + origin.more_damage,
        origin.rows_lost
    ));
    for harm in origin.damage.iter().take(HARMS) {
        let time = harm.at_us.map_or(String::new(), |us| format!(", {:.2} s", us as f64 * 1e-6));
        out.line(&format!(" *   byte {}{time}, {} rows lost:", harm.byte, harm.rows));
        out.line(&format!(" *   {}", quote::comment(&harm.what)));
    }
}

/// Which field of a line was taken for what, where nothing but the order of the columns says it.
fn guessed(out: &mut Lines, trim: &Trim) {
    if trim.guessed.is_empty() {
        return;
    }
    out.line(
        " * Guessed:    nobody named the columns of the lines; by their order these were taken for",
    );
    for fields in trim.guessed.chunks(3) {
        let fields: Vec<String> =
            fields.iter().map(|field| quote::comment(field).to_string()).collect();
        out.line(&format!(" *             {}", fields.join(", ")));
    }
}

fn refusals(out: &mut Lines, trim: &Trim) {
    for refusal in &trim.refusals {
        out.line(" *");
        out.line(&format!(" * Absent: {} ({})", quote::comment(&refusal.what), refusal.code));
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
