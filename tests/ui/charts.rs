//! The small pictures of the stations: read by hovering, zoomed by wheel and box, reset by double click.
use egui::{Modifiers, PointerButton, Pos2, pos2, vec2};
use egui_kittest::kittest::{NodeT, Queryable};

use crate::gallery::keep;
use crate::window::{Window, opened, recording, show};
use trimbench::gui::actions::Screen;

/// Puts the pointer at shares of the picture whose name begins so, and lets the window see it.
fn point_at(window: &mut Window<'_>, name: &str, share: [f32; 2]) -> Pos2 {
    let rect = window.get_by_label_contains(name).rect();
    let at = pos2(rect.left() + share[0] * rect.width(), rect.top() + share[1] * rect.height());
    window.hover_at(at);
    window.run_steps(3);
    at
}

fn click(window: &mut Window<'_>, pos: Pos2, pressed: bool, button: PointerButton) {
    window.event(egui::Event::PointerButton { pos, button, pressed, modifiers: Modifiers::NONE });
    window.step();
}

/// What is said under the pointer, if it has the words.
fn says(window: &Window<'_>, words: &str) -> bool {
    window.query_all_by_label_contains(words).any(|node| {
        let label = node.accesskit_node().label().unwrap_or_default();
        !label.contains("sectors seen")
    })
}

#[test]
fn every_picture_says_what_stands_under_the_pointer() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1600.0, 1000.0], true, &recording(&folder));
    show(&mut window, Screen::Sticks);
    point_at(&mut window, "Reach by direction, left stick", [0.125, 0.5]);
    assert!(says(&window, "45.0°: "), "the deviation towards 45°");
    keep(&mut window, "sticks-hover-1600-dark");
    show(&mut window, Screen::Triggers);
    point_at(&mut window, "strokes of the left trigger", [0.3, 0.5]);
    assert!(says(&window, "\u{a0}counts"));
    keep(&mut window, "triggers-strokes-1600-dark");
    window.get_all_by_label("Raw to output").next().expect("a choice").click();
    window.run_steps(3);
    point_at(&mut window, "Output by raw code of left trigger", [0.5, 0.5]);
    assert!(says(&window, "51") && says(&window, "\u{a0}counts: "));
    show(&mut window, Screen::Buttons);
    point_at(&mut window, "Bounce episodes by length", [0.05, 0.5]);
    assert!(says(&window, " episodes"));
    show(&mut window, Screen::Trim);
    point_at(&mut window, "of travel, at most", [0.6, 0.5]);
    assert!(says(&window, "% of travel): "), "both consequences of that radius");
}

#[test]
fn the_wheel_zooms_and_a_double_click_shows_the_whole_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1600.0, 1000.0], false, &recording(&folder));
    show(&mut window, Screen::Sticks);
    let name = "Reach by direction, left stick";
    let at = point_at(&mut window, name, [0.2, 0.5]);
    assert!(says(&window, "70.0°: "), "a fifth of the turn");
    for _ in 0..4 {
        window.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: vec2(0.0, 240.0),
            phase: egui::TouchPhase::Move,
            modifiers: Modifiers::NONE,
            source: egui::MouseWheelSource::Wheel,
        });
        window.run_steps(8);
    }
    point_at(&mut window, name, [0.9, 0.5]);
    assert!(!says(&window, "325.0°: "), "the picture is enlarged");
    // Dragging moves it, a box of the right button enlarges it further.
    window.hover_at(at);
    click(&mut window, at, true, PointerButton::Secondary);
    window.event(egui::Event::PointerMoved(at + vec2(60.0, 40.0)));
    window.step();
    click(&mut window, at + vec2(60.0, 40.0), false, PointerButton::Secondary);
    // A step of the harness is a quarter of a second.
    window.ctx.options_mut(|o| o.input_options.max_double_click_delay = 2.0);
    for pressed in [true, false, true, false] {
        click(&mut window, at, pressed, PointerButton::Primary);
    }
    window.run_steps(2);
    point_at(&mut window, name, [0.9, 0.5]);
    assert!(says(&window, "325.0°: "), "the whole turn again");
}

#[test]
fn spectrum_histogram_and_allan_deviation_are_read_below_the_traces() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1600.0, 1000.0], false, &recording(&folder));
    show(&mut window, Screen::Traces);
    for (tab, name, unit) in [
        ("Spectrum", "Spectrum of left x", "counts/√Hz"),
        ("Histogram", "Histogram of left x", " samples, "),
        ("Allan", "Allan deviation of left x", "\u{a0}counts"),
    ] {
        window.get_by_label(tab).click();
        window.run_steps(3);
        point_at(&mut window, name, [0.3, 0.4]);
        assert!(says(&window, unit), "{tab}");
        keep(&mut window, &format!("traces-{tab}-1600-light").to_lowercase());
    }
}
