//! Every part on invented data; set TRIMBENCH_GALLERY to a folder to keep the pictures.
use egui::{Rect, Ui, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::cpu_renderer::CpuRenderer;
use trimbench::emit::chart;
use trimbench::gui::look::{self, Palette, size};
use trimbench::gui::parts::card::{self, card_at};
use trimbench::gui::parts::chart::{Hand, chart_ui};
use trimbench::gui::parts::contact_strip::{ContactStrip, contact_strip_ui};
use trimbench::gui::parts::figures::{Figure, figures_ui};
use trimbench::gui::parts::gate_outline::{GateOutline, gate_outline_ui};
use trimbench::gui::parts::lane::{Band, Extent};
use trimbench::gui::parts::link_bar::{LinkBar, LinkMark, link_bar_ui};
use trimbench::gui::parts::prompt_card::{Prompt, prompt_card_ui};
use trimbench::gui::parts::rail::{RailEntry, RunProgress, rail_ui};
use trimbench::gui::parts::rest_cloud::{RestCloud, rest_cloud_ui};
use trimbench::gui::parts::ruler::Ruler;
use trimbench::gui::parts::state_mark::State;
use trimbench::gui::parts::timeline::{OverviewLane, Timeline, timeline_ui};
use trimbench::gui::parts::{bars, prompt_card};
use trimbench::rig::Half;
use trimbench::survey::{Profile, ReleaseRest};

/// Renders `content` at `size` in a theme; keeps the picture when TRIMBENCH_GALLERY names a folder.
pub fn picture(name: &str, dark: bool, size: [f32; 2], content: impl FnMut(&mut Ui) + 'static) {
    let theme = if dark { egui::Theme::Dark } else { egui::Theme::Light };
    let mut harness = Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_theme(theme)
        .renderer(CpuRenderer::default())
        .with_context_setup(look::install)
        .build_ui(content);
    harness.run();
    keep(&mut harness, &format!("{name}-{}", if dark { "dark" } else { "light" }));
}

/// Saves the harness' picture under `name`, if pictures are wanted.
pub fn keep<S>(harness: &mut Harness<'_, S>, name: &str) {
    if let Some(folder) = std::env::var_os("TRIMBENCH_GALLERY") {
        let image = harness.render().expect("a picture");
        let path = std::path::Path::new(&folder).join(format!("{name}.png"));
        image.save(path).expect("the gallery folder exists");
    }
}

fn profile() -> Profile {
    let reach: Vec<f64> = (0..72)
        .map(|k| {
            let a = f64::from(k) * 5f64.to_radians();
            if (44..50).contains(&k) {
                f64::NAN
            } else {
                1.0 + 0.03 * (2.0 * a).cos() + 0.012 * (8.0 * a).sin()
            }
        })
        .collect();
    Profile {
        raw_counts: reach.iter().map(|r| r * 398.0).collect(),
        spread: reach.iter().map(|_| 0.006).collect(),
        reach,
    }
}

fn releases() -> Vec<ReleaseRest> {
    (0..16)
        .map(|k| {
            let a = f64::from(k) * 45.0;
            let r = 2.0 + f64::from((k * 7) % 5);
            let rad = (a + 20.0).to_radians();
            ReleaseRest { at: [518.0 + r * rad.cos(), 503.0 + r * rad.sin()], from_deg: a, t_us: 0 }
        })
        .collect()
}

fn rail(ui: &mut Ui) {
    let entry = |title, state, key, missing| RailEntry { title, state, key, missing };
    rail_ui(
        ui,
        &[
            entry("Link", State::Done, "1", None),
            entry("Traces", State::None, "2", None),
            entry("Sticks", State::Now, "3", None),
            entry("Triggers", State::NotStarted, "4", Some("Pull both triggers")),
            entry("Buttons", State::Warning, "5", None),
            entry("Trim", State::Fault, "6", None),
            entry("Sheet", State::Note, "7", None),
        ],
        2,
        Some(RunProgress { step: 3, steps: 7 }),
    );
}

fn stick_card(ui: &mut Ui, rect: Rect, title: &str, dashed: bool) {
    card_at(ui, rect, title, |ui| {
        let half = if dashed { Half::Right } else { Half::Left };
        let directions = ["right", "up", "left", "down"];
        let reach = chart::reach(&profile(), half, Some(0.05), directions);
        let drawn = chart_ui(ui, &reach, vec2(ui.available_width(), 224.0), Hand::Moves);
        drawn.now(ui, &reach, [250.0, -3.0]);
        ui.horizontal(|ui| {
            let side = ui.available_width() * 0.46;
            let profile = profile();
            let seen: Vec<u8> =
                (0..72).map(|k| if k < 40 { 2 } else { u8::from(k < 50) }).collect();
            let outline = GateOutline {
                profile: &profile,
                centre: [518.0, 503.0],
                reach: 398.0,
                dashed,
                trail: &[([520.0, 110.0], 0.4), ([400.0, 123.0], 0.2), ([330.0, 160.0], 0.0)],
                seen: &seen,
                circles: None,
                draggable: false,
            };
            gate_outline_ui(ui, outline, side);
            let rests = chart::rests(half, &releases(), [518.3, 503.1], Some(13.2), Some(20.0));
            let cloud = RestCloud { chart: &rests, now: Some([0.7, -0.1]), chosen: Some(3) };
            rest_cloud_ui(ui, cloud, side);
        });
        figures_ui(
            ui,
            &[
                Figure::plain("centre", "518.3, 503.1", "± 0.6 counts"),
                Figure::plain("inner dead zone", "13.2", "counts, 3.3 %, 95 % sure, n = 16"),
                Figure::plain("roundness", "6.1 %", "limit 5 %").marked(State::Warning),
                Figure {
                    label: "rotation".into(),
                    note: "8 pushes needed".into(),
                    ..Figure::default()
                },
            ],
        );
    });
}

fn bars_above_and_below(ui: &mut Ui) {
    let p = Palette::of(ui);
    let plain = |fill| egui::Frame::new().fill(fill);
    egui::Panel::top("link").exact_size(size::LINK_BAR).frame(plain(p.card)).show(ui, |ui| {
        let figures: Vec<String> =
            ["249.8 frames/s", "0 lost", "0 malformed", "interval p99 4.31 ms"]
                .map(String::from)
                .into();
        let bar = LinkBar {
            rig: "Heron rig, board 7C",
            mark: LinkMark::Live,
            source: "serial ttyACM0",
            figures: &figures,
            recording: Some(("02:41", "heron-7c-0007.session")),
        };
        link_bar_ui(ui, &bar, 100.0);
    });
    egui::Panel::bottom("time").exact_size(size::TIMELINE).frame(plain(p.card)).show(ui, |ui| {
        let extents: Vec<Extent> = (0..1200)
            .map(|k| {
                let s = (k as f32 * 0.05).sin() * if k > 300 { 1.0 } else { 0.05 };
                (!(600..620).contains(&k)).then_some([s - 0.1, s + 0.1])
            })
            .collect();
        let band = Band::from(extents);
        let lane = |name, colour| OverviewLane { name, band: &band, range: [-1.2, 1.2], colour };
        let timeline = Timeline {
            state: "live",
            span_us: [0, 161_306_000],
            head_us: 161_306_000,
            read_us: 161_306_000,
            lanes: &[lane("x", p.axis_x), lane("y", p.axis_y)],
            marks: &[
                (0, "rest"),
                (20_000_000, "roll"),
                (22_000_000, "hidden"),
                (60_000_000, "releases"),
            ],
            findings: &[(30_000_000, State::Note), (70_000_000, State::Warning)],
            window_us: Some([90_000_000, 120_000_000]),
            ruler: Ruler::Time,
            spare_line: false,
        };
        timeline_ui(ui, &timeline);
    });
}

fn bench(ui: &mut Ui) {
    let p = Palette::of(ui);
    let plain = |fill| egui::Frame::new().fill(fill);
    bars_above_and_below(ui);
    egui::Panel::left("rail").exact_size(size::RAIL).frame(plain(p.card)).show(ui, rail);
    let page = plain(p.page).inner_margin(egui::Margin::same(size::PAGE as i8));
    egui::CentralPanel::default().frame(page).show(ui, |ui| {
        let (top, rest) =
            card::cut_top(ui.max_rect(), prompt_card::height(ui.max_rect().width(), 0.0));
        let prompt = Prompt {
            title: "Roll both sticks round the gate, slowly",
            detail: "three turns this way, then three back. 51 of 72 sectors seen twice",
            refusal: None,
            share: 51.0 / 72.0,
            count: "51",
            pieces: 72,
            keys: &["Space accept", "Backspace redo"],
            buttons: 0.0,
        };
        prompt_card_ui(ui, top, &prompt);
        let (main, side) = card::cut_right(rest, 240.0);
        let [left, right] = card::columns::<2>(main);
        stick_card(ui, left, "Left stick", false);
        stick_card(ui, right, "Right stick", true);
        card_at(ui, side, "Undulations per turn", |ui| {
            let bars: Vec<_> = [0.5, 6.0, 1.0, 3.0, 0.4, 0.6, 0.3, 2.4]
                .iter()
                .enumerate()
                .map(|(k, v)| (*v, (k + 1).to_string()))
                .collect();
            bars::bars_ui(ui, "Undulations per turn", &bars, 120.0);
        });
    });
}

fn contacts(ui: &mut Ui) {
    let rect = Rect::from_min_max(pos2(16.0, 16.0), ui.max_rect().max - vec2(16.0, 16.0));
    ui.painter().rect_filled(ui.max_rect(), 0.0, Palette::of(ui).page);
    card_at(ui, rect, "Contacts", |ui| {
        let edges = [
            (1_000_000, true),
            (1_200_000, false),
            (4_000_000, true),
            (4_001_000, false),
            (4_002_000, true),
            (4_300_000, false),
            (4_301_500, true),
            (4_303_000, false),
        ];
        for (name, state, note) in [
            ("south", State::None, "5 presses, bounce 2.0 ms"),
            ("left shoulder", State::Warning, "1 double in 6 presses"),
            ("b7", State::Fault, "held closed"),
        ] {
            let strip = ContactStrip {
                name,
                number: "b3",
                doubles: &[4_300_000],
                chosen: name == "south",
                edges: &edges,
                closed_before: false,
                span_us: [0, 5_000_000],
                zoom_us: 20_000,
                window_us: Some(6_000),
                note,
                state,
                height: 32.0,
            };
            contact_strip_ui(ui, &strip);
        }
    });
}

#[test]
fn parts_draw_in_both_themes() {
    for dark in [false, true] {
        picture("parts-1600", dark, [1600.0, 1000.0], bench);
        picture("parts-1280", dark, [1280.0, 720.0], bench);
        picture("contacts", dark, [900.0, 220.0], contacts);
    }
}

#[test]
fn parts_tell_assistive_technology_what_they_show() {
    let mut harness = Harness::builder()
        .with_size(vec2(1600.0, 1000.0))
        .with_context_setup(look::install)
        .build_ui(bench);
    harness.run();
    harness.get_by_label("Sticks, in work");
    harness.get_by_label("Buttons, warning");
    harness.get_by_label("Guided run, step 3 of 7");
    assert_eq!(
        harness.get_all_by_label_contains("Rest cloud: 16 releases, dead zone 13.2").count(),
        2
    );
    harness.get_by_label_contains("Timeline, live at 02:41.306 of 02:41.306");
}
