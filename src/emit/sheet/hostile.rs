//! Whatever a session, a rig or a dialect brings as text, the sheet's markup stays the same.
use proptest::prelude::*;

use super::sheet;
use super::tests::check_well_formed;
use crate::emit::built::{Whole, of, origin};
use crate::emit::escape::hidden;
use crate::emit::meta::SessionFacts;
use crate::findings::built::healthy;
use crate::measure::{Measured, Shortage};
use crate::session::ColumnRead;
use crate::trim::Refusal;

/// The same text in every place that text can come to; figures that are missing say it too.
fn everywhere(text: &str) -> Whole {
    let own = || text.to_owned();
    let missing = || -> Measured { Err(Shortage { what: own(), have: 0, need: 3, advice: own() }) };
    let mut built = healthy();
    let survey = &mut built.survey;
    survey.stream.rate_hz = missing();
    survey.stream.lost = Err(Shortage { what: own(), have: 0, need: 3, advice: own() });
    survey.axes[0].noise_rms = missing();
    survey.axes[0].effective_bits = missing();
    survey.axes[0].odd_codes = Err(Shortage { what: own(), have: 0, need: 3, advice: own() });
    survey.sticks[0].scatter = missing();
    survey.sticks[0].shape = Err(Shortage { what: own(), have: 0, need: 3, advice: own() });
    survey.triggers[0].full = missing();
    survey.buttons[0].window_ms = missing();
    survey.buttons[0].longest_wrong_ms = [missing(), missing()];
    let mut whole = of(built);
    whole.facts = SessionFacts {
        rig_name: own(),
        board_id: own(),
        created: own(),
        button_names: vec![own(); 3],
        notes: vec![own()],
        columns: vec![ColumnRead { name: own(), ..whole.facts.columns[0].clone() }],
        lines: Default::default(),
        origin: origin(text),
    };
    for finding in &mut whole.findings {
        finding.evidence = own();
        finding.remedy = own();
        finding.caution = Some(own());
    }
    let trim = &mut whole.solution.trim;
    trim.rig_name = own();
    trim.board_id = own();
    trim.session_date = own();
    trim.guessed = vec![own()];
    trim.buttons.iter_mut().for_each(|button| button.name = own());
    for refusal in &mut trim.refusals {
        *refusal = Refusal { what: own(), why: own(), advice: own(), ..refusal.clone() };
    }
    whole
}

/// Tags with their attributes, without the words in them; the style without its strings.
fn skeleton(document: &str) -> String {
    let mut out = String::new();
    let mut rest = document;
    while let Some(at) = rest.find('<') {
        check_text(&rest[..at]);
        let end = rest[at..].find('>').expect("a tag ends") + at + 1;
        let tag = &rest[at..end];
        out.push_str(&without_words(tag));
        rest = &rest[end..];
        if tag == "<style>" {
            let end = rest.find("</style>").expect("the style ends");
            out.push_str(&without_strings(&rest[..end]));
            rest = &rest[end..];
        }
    }
    out
}

fn check_text(text: &str) {
    assert!(!text.contains(['"', '\'', '>']), "a mark stands bare in {text:?}");
    assert!(text.chars().all(|c| c == '\n' || !hidden(c)), "{text:?}");
}

/// A tag whose titles and labels are empty; they are all that text can come to.
fn without_words(tag: &str) -> String {
    assert!(tag.chars().all(|c| !hidden(c)), "{tag:?}");
    let mut worded = false;
    let pieces = tag.split('"').enumerate().map(|(i, piece)| {
        if i % 2 == 0 {
            worded = piece.ends_with(" title=") || piece.ends_with(" aria-label=");
            return piece;
        }
        assert!(!piece.contains(['<', '>', '\'', '`']), "a mark stands bare in {tag:?}");
        if worded { "" } else { piece }
    });
    // Only a long name may be broken over lines.
    pieces.collect::<Vec<_>>().join("\"").replace(" class=\"l\"", "")
}

/// The style as a reader of CSS would cut it, its strings left empty.
fn without_strings(style: &str) -> String {
    let mut out = String::new();
    let mut chars = style.chars();
    let mut inside = false;
    while let Some(c) = chars.next() {
        assert!(c == '\n' || !hidden(c), "{c:?} in the style");
        match c {
            '\\' => assert!(inside && chars.next().is_some_and(|c| c.is_ascii_hexdigit())),
            '"' => inside = !inside,
            '\n' => assert!(!inside, "a string of the style is broken"),
            _ => {}
        }
        if !inside {
            out.push(c);
        }
    }
    out
}

fn pieces() -> impl Strategy<Value = String> {
    let marks = prop::sample::select(vec![
        "<",
        ">",
        "\"",
        "'",
        "`",
        "&",
        "&lt;",
        "&#60",
        "=",
        "/",
        "\\",
        "\\22 ",
        "{",
        "}",
        ";",
        ")",
        "</style>",
        "</title>",
        "<script>",
        "</td>",
        "<!--",
        "-->",
        "]]>",
        " onload=",
        "\n",
        "\r",
        "\t",
        "\0",
        "\u{1b}[31m",
        "\u{7f}",
        "\u{9b}",
        "\u{202e}",
        "\u{200b}",
        "\u{feff}",
        "b1",
    ]);
    let any = any::<char>().prop_map(String::from);
    let piece = prop_oneof![4 => marks.prop_map(str::to_owned), 1 => any];
    prop::collection::vec(piece, 1..8).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(64) })]

    #[test]
    fn no_text_changes_the_markup(text in pieces()) {
        let document = sheet(&everywhere(&text).report());
        check_well_formed(&document);
        prop_assert_eq!(skeleton(&document), skeleton(&sheet(&everywhere("x").report())));
    }
}

#[test]
fn the_skeleton_sees_markup_that_was_let_through() {
    let of = |text: &str| skeleton(&format!("<p title=\"{text}\">a</p>"));
    assert_eq!(of("a"), of("b &lt;"));
    assert_ne!(of("a"), of("a\" id=\"b"));
    assert_ne!(skeleton("<style>a{b:\"c\"}</style>"), skeleton("<style>a{b:\"c\"}d{}\"\"</style>"));
}
