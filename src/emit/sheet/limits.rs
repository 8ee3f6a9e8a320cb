//! The limits that were used, how they decide, and what to mind at the bench.
use super::table::{Column, Table};
use super::{card, halves};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;

/// Two cards: limits, cautions.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let heads = [
        (Column::Label, ""),
        (Column::Note, "good"),
        (Column::Note, "marginal"),
        (Column::Note, "reject beyond"),
    ];
    let caption = "A limit is missed only when the whole 95 % interval lies beyond it; common \
        practice, scaled to this raw width, to be edited for a rig with other needs.";
    let bands = report.limits.named();
    let (stream_and_rest, travel) = bands.split_at(bands.len().div_ceil(2));
    let parts = [stream_and_rest, travel].map(|part| {
        let mut table = Table::new("", &heads);
        for (named, band) in part {
            table.row([
                Column::Label.of(named.label),
                Column::Note.of(band.good.words(named.unit)),
                Column::Note.of(band.marginal.words(named.unit)),
                Column::Note.of(band.reject.words(named.unit)),
            ]);
        }
        tag("div").line(table.finish())
    });
    let body = tag("p").class("small soft").line(caption).then(halves(parts));
    card(out, "Limits used", body);
    let list: Html = CAUTIONS.iter().map(|caution| tag("li").line(*caution)).collect();
    card(out, "Cautions", tag("ul").line(Html::markup("\n").then(list)));
}

const CAUTIONS: [&str; 6] = [
    "This sheet says what the readings show. It does not make a board safe: keep to the datasheet \
     of every part and to the rules where you live; ask a qualified person where you are unsure.",
    "Match the supply to the sensors and the converter before power is on: a 3.3 V part on 5 V, or \
     5 V into a 3.3 V pin, is damaged and no constant mends it.",
    "Take motors, lights and USB inside their rated currents; a motor may start during reset or \
     flashing unless its switch is held off.",
    "Never short, pierce, reverse or overcharge a lithium cell; charge it only with a circuit \
     meant for it and a protection fitted.",
    "Before flashing, make sure that the board can be brought back by hand, and keep the last \
     image that worked.",
    "Prove the flashed board with fresh data: constants are not checked by the session that they \
     came from.",
];
