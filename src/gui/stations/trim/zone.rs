//! The dead zone: its terms, what it costs, another radius by hand; the correction offered.
use egui::{Label, Ui, vec2};

use super::TrimStation;
use crate::desk::{Desk, Results};
use crate::gui::actions::{Action, EditVerb, PartVerb};
use crate::gui::look::Type;
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::figures::{self, Figure, figures_ui};
use crate::gui::parts::leak::{Held, LEAST_RADIUS, STEP, leak_ui};
use crate::gui::parts::numbers::number;
use crate::gui::stations::action_button;
use crate::rig::ZoneForm;
use crate::trim::{DeadZone, MatrixOffer, ZonePlace};

/// Below this width of the card the figures stand below the picture.
pub(super) const NARROW: f32 = 640.0;

/// The zones of a session: sticks first, whose radial zone is what most firmware uses.
pub(super) fn zones(results: &Results) -> Vec<&DeadZone> {
    let mut zones: Vec<&DeadZone> = results.solution.zones.iter().collect();
    zones.sort_by_key(|z| matches!(z.place, ZonePlace::Axis(_)));
    zones
}

impl TrimStation {
    /// The zone shown and the radius that it stands at now, while it is dragged too.
    fn shown<'a>(&self, results: &'a Results) -> Option<(&'a DeadZone, f64)> {
        let zones = zones(results);
        let zone = *zones.get(self.zone.min(zones.len().checked_sub(1)?))?;
        let held = self.held.filter(|(place, _)| *place == zone.place);
        Some((zone, held.map_or(zone.radius_counts, |(_, radius)| radius)))
    }

    /// Another radius by a key: half a count more or less, or the proposed one.
    pub(super) fn nudge(&mut self, results: &Results, larger: Option<bool>) {
        let Some((zone, radius)) = self.shown(results) else { return };
        let by = larger.map(|larger| if larger { STEP } else { -STEP });
        let counts = by.map(|by| (radius + by).max(LEAST_RADIUS));
        if counts.is_some() || zone.is_chosen() {
            self.asked.push(Action::Edit(EditVerb::ChooseZone(zone.place, counts)));
        }
    }

    pub(super) fn zone_ui(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        results: &Results,
        actions: &mut Vec<Action>,
    ) {
        let zones = zones(results);
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
        let Some((zone, radius)) = self.shown(results) else { return };
        ui.add(Label::new(Type::Label.text(ui, words(results, zone))).wrap());
        ui.horizontal_wrapped(|ui| {
            let proposed = match zone.is_chosen() {
                true => Ok(()),
                false => Err("The proposed dead zone is in force"),
            };
            let ends = [
                (PartVerb::Zone(false), Ok(())),
                (PartVerb::Zone(true), Ok(())),
                (PartVerb::ProposedZone, proposed),
            ];
            for (verb, enabled) in ends {
                if action_button(ui, &verb.into(), enabled) {
                    actions.push(verb.into());
                }
            }
            if let Some(offer) = offer_of(results, zone.place) {
                offer_ui(ui, desk, offer, actions);
            }
        });
        let place = zone.place;
        match picture_ui(ui, zone, radius) {
            Some(Held::At(radius)) => self.held = Some((place, radius)),
            Some(Held::LetGo(radius)) => {
                self.held = None;
                actions.push(Action::Edit(EditVerb::ChooseZone(place, Some(radius))));
            }
            None => {}
        }
    }
}

/// The cost over the radius with the terms of the zone beside it, below it on a narrow card.
fn picture_ui(ui: &mut Ui, zone: &DeadZone, radius: f64) -> Option<Held> {
    let wide = ui.available_width();
    let terms = terms(zone, radius);
    let height = ui.available_height() - 4.0;
    if wide < NARROW {
        let below = figures::height(ui, &terms, wide) + 16.0;
        let held = leak_ui(ui, zone, radius, (height - below).max(120.0));
        ui.add_space(8.0);
        figures_ui(ui, &terms);
        held
    } else {
        let side = vec2(wide * 0.58, ui.available_height());
        let row = ui.horizontal_top(|ui| {
            let drawn = ui.allocate_ui(side, |ui| {
                ui.vertical(|ui| leak_ui(ui, zone, radius, height.max(120.0))).inner
            });
            ui.vertical(|ui| figures_ui(ui, &terms));
            drawn.inner
        });
        row.inner
    }
}

