//! Trim: weigh leaking against lost travel · see raw to output as the firmware has it · header text.
use egui::{Label, Rect, ScrollArea, Sense, Ui, vec2};

use super::{Station, View, action_button, live};
use crate::desk::{Results, Saved};
use crate::gui::actions::{Action, Place};
use crate::gui::look::{Palette, Type, size};
use crate::gui::parts::card::{card_at, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::figures::{Figure, figures_ui};
use crate::gui::parts::leak::leak_ui;
use crate::gui::parts::numbers::number;
use crate::gui::parts::staircase::{Staircase, staircase_ui};
use crate::gui::parts::state_mark::State;
use crate::rig::{AxisId, Half};
use crate::trim::{DeadZone, Refusal, ZonePlace, apply};

/// What the station keeps to itself.
#[derive(Default)]
pub struct TrimStation {
    zone: usize,
    input: usize,
}

impl Station for TrimStation {
    fn place(&self) -> Place {
        Place::Trim
    }

    fn state(&self, view: &View<'_>) -> State {
        match view.desk.results() {
            None => State::NotStarted,
            Some(r) if r.solution.trim.is_empty() => State::NotStarted,
            Some(r) if r.solution.trim.refusals.is_empty() => State::Done,
            Some(_) => State::Now,
        }
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        view.desk.results().is_none().then_some(
            "Dead zones, the way from raw to output and the header will stand here once \
             something is measured",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let Some(results) = view.desk.results().cloned() else {
            let sentence = self.missing(view).unwrap_or_default();
            return empty_ui(ui, sentence);
        };
        let folded = ui.available_width() < size::FOLD;
        let least = if folded { 1120.0 } else { 660.0 };
        page_ui(ui, least, |ui, page| {
            let (main, side) = if folded {
                cut_top(page, page.height() - 420.0 + size::PAGE)
            } else {
                cut_right(page, (page.width() * 0.42).min(560.0))
            };
            let (above, below) = cut_top(main, main.height() * 0.56);
            card_at(ui, above, "Dead zone", |ui| self.zone_ui(ui, &results));
            card_at(ui, below, "From raw to output", |ui| self.stairs_ui(ui, view, &results));
            header_card(ui, side, view, &results, actions);
        });
    }
}

impl TrimStation {
    fn zone_ui(&mut self, ui: &mut Ui, results: &Results) {
        // Sticks first: their radial zone is what most firmware uses.
        let mut zones: Vec<&DeadZone> = results.solution.zones.iter().collect();
        zones.sort_by_key(|z| matches!(z.place, ZonePlace::Axis(_)));
        if zones.is_empty() {
            let words = "A dead zone needs at least eight clean releases; do the releases step";
            ui.label(Type::Label.soft(ui, words));
            return;
        }
        let names: Vec<String> = zones.iter().map(|z| zone_name(z.place)).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        self.zone = self.zone.min(zones.len() - 1);
        if let Some(k) = choice_ui(ui, &names, self.zone) {
            self.zone = k;
        }
        let zone = zones[self.zone];
        ui.add(Label::new(Type::Label.text(ui, zone.promise())).wrap());
        let wide = ui.available_width();
        ui.horizontal_top(|ui| {
            let height = (ui.available_height() - 24.0).max(120.0);
            ui.allocate_ui(vec2(wide * 0.58, height), |ui| {
                ui.vertical(|ui| leak_ui(ui, zone, height - 28.0));
            });
            ui.vertical(|ui| figures_ui(ui, &terms(zone)));
        });
    }

    fn stairs_ui(&mut self, ui: &mut Ui, view: &View<'_>, results: &Results) {
        let trim = &results.solution.trim;
        let solved: Vec<AxisId> = AxisId::ALL
            .into_iter()
            .filter(|a| match a.is_trigger() {
                true => trim.trigger(a.half()).is_some(),
                false => apply::Stick::of(trim, a.half()).is_some(),
            })
            .collect();
        if solved.is_empty() {
            let words =
                "No input is solved yet; roll both sticks and let them go, pull both triggers";
            ui.label(Type::Label.soft(ui, words));
            return;
        }
        let names: Vec<&str> = solved.iter().map(|a| a.words()).collect();
        self.input = self.input.min(solved.len() - 1);
        if let Some(k) = choice_ui(ui, &names, self.input) {
            self.input = k;
        }
        let axis = solved[self.input];
        let half = axis.half();
        let now = live::reading(view.desk, axis).map(|v| v.clamp(0.0, 65535.0) as u16);
        let run: Box<dyn Fn(u16) -> i16> = if axis.is_trigger() {
            let Some(trigger) = apply::Trigger::of(trim, half) else { return };
            Box::new(move |raw| trigger.run(raw))
        } else {
            let Some(stick) = apply::Stick::of(trim, half) else { return };
            let [x, y] = half.stick();
            let centre = |a| trim.axis(a).map_or(0, |t| t.centre);
            let (rest_x, rest_y) = (centre(x), centre(y));
            if axis == x {
                Box::new(move |raw| stick.run(raw, rest_y).0)
            } else {
                Box::new(move |raw| stick.run(rest_x, raw).1)
            }
        };
        let stairs = Staircase {
            name: axis.words(),
            full_scale: trim.full_scale(),
            lowest: if axis.is_trigger() { 0 } else { -32767 },
            run: &run,
            now,
            dashed: half == Half::Right,
        };
        let height = (ui.available_height() - 32.0).max(100.0);
        staircase_ui(ui, &stairs, height);
    }
}

fn zone_name(place: ZonePlace) -> String {
    match place {
        ZonePlace::Stick(half) => format!("{} stick", half.key()),
        ZonePlace::Axis(axis) => axis.words().to_owned(),
    }
}

/// The terms of a zone and their sum.
fn terms(zone: &DeadZone) -> Vec<Figure> {
    let counts = |label: &str, v: f64, note: String| Figure::plain(label, number(v, 2), note);
    let drift =
        Figure { hint: zone.drift_words(), ..counts("drift", zone.drift_term, "added".to_owned()) };
    let larger = zone.spread_term >= zone.farthest_term;
    vec![
        counts("k₂ · scatter", zone.spread_term, taken(larger))
            .hinted("Scatter of the rests along their longer axis, times the tolerance factor"),
        counts("1.25 · farthest", zone.farthest_term, taken(!larger))
            .hinted("The rest that lies farthest from the centre, with a quarter added"),
        counts("3.3 · noise", zone.noise_term, "added".to_owned())
            .hinted("Noise of the readings, so that the reading at rest stays inside as well"),
        drift,
        counts("to whole centre", zone.centre_term, "added".to_owned())
            .hinted("The firmware's centre is a whole count: the distance to the fitted one"),
        counts("radius", zone.radius_counts, "counts".to_owned()),
        Figure::plain("travel lost", format!("{} %", number(zone.radius_fraction * 100.0, 1)), ""),
        Figure::plain("releases", zone.n.to_string(), format!("k₂ = {}", number(zone.k2, 2))),
    ]
}

fn taken(is: bool) -> String {
    if is { "the larger".to_owned() } else { String::new() }
}

fn header_card(
    ui: &mut Ui,
    rect: Rect,
    view: &View<'_>,
    results: &Results,
    actions: &mut Vec<Action>,
) {
    card_at(ui, rect, "Header", |ui| {
        let refusals = &results.solution.trim.refusals;
        let text = view.desk.header_text();
        ui.horizontal(|ui| {
            let ready = text.as_ref().map(|_| ()).map_err(String::as_str);
            if action_button(ui, &Action::Save(Saved::Header), ready) {
                actions.push(Action::Save(Saved::Header));
            }
            let copy = ui.add_enabled(text.is_ok(), egui::Button::new("Copy"));
            if let (true, Ok(text)) = (copy.clicked(), &text) {
                actions.push(Action::Copy(text.clone()));
            }
            copy.on_disabled_hover_text("There is no header yet");
        });
        ScrollArea::both().id_salt("header").auto_shrink([false, false]).show(ui, |ui| {
            for words in refusal_words(refusals) {
                ui.horizontal_wrapped(|ui| {
                    let (mark, _) = ui.allocate_exact_size(vec2(20.0, 18.0), Sense::hover());
                    State::Warning.paint(ui.painter(), mark.center(), Palette::of(ui));
                    ui.add(Label::new(Type::Note.text(ui, words)).wrap());
                });
            }
            match &text {
                Ok(text) => {
                    ui.add(Label::new(Type::Raw.text(ui, text.as_str())).selectable(true).extend());
                }
                Err(why) => {
                    ui.add(Label::new(Type::Label.soft(ui, why.as_str())).wrap());
                }
            }
        });
    });
}

/// One line a reason: parts refused for the same reason with the same advice stand together.
fn refusal_words(refusals: &[Refusal]) -> Vec<String> {
    let mut groups: Vec<(&Refusal, Vec<&str>)> = Vec::new();
    for refusal in refusals {
        let same = |g: &&mut (&Refusal, Vec<&str>)| {
            (&g.0.why, &g.0.advice) == (&refusal.why, &refusal.advice)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.1.push(&refusal.what),
            None => groups.push((refusal, vec![&refusal.what])),
        }
    }
    groups
        .into_iter()
        .map(|(refusal, parts)| {
            let parts = match parts.as_slice() {
                [first, .., last] if parts.len() > 3 => {
                    format!("{first} to {last}, {} parts", parts.len())
                }
                few => few.join(", "),
            };
            format!("{parts}: {}; {}", refusal.why, refusal.advice)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_refused_alike_stand_together() {
        let refusal = |what: &str, why: &str| Refusal {
            what: what.to_owned(),
            why: why.to_owned(),
            code: "not-enough-data".to_owned(),
            advice: "press it".to_owned(),
        };
        let list: Vec<Refusal> = (0..5)
            .map(|k| refusal(&format!("button b{k}"), "no presses"))
            .chain([refusal("left stick", "no releases")])
            .collect();
        let words = refusal_words(&list);
        assert_eq!(words.len(), 2);
        assert!(words[0].starts_with("button b0 to button b4, 5 parts: no presses"), "{words:?}");
    }
}
