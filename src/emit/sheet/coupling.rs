//! What motors, lights, other inputs and the supply do to each axis at home.
use super::card;
use super::noise::{interval_or_dash, plain};
use super::table::{Column, Table};
use crate::emit::escape::html;
use crate::emit::forms::cause;
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::survey::Survey;

/// Up to three tables; nothing when no axis was looked at.
pub fn write(report: &Report<'_>, out: &mut String) {
    let survey = report.survey;
    if survey.driven.is_empty() && survey.followed.is_empty() {
        return;
    }
    let body = driven(survey) + &followed(survey) + &common(survey);
    card(out, "Coupling into axes at home", &body);
}

fn driven(survey: &Survey) -> String {
    if survey.driven.is_empty() {
        return "<p class=\"small soft\">Motors and lights: the stream tells of none; send their \
                drive in a column to have them measured.</p>\n"
            .to_owned();
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
        table.row(&[
            (Column::Name, d.axis.words().to_owned()),
            (Column::Name, html(&d.by.words())),
            (Column::Note, d.largest.map_or("–".to_owned(), |most| number(most, 0))),
            (Column::Value, plain(&d.shift)),
            (Column::Note, interval_or_dash(&d.shift)),
            (Column::Value, plain(&d.noise_ratio)),
            (Column::Note, interval_or_dash(&d.noise_ratio)),
        ]);
    }
    table.finish()
}

fn followed(survey: &Survey) -> String {
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
        let share = match &f.share {
            Ok(r) => html(&r.value_text()),
            short => plain(short),
        };
        table.row(&[
            (Column::Name, f.axis.words().to_owned()),
            (Column::Name, format!("{}{before}", f.by.words())),
            (Column::Value, share),
            (Column::Note, interval_or_dash(&f.share)),
            (Column::Note, plain(&f.correlation)),
        ]);
    }
    table.finish()
}

fn common(survey: &Survey) -> String {
    let heads = [
        (Column::Name, "half"),
        (Column::Value, "correlation"),
        (Column::Note, "95 % interval"),
        (Column::Note, "rms, counts"),
        (Column::Words, "cause"),
    ];
    let mut table = Table::new("Motion that the channels of a half share at rest", &heads);
    for (half, common) in Half::ALL.into_iter().zip(&survey.common) {
        table.row(&[
            (Column::Name, half.key().to_owned()),
            (Column::Value, plain(&common.correlation)),
            (Column::Note, interval_or_dash(&common.correlation)),
            (Column::Note, common.rms.map_or("–".to_owned(), |rms| number(rms, 2))),
            (Column::Words, cause(common).to_owned()),
        ]);
    }
    table.finish()
}
