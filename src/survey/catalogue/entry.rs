//! Figures of a session as entries: path, place, row, figure and judgement, whatever part they are of.
use super::judge::{Judged, Judgement};
use super::rows::{Elements, Figure, Info, Row, Shown};
use crate::limits::Limits;
use crate::rig::Place;
use crate::survey::Survey;

/// A part of the controller or stream whose figures stand in the catalogue.
pub trait Part: Sized + 'static {
    /// Its rows.
    fn rows() -> &'static [Option<Row<Self>>];
    /// Where it is.
    fn place(&self) -> Place;
}

/// Says of types where their parts are: `Type, |part| place;`.
macro_rules! parts {
    ($($part:ident, $place:expr;)*) => {
        $(impl $crate::survey::catalogue::Part for $part {
            fn rows() -> &'static [Option<$crate::survey::catalogue::Row<$part>>] {
                $part::ROWS
            }

            fn place(&self) -> $crate::rig::Place {
                let place: fn(&$part) -> $crate::rig::Place = $place;
                place(self)
            }
        })*
    };
}
pub(crate) use parts;

/// One figure with everything that the catalogue knows of it.
#[derive(Clone, Debug)]
pub struct Entry<'a> {
    /// Path in the JSON document: `axes.lx.noise_rms`, `sticks.left.centre.0`.
    pub path: String,
    /// Where it belongs.
    pub place: Place,
    /// What its row says.
    pub info: &'static Info,
    /// Which of the row's figures.
    pub element: usize,
    /// The figure.
    pub figure: Figure<'a>,
    /// What is said of its limit; `None` without a limit, or where it does not hold.
    pub judged: Option<Judged>,
}

impl Entry<'_> {
    /// The same where its figure is no reading, which would be borrowed from its part.
    pub fn unborrowed(self) -> Option<Entry<'static>> {
        let figure = match self.figure {
            Figure::Code(code) => Figure::Code(code),
            Figure::Number(number) => Figure::Number(number),
            Figure::Flag(flag) => Figure::Flag(flag),
            Figure::Count(Ok(count)) => Figure::Count(Ok(count)),
            Figure::Count(Err(_)) | Figure::Reading(_) | Figure::Sampled(..) => return None,
        };
        let Entry { path, place, info, element, judged, .. } = self;
        Some(Entry { path, place, info, element, figure, judged })
    }

    /// Words for a person: "hysteresis x".
    pub fn label(&self) -> String {
        self.info.label_of(self.element)
    }

    /// True when its limit cannot be told of yet.
    pub fn is_undecided(&self) -> bool {
        self.judged.is_some_and(|j| matches!(j.judgement, Judgement::Undecided { .. }))
    }

    /// True when it is shown there.
    pub fn is_shown(&self, shown: Shown) -> bool {
        self.info.shown.contains(&shown)
    }
}

/// Which figures their limits cannot be told of yet, in one line: "3 figures need more data: press
/// bounce of b0 and 12 more"; `None` without any.
pub fn undecided(entries: &[Entry<'_>]) -> Option<String> {
    let open: Vec<&Entry<'_>> = entries.iter().filter(|e| e.is_undecided()).collect();
    let mut labels: Vec<(String, Vec<String>)> = Vec::new();
    for entry in &open {
        let (label, at) = (entry.label(), entry.place.words());
        match labels.iter_mut().find(|(known, _)| *known == label) {
            Some((_, places)) => places.push(at),
            None => labels.push((label, vec![at])),
        }
    }
    let words = labels.iter().map(|(label, places)| match places.as_slice() {
        [first, second, rest @ ..] if !rest.is_empty() => {
            format!("{label} of {first}, {second} and {} more", rest.len())
        }
        few => format!("{label} of {}", few.join(", ")),
    });
    let words = words.collect::<Vec<_>>().join("; ");
    match open.len() {
        0 => None,
        1 => Some(format!("1 figure needs more data: {words}")),
        n => Some(format!("{n} figures need more data: {words}")),
    }
}

/// Every figure of one part; `path` is that of the part in the JSON document.
pub fn entries_of<'a, T: Part>(
    part: &'a T,
    path: &str,
    survey: &Survey,
    limits: &Limits,
    out: &mut Vec<Entry<'a>>,
) {
    for row in T::rows().iter().flatten() {
        let base = match row.info.key.strip_prefix('/') {
            Some(own) => own.to_owned(),
            None => format!("{path}.{}", row.info.key),
        };
        for element in 0..row.info.elements.words().len() {
            let judged = row.judge.as_ref().and_then(|judge| {
                let reading = (judge.scaled)(part, element, survey)?;
                let band = *(judge.band)(limits);
                Some(Judged::of(reading, band, judge.code, judge.is_nuisance))
            });
            out.push(Entry {
                path: format!("{base}{}", row.info.elements.key(element)),
                place: place_of(part.place(), row.info.elements, element),
                info: &row.info,
                element,
                figure: (row.get)(part, element),
                judged,
            });
        }
    }
}

/// Where the k-th figure of a row belongs: x and y of a stick to their axes, halves to theirs.
fn place_of(part: Place, elements: Elements, k: usize) -> Place {
    use crate::rig::Half;
    match (elements, part) {
        (Elements::Axes, Place::Stick(half)) => Place::Axis(half.stick()[k.min(1)]),
        (Elements::Halves, _) => Place::Half(Half::ALL[k.min(1)]),
        _ => part,
    }
}
