//! Text of people made harmless in C: comments and string literals.

/// Longest text that is shown, characters; what is cut is said.
const LONGEST: usize = 80;

/// Text for the inside of a block comment: printable ASCII without anything that ends the comment,
/// opens another, splices lines or forms a trigraph; other characters as `<U+0041>`.
pub(super) fn comment(text: &str) -> String {
    let mut out = String::new();
    let mut last = ' ';
    for c in text.chars().take(LONGEST) {
        let pair = matches!((last, c), ('*', '/') | ('/', '*' | '/') | ('?', '?'));
        if pair {
            out.push(' ');
        }
        if (c == ' ' || c.is_ascii_graphic()) && c != '\\' {
            out.push(c);
        } else {
            out.push_str(&format!("<U+{:04X}>", u32::from(c)));
        }
        last = c;
    }
    // A star at the very end would meet the slash of the comment's own end.
    if last == '*' {
        out.push(' ');
    }
    match text.chars().count() {
        0 => "(none)".to_owned(),
        n if n > LONGEST => out + &format!(" (cut, {n} characters)"),
        _ => out,
    }
}

/// A string literal: letters, digits and plain signs as they are, every other byte of the UTF-8
/// form as three octal digits. Cut after [`LONGEST`] characters.
pub(super) fn string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars().take(LONGEST) {
        if c.is_ascii_alphanumeric() || " .,:;_+-()#@=".contains(c) {
            out.push(c);
        } else {
            let mut bytes = [0; 4];
            for b in c.encode_utf8(&mut bytes).bytes() {
                out.push_str(&format!("\\{b:03o}"));
            }
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_leaves_a_comment() {
        let hostile = "a*/b/*c//d??/e\\\nf\u{fc}g\"h***/";
        let safe = comment(hostile);
        for bad in ["*/", "/*", "//", "??", "\\", "\n", "\u{fc}"] {
            assert!(!safe.contains(bad), "{bad:?} in {safe}");
        }
        assert!(comment("end*").ends_with(' '));
        assert_eq!(comment(""), "(none)");
        assert!(comment(&"x".repeat(10_000)).ends_with("(cut, 10000 characters)"));
    }

    #[test]
    fn nothing_leaves_a_string() {
        assert_eq!(string("A-1"), "\"A-1\"");
        assert_eq!(string("\"\\\n?"), "\"\\042\\134\\012\\077\"");
        assert_eq!(string("é7"), "\"\\303\\2517\"");
    }
}
