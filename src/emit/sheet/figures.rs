//! The figures of the catalogue as tables: one part in rows, or parts of a kind side by side.
use super::found::State;
use super::table::{Cell, Column, Table, interval};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::findings::Severity;
use crate::measure::{DASH, spaced};
use crate::rig::Place;
use crate::survey::catalogue::{Entry, Figure, Judged, Judgement, Shown};
use crate::units::Unit;

/// Heads of a part in rows.
const HEADS: [(Column, &str); 4] = [
    (Column::Label, ""),
    (Column::Value, "value"),
    (Column::Note, "95 % interval"),
    (Column::Note, "n"),
];

/// Parts that stand side by side in one grid.
const ABREAST: usize = 8;

/// Every figure of the part of one kind at a place in a row of its own; more rows may follow.
///
/// `kind` begins the paths of its figures: a trigger is an axis too, which has a grid of its own.
pub fn part(report: &Report<'_>, place: Place, kind: &str, caption: &str) -> Table {
    let mut table = Table::new(caption, &HEADS);
    let entries = report.entries_at(place);
    let of_kind = |e: &&Entry<'_>| e.path.starts_with(kind) || e.path.starts_with("source.");
    for entry in entries.iter().filter(of_kind).filter(|e| e.is_shown(Shown::Sheet)) {
        row(&mut table, entry);
    }
    table
}

fn row(table: &mut Table, entry: &Entry<'_>) {
    // What is good stands softly behind the name: a column more would not fit half a page.
    let label = match &entry.judged {
        Some(judged) => {
            let good = tag("span").class("small soft").with(good(judged));
            Html::text(&entry.label()).then(" ").then(good)
        }
        None => entry.label().into(),
    };
    let label = Column::Name.of(label);
    match (entry.figure, entry.figure.shortage()) {
        (_, Some(short)) if entry.figure.cell() == DASH => {
            let why = format!("{} {}, {} needed", short.have, short.what, short.need);
            table.reason(label, short.to_string(), why);
        }
        (Figure::Reading(Ok(r)), _) => table.row([
            label,
            Column::Value.of(marked(entry, r.value_text())),
            Column::Note.of(interval(r)),
            Column::Note.of(r.n.to_string()),
        ]),
        (figure, _) => {
            let text = format!("{}{}", figure.cell(), spaced(entry.info.unit));
            let value = if figure.cell() == DASH { DASH.to_owned() } else { text };
            let none = || Column::Note.of(Html::EMPTY);
            let value = Column::Value.of(marked(entry, value));
            table.row([label, value, none(), none()]);
        }
    }
}

/// Parts of a kind side by side, one row a figure; `names` are the parts' keys with their words.
pub fn grid(report: &Report<'_>, path: &str, names: &[(String, String)], caption: &str) -> Html {
    let entries = report.entries();
    let mut body = Html::EMPTY;
    for (k, names) in names.chunks(ABREAST).enumerate() {
        let mut heads = vec![(Column::Label, "")];
        heads.extend(names.iter().map(|(_, words)| (Column::Note, words.as_str())));
        heads.push((Column::Note, "good"));
        let mut table = Table::new(if k == 0 { caption } else { "" }, &heads);
        let of = |key: &str| {
            let prefix = format!("{path}.{key}.");
            let here = |e: &&Entry<'_>| e.path.starts_with(&prefix) && e.is_shown(Shown::Sheet);
            entries.iter().filter(here).collect::<Vec<_>>()
        };
        let parts: Vec<Vec<&Entry<'_>>> = names.iter().map(|(key, _)| of(key)).collect();
        let rows = parts.first().map_or(0, Vec::len);
        for row in 0..rows {
            let here: Vec<&&Entry<'_>> = parts.iter().filter_map(|part| part.get(row)).collect();
            let Some(first) = here.first() else { continue };
            let mut cells: Vec<Cell> = vec![Column::Name.of(head(first))];
            cells.extend(here.iter().map(|e| Column::Note.of(cell(e))));
            let judged = here.iter().find_map(|e| e.judged.as_ref());
            cells.push(Column::Note.of(judged.map_or(String::new(), good)));
            table.cells(cells);
        }
        body.push(table.finish());
    }
    body
}

/// Its label with the unit that its cells do not carry.
fn head(entry: &Entry<'_>) -> String {
    match entry.info.unit {
        Unit::Fraction | Unit::Degrees | Unit::Number => entry.label(),
        unit => format!("{}, {}", entry.label(), unit.symbol()),
    }
}

/// The figure, or a dash that says why on a pointer's rest.
fn cell(entry: &Entry<'_>) -> Html {
    let text = entry.figure.cell();
    match entry.figure.shortage() {
        Some(short) => tag("span").attr("title", short.to_string()).with(text),
        None => marked(entry, text),
    }
}

/// A missed figure carries the shape of its severity, an undecided one says how many more decide it.
fn marked(entry: &Entry<'_>, text: String) -> Html {
    match entry.judged.map(|j| j.judgement) {
        Some(Judgement::Missed(grade)) => match Severity::of(grade) {
            Some(severity) => State::from(severity).shape().then(" ").then(text),
            None => text.into(),
        },
        Some(Judgement::Undecided { more: Some(more) }) => {
            let words = format!("undecided: about {more} more decide it");
            tag("span").attr("title", words).with(text).then(tag("span").class("soft").with(" ?"))
        }
        _ => text.into(),
    }
}

fn good(judged: &Judged) -> String {
    judged.band.good.words(judged.reading.unit)
}
