//! What these constants cost on a small processor: cycles a scan and flash, from the measured table.
use super::card;
use super::table::{Column, Table};
use crate::emit::costs::{Cost, Costs};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::rig::ZoneForm;
use crate::trim::{CurveOf, StickTrim, TriggerTrim, Trim};

/// Clock that times are given for, MHz.
const CLOCK_MHZ: f64 = 16.0;

/// The card of the costs, where anything was solved and the table is there.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let (trim, costs) = (&report.solution.trim, Costs::measured());
    let used = used(trim, &costs);
    if used.is_empty() {
        return;
    }
    let about = format!(
        "Counted on an emulated {}, {}, {}: the greatest over a grid of \
         codes, the call itself left out. Flash and memory are those of one such part alone; parts \
         share most of the flash. A mixture that was not measured stands as the one that has everything.",
        costs.chip, costs.compiler, costs.options
    );
    let heads = [
        (Column::Label, ""),
        (Column::Value, "parts"),
        (Column::Note, "cycles each, at most"),
        (Column::Value, "cycles a scan"),
        (Column::Note, "flash of one, bytes"),
        (Column::Note, "memory of one, bytes"),
    ];
    let mut table = Table::new("", &heads);
    for part in &used {
        table.row([
            Column::Label.of(&part.cost.words),
            Column::Value.of(part.count.to_string()),
            Column::Note.of(part.cost.worst.to_string()),
            Column::Value.of(part.cycles().to_string()),
            Column::Note.of(part.cost.flash.to_string()),
            Column::Note.of(part.cost.ram.to_string()),
        ]);
    }
    let mut body = tag("p").class("small soft").line(about).then(table.finish());
    let cycles: u32 = used.iter().map(Part::cycles).sum();
    let micros = f64::from(cycles) / CLOCK_MHZ;
    body.push(tag("p").class("small").line(format!(
        "A whole scan: {cycles} cycles at most, {micros:.0} µs at {CLOCK_MHZ:.0} MHz{}.",
        share(trim, micros)
    )));
    card(out, "What these constants cost on your board", body);
}

/// Share of the time between scans, where their rate is stated.
fn share(trim: &Trim, micros: f64) -> String {
    match trim.options.scan_rate_hz {
        0 => String::new(),
        hz => format!(", {:.0} % of the time at {hz} scans a second", micros * f64::from(hz) / 1e4),
    }
}

/// Parts of one kind.
struct Part<'a> {
    cost: &'a Cost,
    count: u32,
}

impl Part<'_> {
    fn cycles(&self) -> u32 {
        self.cost.worst * self.count
    }
}

/// What the trim uses, kind by kind, in the order of the table.
fn used<'a>(trim: &Trim, costs: &'a Costs) -> Vec<Part<'a>> {
    let o = &trim.options;
    let mut keys: Vec<&str> = trim.sticks.iter().map(|s| stick(trim, s)).collect();
    keys.extend(trim.triggers.iter().flat_map(|t| [trigger(trim, t), "trigger-switch"]));
    keys.extend(trim.buttons.iter().map(|_| "button"));
    keys.extend(o.smoothing.iter().map(|_| "smoothing"));
    keys.extend(o.guards.iter().map(|_| "guard"));
    keys.extend(o.motors.iter().map(|_| "motor"));
    let parts = costs.rows.iter().map(|cost| {
        let count = keys.iter().filter(|key| **key == cost.key).count() as u32;
        Part { cost, count }
    });
    parts.filter(|part| part.count > 0).collect()
}

/// The measured variant that a stick is; where a mixture was not measured, the one that has all.
fn stick(trim: &Trim, s: &StickTrim) -> &'static str {
    let points = trim.options.curve(CurveOf::Stick(s.half)).map(|c| c.points.len());
    if s.form == ZoneForm::Axial {
        return if points.is_some() { "stick-axial-curve33" } else { "stick-axial" };
    }
    match (s.matrix.is_some(), trim.options.reach(s.half).is_some(), points) {
        (false, false, None) => "stick-radial",
        (true, false, None) => "stick-radial-2x2",
        (false, true, None) => "stick-radial-reach",
        (false, false, Some(33)) => "stick-radial-curve33",
        (false, false, Some(_)) => "stick-radial-curve65",
        _ => "stick-radial-all",
    }
}

fn trigger(trim: &Trim, t: &TriggerTrim) -> &'static str {
    let bent = trim.options.curve(CurveOf::Trigger(t.half)).is_some();
    if bent { "trigger-curve33" } else { "trigger" }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::whole;

    #[test]
    fn every_part_is_counted_once_and_has_a_measured_row() {
        let mut whole = whole();
        let costs = Costs::measured();
        let counted = |trim: &Trim| -> Vec<(String, u32)> {
            used(trim, &costs).iter().map(|p| (p.cost.key.clone(), p.count)).collect()
        };
        let trim = &mut whole.solution.trim;
        let of = |list: &[(&str, u32)]| -> Vec<(String, u32)> {
            list.iter().map(|(k, n)| ((*k).to_owned(), *n)).collect()
        };
        let plain =
            of(&[("stick-radial", 2), ("trigger", 1), ("trigger-switch", 1), ("button", 3)]);
        assert_eq!(counted(trim), plain);
        trim.sticks[0].form = ZoneForm::Axial;
        assert_eq!(counted(trim)[0], ("stick-axial".to_owned(), 1));
        let mut out = Html::EMPTY;
        write(&whole.report(), &mut out);
        let out = out.into_string();
        assert!(out.contains("A whole scan:") && out.contains("ATmega32U4"), "{out}");
        assert!(out.contains("memory of one") && out.contains("flash of one"), "{out}");
    }

    #[test]
    fn every_variant_that_a_stick_can_be_was_measured() {
        let costs = Costs::measured();
        for key in [
            "stick-axial",
            "stick-axial-curve33",
            "stick-radial",
            "stick-radial-2x2",
            "stick-radial-reach",
            "stick-radial-curve33",
            "stick-radial-curve65",
            "stick-radial-all",
            "trigger",
            "trigger-curve33",
            "trigger-switch",
            "button",
            "smoothing",
            "guard",
            "motor",
        ] {
            assert!(costs.row(key).is_some(), "{key}");
        }
    }
}
