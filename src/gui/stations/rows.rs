//! The rows of a station: the figures of its part as the catalogue has them, each with its judgement.
use crate::desk::analysis::Results;
use crate::gui::parts::figures::Figure;
use crate::gui::parts::ruler::Ruler;
use crate::gui::parts::state_mark::State;
use crate::limits::Grade;
use crate::measure::{Measured, Reading, Span, spaced};
use crate::rig::Place;
use crate::survey::catalogue::{self, Elements, Entry, Judged, Judgement, Shown};
use crate::units::Unit;

/// A row and where in the session its figure came from.
pub type Row = (Figure, Option<Span>);

/// The mark of a judgement: nothing while it is good or cannot be told.
pub fn state(judged: Option<&Judged>) -> State {
    match judged.map(|j| j.judgement) {
        Some(Judgement::Missed(Grade::Reject)) => State::Fault,
        Some(Judgement::Missed(Grade::Poor)) => State::Warning,
        Some(Judgement::Missed(_)) => State::Note,
        Some(Judgement::Good | Judgement::Undecided { .. }) | None => State::None,
    }
}

/// The mark of a part: that of its worst judgement.
pub fn worst(results: &Results, place: Place) -> State {
    let entries = results.entries_at(place);
    let judged = entries.iter().filter_map(|e| e.judged.as_ref());
    state(judged.max_by_key(|j| rank(j.judgement)))
}

/// The rows of the part at a place; x and y of a stick share one.
pub fn rows_of(results: &Results, place: Place) -> Vec<Row> {
    let entries = results.entries_at(place);
    let ruler = Ruler::of(results.row_us());
    let shown: Vec<&Entry<'_>> = entries.iter().filter(|e| e.is_shown(Shown::Station)).collect();
    let mut rows = Vec::new();
    let mut k = 0;
    while let Some(entry) = shown.get(k) {
        let pair = shown.get(k + 1).filter(|_| entry.info.elements == Elements::Axes);
        match pair.and_then(|other| Some((entry.figure.reading()?, other.figure.reading()?, other)))
        {
            Some((x, y, other)) => {
                rows.push(pair_row([entry, other], [x, y], ruler));
                k += 2;
            }
            None => {
                rows.push(row(entry, ruler));
                // Of a pair that is missing one row says why.
                k += if entry.info.elements == Elements::Axes { 2 } else { 1 };
            }
        }
    }
    rows
}

/// A figure in one row.
fn row(entry: &Entry<'_>, ruler: Ruler) -> Row {
    let mut row = match entry.figure {
        catalogue::Figure::Reading(figure) => Figure::measured(&entry.label(), figure),
        catalogue::Figure::Sampled(figure, least) => sampled(&entry.label(), figure, least),
        figure => Figure::plain(&entry.label(), figure.cell(), unit_words(entry.info.unit)),
    };
    if entry.figure.value().is_none() && entry.figure.shortage().is_none() {
        row.value = None;
    }
    finish(&mut row, &[entry], ruler);
    (row, entry.figure.reading().map(|r| r.span))
}

/// A time as sampled: what was not seen is shorter than two looks.
fn sampled(label: &str, figure: &Measured, least: f64) -> Figure {
    match figure {
        Ok(r) if r.value <= 0.0 => {
            let value = catalogue::Figure::Sampled(figure, least).cell();
            Figure::plain(label, value, unit_words(r.unit))
        }
        _ => Figure::measured(label, figure),
    }
}

/// Both figures of a stick in one row, with the wider of their intervals.
fn pair_row(pair: [&Entry<'_>; 2], [x, y]: [&Reading; 2], ruler: Ruler) -> Row {
    let wide = |r: &Reading| r.high - r.low;
    let (wider, which) = if wide(x) >= wide(y) { (x, 0) } else { (y, 1) };
    let value = format!("{}, {}", x.words().value, y.words().value);
    let interval = match wider.words().interval.as_str() {
        "" => String::new(),
        // Of two intervals one is said, and whose it is.
        interval => format!(", {} {interval}", Elements::Axes.words()[which]),
    };
    let note = format!("{}{interval}", unit_words(x.unit));
    let mut row = Figure::plain(pair[0].info.label, value, note);
    finish(&mut row, &pair, ruler);
    (row, Some(x.span.join(y.span)))
}

fn unit_words(unit: Unit) -> String {
    spaced(unit).trim_start_matches('\u{a0}').to_owned()
}

/// The mark, the limit, and all the rest on hovering.
fn finish(row: &mut Figure, entries: &[&Entry<'_>], ruler: Ruler) {
    let worst = entries.iter().filter_map(|e| e.judged.as_ref()).max_by_key(|j| rank(j.judgement));
    row.state = state(worst);
    let Some(first) = entries.first() else { return };
    let mut hint = first.info.sentence();
    if let Some(judged) = worst {
        // A constant stands in counts, its limit in shares: both are said.
        if matches!(first.figure, catalogue::Figure::Number(Some(_))) {
            row.note.push_str(&format!(", {}", judged.reading.value_text()));
        }
        let limit = judged.band.good.words(judged.reading.unit);
        match judged.judgement {
            Judgement::Missed(_) if row.value.is_some() => {
                row.note.push_str(&format!(", limit {limit}"));
            }
            Judgement::Undecided { more: Some(more) } if row.value.is_some() => {
                row.note.push_str(&format!(", {more} more decide"));
            }
            _ => {}
        }
        hint.push_str(&format!(" Good: {limit}."));
    }
    if let Some(r) = first.figure.reading() {
        let (from, to) = (ruler.place(r.span.start_us), ruler.place(r.span.end_us));
        hint.push_str(&format!(" 95 % interval, n = {}, from {from} to {to}.", r.n));
    }
    if let Some(shortage) = first.figure.shortage() {
        // What it would be of time says nothing where there is none.
        hint = if ruler.is_time() { format!("{hint} {shortage}.") } else { format!("{shortage}.") };
    }
    row.hint = hint;
}

/// The gravest last.
fn rank(judgement: Judgement) -> u8 {
    match judgement {
        Judgement::Good => 0,
        Judgement::Undecided { .. } => 1,
        Judgement::Missed(Grade::Reject) => 4,
        Judgement::Missed(Grade::Poor) => 3,
        Judgement::Missed(_) => 2,
    }
}
