//! Text from boards, rigs and sessions made harmless: for HTML, its attributes, CSS, a terminal.

/// For text of HTML and XML: the five marked characters become entities, control characters a
/// visible replacement.
pub fn html(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        push_html(&mut out, c);
    }
    out
}

/// For a quoted attribute of HTML and XML: as [`html`], and the back quote too, which some readers
/// have taken for a quotation mark.
pub fn attribute(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '`' => out.push_str("&#96;"),
            c => push_html(&mut out, c),
        }
    }
    out
}

/// A quoted string of CSS: whatever is no ASCII letter or digit stands by its number, so that
/// neither the string nor a style element round it can be ended from within.
pub fn css(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            c if c.is_ascii_alphanumeric() || c == ' ' => out.push(c),
            '\n' | '\t' => out.push(' '),
            c if hidden(c) => out.push_str("\\00fffd "),
            c => out.push_str(&format!("\\{:06x} ", u32::from(c))),
        }
    }
    out.push('"');
    out
}

/// For a terminal line: control characters are spelled out, so that no text moves the cursor,
/// colours, or reorders what stands beside it.
pub fn terminal(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if hidden(c) { out.extend(c.escape_unicode()) } else { out.push(c) }
    }
    out
}

fn push_html(out: &mut String, c: char) {
    match c {
        '&' => out.push_str("&amp;"),
        '<' => out.push_str("&lt;"),
        '>' => out.push_str("&gt;"),
        '"' => out.push_str("&quot;"),
        '\'' => out.push_str("&#39;"),
        '\n' | '\t' => out.push(' '),
        c if hidden(c) => out.push('\u{fffd}'),
        c => out.push(c),
    }
}

/// Controls, and the marks that reorder or hide text: bidirectional overrides, zero-width
/// characters, the noncharacters U+FFFE and U+FFFF that XML refuses.
pub fn hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}')
        || matches!(c, '\u{feff}' | '\u{fffe}' | '\u{ffff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_breaks_out() {
        assert_eq!(html("<b a='x' c=\"y\">&"), "&lt;b a=&#39;x&#39; c=&quot;y&quot;&gt;&amp;");
        assert_eq!(html("a\u{0}b\u{202e}c\nd"), "a\u{fffd}b\u{fffd}c d");
        assert_eq!(attribute("a`\"\nb"), "a&#96;&quot; b");
        assert_eq!(
            css("a\"</style>\\\nß\u{0}"),
            "\"a\\000022 \\00003c \\00002f style\\00003e \\00005c  \\0000df \\00fffd \""
        );
        assert_eq!(terminal("x\u{1b}[31m\r\n"), "x\\u{1b}[31m\\u{d}\\u{a}");
        assert_eq!(terminal("größe µs"), "größe µs");
    }
}
