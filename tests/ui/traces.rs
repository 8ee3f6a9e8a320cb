//! The traces by name and key: forms side by side, shared lanes, fixed ranges, cursors, a drawn stretch.
use egui::{Key, Modifiers, PointerButton, pos2};
use egui_kittest::kittest::{NodeT, Queryable};

use crate::gallery::keep;
use crate::window::{Window, opened, press, recording, show};
use trimbench::gui::actions::{OutputVerb, Screen, TraceVerb};

fn traces(window: &Window<'_>) -> String {
    let picture = window.get_by_label_contains("Traces of ");
    picture.accesskit_node().label().map(|l| l.to_string()).unwrap_or_default()
}

#[test]
fn inputs_stand_as_counts_travel_and_output_side_by_side() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], true, &path);
    show(&mut window, Screen::Traces);
    assert!(!traces(&window).contains('%'), "counts to begin with");
    press(&mut window, TraceVerb::Forms);
    assert!(traces(&window).contains("left x (% of travel)"), "{}", traces(&window));
    press(&mut window, TraceVerb::Forms);
    assert!(traces(&window).contains("left x (of 32\u{a0}767)"), "{}", traces(&window));
    press(&mut window, TraceVerb::Forms);
    let all = traces(&window);
    assert!(all.contains("left x, left x (% of travel), left x (of 32\u{a0}767)"), "{all}");
    // The table says the same of each, in its own unit.
    window.get_by_label_contains("left x: unit counts");
    window.get_by_label_contains("left x: unit % of travel");
    keep(&mut window, "traces-forms-1600-dark");
    window.get_by_label("Shared").click();
    window.run_ok();
    assert!(traces(&window).contains("left stick, right stick, triggers"), "{}", traces(&window));
    keep(&mut window, "traces-shared-1600-dark");
    press(&mut window, TraceVerb::Shared);
    press(&mut window, TraceVerb::Forms);
    assert!(!traces(&window).contains('%'), "counts alone again");
}

#[test]
fn a_lane_is_chosen_fixed_and_freed_by_keys_and_by_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], false, &path);
    show(&mut window, Screen::Traces);
    press(&mut window, TraceVerb::Lane(true));
    press(&mut window, TraceVerb::Fix);
    assert!(
        traces(&window).starts_with("Traces of left x (fixed), left y, "),
        "{}",
        traces(&window)
    );
    let low = |window: &Window<'_>| {
        let field = window.get_by_label("Lowest value shown");
        field
            .value()
            .and_then(|v| v.replace('\u{2212}', "-").parse::<f64>().ok())
            .expect("a number")
    };
    let before = low(&window);
    press(&mut window, TraceVerb::Tall(false));
    assert!(low(&window) < before, "twice as high a range begins lower");
    press(&mut window, TraceVerb::Raise(true));
    keep(&mut window, "traces-fixed-1600-light");
    window.get_by_label("Auto").click();
    window.run_ok();
    assert!(!traces(&window).contains("fixed"), "{}", traces(&window));
    // Without a chosen lane the keys mean all of them.
    press(&mut window, TraceVerb::Lane(false));
    press(&mut window, TraceVerb::Fix);
    let fixed = traces(&window).matches("fixed").count();
    assert!(fixed >= 6, "{fixed}: {}", traces(&window));
}

#[test]
fn a_drawn_stretch_and_both_cursors_set_what_is_shown() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], false, &path);
    show(&mut window, Screen::Traces);
    let span = |window: &Window<'_>| -> f64 {
        let said = traces(window);
        let words = said.rsplit("over ").next().expect("a span");
        words.trim_end_matches(" s").parse().expect("seconds")
    };
    assert_eq!(span(&window), 5.0);
    let rect = window.get_by_label_contains("Traces of ").rect();
    // From a quarter to a half of what is right of the names.
    let x = |share: f32| rect.left() + 132.0 + share * (rect.width() - 140.0);
    let (from, to) = (pos2(x(0.25), rect.center().y), pos2(x(0.5), rect.center().y));
    let button = PointerButton::Secondary;
    let modifiers = Modifiers::NONE;
    window.hover_at(from);
    window.run_ok();
    window.event(egui::Event::PointerButton { pos: from, button, pressed: true, modifiers });
    window.step();
    window.event(egui::Event::PointerMoved(to));
    window.step();
    window.event(egui::Event::PointerButton { pos: to, button, pressed: false, modifiers });
    window.run_ok();
    assert!((span(&window) - 1.25).abs() < 0.02, "{}", span(&window));
    // Cursors by key at the play head, a second apart; then the stretch between them.
    window.key_press(Key::A);
    window.key_press(Key::Comma);
    window.run_ok();
    window.key_press(Key::B);
    window.run_ok();
    window.get_by_label_contains("1/Δt");
    press(&mut window, TraceVerb::BetweenCursors);
    assert!((span(&window) - 1.0).abs() < 1e-6, "{}", span(&window));
    press(&mut window, TraceVerb::Motion);
    press(&mut window, TraceVerb::Motion);
    press(&mut window, OutputVerb::CopyFigures);
    window.get_by_label_contains("figures are on the clipboard");
}
