//! The sheet is well-formed, complete, honest about what is missing, and safe.
use super::*;
use crate::emit::built::{HOSTILE, hostile, of, whole};
use crate::findings::built::{healthy, no};
use crate::trim::Doubt;

/// Fails unless every element is closed in order, every attribute quoted, every entity known.
pub(super) fn check_well_formed(text: &str) {
    let mut rest = text.strip_prefix("<!DOCTYPE html>\n").expect("a document type");
    let mut open: Vec<&str> = Vec::new();
    while let Some(at) = rest.find(['<', '&']) {
        assert!(!rest[..at].contains('>') || open.last() == Some(&"style"), "stray > before {at}");
        if rest[at..].starts_with('&') {
            let end = rest[at..].find(';').expect("an entity ends");
            let name = &rest[at + 1..at + end];
            assert!(["amp", "lt", "gt", "quot", "#39"].contains(&name), "entity {name}");
            rest = &rest[at + end + 1..];
            continue;
        }
        let end = rest[at..].find('>').expect("a tag ends") + at;
        let tag = &rest[at + 1..end];
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "closing {name}");
        } else {
            let name = tag.split([' ', '/']).next().expect("a name");
            assert!(name.bytes().all(|b| b.is_ascii_alphanumeric()), "element {name}");
            let attributes = tag[name.len()..].trim_end_matches('/');
            assert_eq!(attributes.matches('"').count() % 2, 0, "{tag}");
            for (i, piece) in attributes.split('"').enumerate() {
                let known = i % 2 == 1 || piece.is_empty() || piece.ends_with('=');
                assert!(known && !piece.contains('\''), "attribute {piece} in {tag}");
            }
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

#[test]
fn a_whole_sheet_is_well_formed_and_repeats_byte_for_byte() {
    let whole = whole();
    let text = sheet(&whole.report());
    check_well_formed(&text);
    assert_eq!(text, sheet(&whole.report()));
    for piece in [
        "<h1>Heron rig, board 7C</h1>",
        "recorded 2026-03-04T10:12:00Z",
        "No fault; some constants are refused",
        "<h2>Left stick</h2>",
        "deviation from the mean reach, %",
        "rests, tails toward the push before",
        "<h2>Noise in the quiet rest</h2>",
        "<h2>Contacts</h2>",
        "<h2>Stream</h2>",
        "<h2>Dead zones</h2>",
        "fewer than 1 in 100 releases like those captured leak, 95 % sure, n = 16",
        "<h2>Constants</h2>",
        "<h2>Refused</h2>",
        "<h2>Limits used</h2>",
        "<h2>Cautions</h2>",
        "b0 south",
    ] {
        assert!(text.contains(piece), "{piece} is missing");
    }
    assert!(!text.contains("NaN") && !text.contains("inf "), "a figure is no number");
    assert!(!text.contains("<script") && !text.contains("http"), "nothing from outside");
}

#[test]
fn hostile_text_never_becomes_markup() {
    let text = sheet(&hostile().report());
    check_well_formed(&text);
    assert!(!text.contains("<script") && !text.contains("onload=\""));
    assert!(text.contains("&lt;script&gt;"), "the text itself is shown");
    assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "controls are replaced");
    assert!(HOSTILE.contains('\u{1b}'));
}

#[test]
fn missing_figures_are_said_and_pictures_stay_whole() {
    let mut built = healthy();
    let survey = &mut built.survey;
    survey.sticks[0].centre = [no("releases"), no("releases")];
    survey.sticks[0].releases.clear();
    survey.sticks[0].profile.reach.fill(f64::NAN);
    survey.sticks[0].profile.raw_counts.fill(f64::NAN);
    survey.sticks[1].profile.reach[10] = f64::NAN;
    survey.axes[0].noise_rms = no("rest");
    survey.axes[0].density = Default::default();
    survey.stream.interval_median_us = no("clock");
    survey.stream.lost = no("counter");
    let mut whole = of(built);
    whole.solution.zones.clear();
    let text = sheet(&whole.report());
    check_well_formed(&text);
    for piece in ["no releases seen", "no roll round the gate was seen", "0 releases, 3 needed"] {
        assert!(text.contains(piece), "{piece} is missing");
    }
    assert!(!text.contains("NaN"));
}

#[test]
fn an_empty_session_still_gives_a_sheet() {
    let mut built = healthy();
    built.survey.axes.clear();
    built.survey.sticks.clear();
    built.survey.triggers.clear();
    built.survey.buttons.clear();
    built.survey.frames = 0;
    let mut whole = of(built);
    whole.solution.zones.clear();
    whole.solution.trim.axes.clear();
    whole.solution.trim.sticks.clear();
    whole.solution.trim.triggers.clear();
    whole.solution.trim.buttons.clear();
    let text = sheet(&whole.report());
    check_well_formed(&text);
    assert!(!text.contains("<h2>Left stick") && !text.contains("<h2>Constants"));
}

#[test]
fn a_doubtful_zone_promises_nothing() {
    let mut whole = whole();
    for zone in &mut whole.solution.zones {
        zone.doubt = Some(Doubt::TwoGroups { gap: 6.2 });
    }
    let text = sheet(&whole.report());
    assert!(text.contains("No promise for the left stick"));
    assert!(!text.contains("95 % sure, n ="));
}

#[test]
fn a_deviation_that_would_leave_the_picture_widens_its_axis() {
    let mut built = healthy();
    for (k, reach) in built.survey.sticks[0].profile.reach.iter_mut().enumerate() {
        *reach = 1.0 + 0.2 * (5.0 * k as f64).to_radians().cos();
    }
    let text = sheet(&of(built).report());
    assert!(text.contains(">40\u{a0}%</text>") && text.contains(">5\u{a0}%</text>"));
}

#[test]
fn every_printed_page_is_named_and_dark_stays_on_the_screen() {
    let mut whole = whole();
    let text = sheet(&whole.report());
    let style = text.split("</style>").next().expect("a style");
    for piece in [
        "@page{@top-left{content:\"Heron rig\\00002c  board 7C\"}}",
        "@page{@top-right{content:\"2026\\00002d 03",
        "\"page \" counter(page) \" of \" counter(pages)",
        "@media screen and (prefers-color-scheme:dark)",
    ] {
        assert!(style.contains(piece), "{piece} is missing");
    }
    assert_eq!(style.matches("prefers-color-scheme").count(), 1);
    whole.facts.rig_name = "long ".repeat(100);
    whole.facts.created.clear();
    let style = sheet(&whole.report()).split("</style>").next().expect("a style").to_owned();
    assert!(style.contains("\\002026 \"}}") && style.contains("\"date unknown\""), "{style}");
    let longest = style.lines().map(str::len).max();
    assert!(longest < Some(800), "the margin holds only the beginning of a long name");
}
