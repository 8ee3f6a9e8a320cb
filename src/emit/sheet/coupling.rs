//! What motors, lights, other inputs and the supply do to each axis at home.
use super::card;
use super::noise::plain;
use super::table::{Column, Table, interval_or_dash, or_why};
use crate::emit::forms::cause;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::survey::Survey;

/// Up to three tables; nothing when no axis was looked at.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let survey = report.survey;
    if survey.driven.is_empty() && survey.followed.is_empty() {
        return;
    }
    let body = driven(survey).then(followed(survey)).then(common(survey));
    card(out, "Coupling into axes at home", body);
}

fn driven(survey: &Survey) -> Html {
    if survey.driven.is_empty() {
        let text = "Motors and lights: the stream tells of none; send their drive in a column to \
                    have them measured.";
        return tag("p").class("small soft").line(text);
    }
    let heads = [
        (Column::Name, "axis"),
        (Column::Name, "driven"),
        (Column::Note, "up to"),
        (Column::Value, "shift, counts"),
        (Column::Note, "95 % interval"),
        (Column::Value, "noise ×"),
        (Column::Note, "95 % interval"),
    ];
    let mut table = Table::new("Motors and lights at their largest drive against none", &heads);
    for d in &survey.driven {
        table.row([
            Column::Name.of(d.axis.words()),
            Column::Name.of(d.by.words()),
            Column::Note.of(d.largest.map_or("–".to_owned(), |most| number(most, 0))),
            Column::Value.of(plain(&d.shift)),
            Column::Note.of(interval_or_dash(&d.shift)),
            Column::Value.of(plain(&d.noise_ratio)),
            Column::Note.of(interval_or_dash(&d.noise_ratio)),
        ]);
    }
    table.finish()
}

fn followed(survey: &Survey) -> Html {
    let heads = [
        (Column::Name, "axis at home"),
        (Column::Name, "moved"),
        (Column::Value, "follows by"),
        (Column::Note, "95 % interval"),
        (Column::Note, "correlation"),
    ];
    let mut table = Table::new("Other inputs: counts of the axis a count of the moved one", &heads);
    for f in &survey.followed {
        let before = if f.scanned_before { ", scanned before" } else { "" };
        let share = or_why(&f.share, |r| r.value_text());
        table.row([
            Column::Name.of(f.axis.words()),
            Column::Name.of(format!("{}{before}", f.by.words())),
            Column::Value.of(share),
            Column::Note.of(interval_or_dash(&f.share)),
            Column::Note.of(plain(&f.correlation)),
        ]);
    }
    table.finish()
}

fn common(survey: &Survey) -> Html {
    let heads = [
        (Column::Name, "half"),
        (Column::Value, "correlation"),
        (Column::Note, "95 % interval"),
        (Column::Note, "rms, counts"),
        (Column::Words, "cause"),
    ];
    let mut table = Table::new("Motion that the channels of a half share at rest", &heads);
    for (half, common) in Half::ALL.into_iter().zip(&survey.common) {
        table.row([
            Column::Name.of(half.key()),
            Column::Value.of(plain(&common.correlation)),
            Column::Note.of(interval_or_dash(&common.correlation)),
            Column::Note.of(common.rms.map_or("–".to_owned(), |rms| number(rms, 2))),
            Column::Words.of(cause(common)),
        ]);
    }
    table.finish()
}
