//! Every figure as comma-separated values: one row a figure, for a spreadsheet or a script.
use crate::emit::Report;
use crate::session::TimeSource;
use crate::survey::catalogue::{Entry, Judgement};

/// Heads of the columns; `why` says what is missing, `more` about how many items would decide it.
const HEADS: &str =
    "place,key,label,value,low,high,n,unit,start_us,end_us,judgement,more,good,why\n";

/// The figures, one a line with LF, in the order of the JSON document. Same input, same bytes.
///
/// Values are in the unit of the reading itself: shares are of one. A missing figure has no value and
/// says why; an end that the method does not give is left empty, and so is the stretch where nothing tells
/// the time.
pub fn figures_csv(report: &Report<'_>) -> String {
    let mut out = String::from(HEADS);
    let timed = report.survey.time_source != TimeSource::Assumed;
    for entry in report.entries() {
        out.push_str(&row(&entry, timed));
    }
    out
}

fn row(entry: &Entry<'_>, timed: bool) -> String {
    let number = |v: f64| if v.is_finite() { v.to_string() } else { String::new() };
    let reading = entry.figure.reading();
    let mut cells = vec![entry.place.key(), entry.path.clone(), entry.label()];
    cells.push(entry.figure.value().map_or(String::new(), number));
    match reading {
        Some(r) => cells.extend([number(r.low), number(r.high), r.n.to_string()]),
        None => cells.extend([const { String::new() }; 3]),
    }
    cells.push(entry.info.unit.machine().to_owned());
    match reading.filter(|_| timed) {
        Some(r) => cells.extend([r.span.start_us.to_string(), r.span.end_us.to_string()]),
        None => cells.extend([const { String::new() }; 2]),
    }
    match &entry.judged {
        Some(judged) => {
            let more = match judged.judgement {
                Judgement::Undecided { more } => more.map_or(String::new(), |n| n.to_string()),
                Judgement::Good | Judgement::Missed(_) => String::new(),
            };
            let good = judged.band.good.words(judged.reading.unit);
            cells.extend([judged.judgement.key().to_owned(), more, good]);
        }
        None => cells.extend([const { String::new() }; 3]),
    }
    cells.push(entry.figure.shortage().map_or(String::new(), ToString::to_string));
    let mut line = cells.iter().map(|cell| quoted(cell)).collect::<Vec<_>>().join(",");
    line.push('\n');
    line
}

/// A cell by RFC 4180: in quotes where it holds a comma, a quote or a line end.
fn quoted(cell: &str) -> String {
    match cell.contains([',', '"', '\n', '\r']) {
        true => format!("\"{}\"", cell.replace('"', "\"\"")),
        false => cell.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::{of, whole};
    use crate::findings::built::{healthy, no};

    #[test]
    fn a_row_a_figure_with_interval_judgement_or_reason() {
        let text = figures_csv(&whole().report());
        let heads = HEADS.trim_end().split(',').count();
        assert!(text.lines().all(|line| plain_cells(line) == heads), "{text}");
        let row = |key: &str| {
            let found = text.lines().find(|line| line.split(',').nth(1) == Some(key));
            found.unwrap_or_else(|| panic!("{key} is missing")).to_owned()
        };
        assert!(row("axes.lx.noise_rms").starts_with("lx,axes.lx.noise_rms,noise rms,0.71,"));
        assert!(row("axes.lx.noise_rms").contains(",counts,1000000,9000000,good,,"));
        assert!(row("sticks.left.hysteresis.1").starts_with("ly,"));
        assert!(row("sticks.left.rotation_deg").contains("prompted pushes: 0 of 3 needed"));
    }

    #[test]
    fn a_missing_figure_has_no_value() {
        let mut built = healthy();
        built.survey.stream.lost = no("counter");
        let text = figures_csv(&of(built).report());
        let row = text.lines().find(|line| line.contains("stream.lost")).expect("a row");
        assert!(row.starts_with("stream,stream.lost,lost,,,,,"), "{row}");
    }

    /// Cells of a line; commas in quotes are none.
    fn plain_cells(line: &str) -> usize {
        let mut inside = false;
        let between = |c: char| {
            inside ^= c == '"';
            c == ',' && !inside
        };
        line.chars().filter(|&c| c == ',' || c == '"').map(between).filter(|b| *b).count() + 1
    }
}