/// The promise, and whether the firmware uses a zone of this form.
fn words(results: &Results, zone: &DeadZone) -> String {
    let form = |half| results.solution.trim.stick(half).map(|s| s.form);
    let unused = match zone.place {
        ZonePlace::Stick(half) => form(half) == Some(ZoneForm::Axial),
        ZonePlace::Axis(axis) => form(axis.half()) == Some(ZoneForm::Radial),
    };
    let other = match zone.place {
        ZonePlace::Stick(_) => "; the parts list asks for one zone an axis instead",
        ZonePlace::Axis(_) => "; the parts list asks for the stick's round zone instead",
    };
    format!("{}{}", zone.promise(), if unused { other } else { "" })
}

pub(super) fn zone_name(place: ZonePlace) -> String {
    match place {
        ZonePlace::Stick(half) => format!("{} stick", half.key()),
        ZonePlace::Axis(axis) => axis.words().to_owned(),
    }
}

fn offer_of(results: &Results, place: ZonePlace) -> Option<&MatrixOffer> {
    let ZonePlace::Stick(half) = place else { return None };
    results.solution.offers.iter().find(|o| o.half == half)
}

/// A correction of skew that the data support, taken or left by a person.
fn offer_ui(ui: &mut Ui, desk: &Desk, offer: &MatrixOffer, actions: &mut Vec<Action>) {
    let mut used = desk.choices().corrected[offer.half as usize];
    let words = format!(
        "use the correction of axes {}° off 90° and {}° of rotation",
        number(offer.skew_deg, 1),
        number(offer.rotation_deg, 1)
    );
    let hint = Action::Edit(EditVerb::Correct(offer.half, true)).hint();
    if ui.checkbox(&mut used, Type::Label.text(ui, words)).on_hover_text(hint).changed() {
        actions.push(Action::Edit(EditVerb::Correct(offer.half, used)));
    }
}

/// The terms of a zone, their sum, and what the radius shown costs.
pub(super) fn terms(zone: &DeadZone, radius: f64) -> Vec<Figure> {
    let counts = |label: &str, v: f64, note: String| Figure::plain(label, number(v, 2), note);
    let drift =
        Figure { hint: zone.drift_words(), ..counts("+ drift", zone.drift_term, String::new()) };
    let larger = zone.by_spread();
    let cost = zone.cost_of(radius);
    let other = (radius - zone.proposed_counts).abs() > 1e-9;
    let factor = format!(
        "Scatter of the rests along their longer axis, times the tolerance factor: k = {}",
        number(zone.factor, 2)
    );
    vec![
        counts("k · scatter", zone.spread_term, taken(larger)).hinted(&factor),
        counts("+ to whole centre", zone.centre_term, with_spread(larger))
            .hinted("The firmware's centre is a whole count: what that costs the spread more"),
        counts("farthest, carried", zone.farthest_term, taken(!larger)).hinted(
            "The rest that lies farthest from the centre, carried on to the promised share",
        ),
        counts("+ 3.3 · noise", zone.noise_term, String::new())
            .hinted("Noise of the readings, so that the reading at rest stays inside as well"),
        drift,
        counts("proposed, counts", zone.proposed_counts, String::new()),
        counts("radius", radius, if other { "by hand" } else { "counts" }.to_owned()),
        Figure::plain(
            "releases that leak",
            format!("≤ {} %", number(cost.leak_upper * 100.0, 1)),
            String::new(),
        )
        .hinted("95 % sure: the bound of the next smaller radius for which it was worked out"),
        Figure::plain(
            "travel lost",
            format!("{} %", number(cost.lost_travel * 100.0, 1)),
            String::new(),
        ),
    ]
}

/// What the whole centre costs belongs to the scatter: nothing is added to the farthest rest.
fn with_spread(larger: bool) -> String {
    if larger { "" } else { "with the scatter alone" }.to_owned()
}

fn taken(is: bool) -> String {
    if is { "the larger".to_owned() } else { String::new() }
}
