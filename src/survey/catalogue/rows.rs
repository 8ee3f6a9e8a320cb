//! A row of the catalogue, what a field can hold, and the macro that writes both beside each other.
use super::judge::Judge;
use crate::measure::noise::{FLOOR_COUNTS, is_below_floor};
use crate::measure::{DASH, Measured, Reading, Shortage, number};
use crate::units::Unit;

/// One figure as it stands in a part.
#[derive(Clone, Copy, Debug)]
pub enum Figure<'a> {
    /// A reading with its interval, or why there is none.
    Reading(&'a Measured),
    /// A time as sampled, and what nothing seen in between is shorter than: two looks.
    Sampled(&'a Measured, f64),
    /// A count, exact, or why there is none.
    Count(Result<u64, &'a Shortage>),
    /// A whole constant of the firmware; `None` = not solved.
    Code(Option<u16>),
    /// A number that carries no interval: a setting, a length; `None` = not there.
    Number(Option<f64>),
    /// Yes or no; `None` = not known.
    Flag(Option<bool>),
}

impl<'a> Figure<'a> {
    /// Why there is none.
    pub fn shortage(self) -> Option<&'a Shortage> {
        match self {
            Figure::Reading(figure) | Figure::Sampled(figure, _) => figure.as_ref().err(),
            Figure::Count(count) => count.err(),
            Figure::Code(_) | Figure::Number(_) | Figure::Flag(_) => None,
        }
    }

    /// The reading behind it.
    pub fn reading(self) -> Option<&'a Reading> {
        match self {
            Figure::Reading(figure) | Figure::Sampled(figure, _) => figure.as_ref().ok(),
            Figure::Count(_) | Figure::Code(_) | Figure::Number(_) | Figure::Flag(_) => None,
        }
    }

    /// One cell of a table whose head names the unit: the figure as everything writes it.
    pub fn cell(self) -> String {
        match self {
            Figure::Sampled(Ok(r), least) if r.value <= 0.0 => match least > 0.0 {
                true => format!("< {}", number(least, 1)),
                false => "none seen".to_owned(),
            },
            Figure::Reading(Ok(r)) | Figure::Sampled(Ok(r), _) => r.cell(),
            Figure::Reading(Err(short)) if is_below_floor(short) => format!("< {FLOOR_COUNTS}"),
            Figure::Count(Ok(count)) => count.to_string(),
            Figure::Code(Some(code)) => code.to_string(),
            Figure::Number(Some(value)) => number(value, crate::measure::decimals(value, 0.0)),
            Figure::Flag(Some(yes)) => if yes { "yes" } else { "no" }.to_owned(),
            Figure::Reading(Err(_))
            | Figure::Sampled(Err(_), _)
            | Figure::Count(Err(_))
            | Figure::Code(None)
            | Figure::Number(None)
            | Figure::Flag(None) => DASH.to_owned(),
        }
    }

    /// Its value as a number; a flag is 0 or 1.
    pub fn value(self) -> Option<f64> {
        match self {
            Figure::Reading(figure) | Figure::Sampled(figure, _) => {
                figure.as_ref().ok().map(|r| r.value)
            }
            Figure::Count(count) => count.ok().map(|n| n as f64),
            Figure::Code(code) => code.map(f64::from),
            Figure::Number(number) => number.filter(|v| v.is_finite()),
            Figure::Flag(flag) => flag.map(|yes| f64::from(u8::from(yes))),
        }
    }
}

/// A field that holds one figure or several.
pub trait Figures {
    /// The k-th of them.
    fn figure(&self, k: usize) -> Figure<'_>;
}

impl Figures for Measured {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Reading(self)
    }
}

impl Figures for Measured<u64> {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Count(self.as_ref().copied())
    }
}

impl Figures for Measured<usize> {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Count(self.as_ref().map(|&n| n as u64))
    }
}

impl Figures for u64 {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Count(Ok(*self))
    }
}

impl Figures for usize {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Count(Ok(*self as u64))
    }
}

impl Figures for bool {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Flag(Some(*self))
    }
}

impl Figures for Option<bool> {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Flag(*self)
    }
}

impl Figures for Option<f64> {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Number(*self)
    }
}

impl Figures for Option<u16> {
    fn figure(&self, _: usize) -> Figure<'_> {
        Figure::Code(*self)
    }
}

impl<T: Figures, const N: usize> Figures for [T; N] {
    fn figure(&self, k: usize) -> Figure<'_> {
        self[k.min(N - 1)].figure(0)
    }
}

/// How the figures of one row are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Elements {
    /// There is one.
    One,
    /// x and y of a stick.
    Axes,
    /// The left and the right half.
    Halves,
    /// A contact's closing and opening.
    Edges,
    /// A quarter, half and three quarters of a stroke.
    Quarters,
}

impl Elements {
    /// A word for each; one empty word for a single figure.
    pub fn words(self) -> &'static [&'static str] {
        match self {
            Elements::One => &[""],
            Elements::Axes => &["x", "y"],
            Elements::Halves => &["left", "right"],
            Elements::Edges => &["press", "release"],
            Elements::Quarters => &["at 25 %", "at 50 %", "at 75 %"],
        }
    }

    /// The last step of the key of each: an index, or the half's key; nothing for a single one.
    pub fn key(self, k: usize) -> String {
        match self {
            Elements::One => String::new(),
            Elements::Halves => format!(".{}", self.words()[k.min(1)]),
            _ => format!(".{k}"),
        }
    }
}

/// Where a figure is shown beside JSON and CSV, which have all of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// In the summary on the terminal.
    Summary,
    /// In the tables of the sheet.
    Sheet,
    /// Among the rows of its station.
    Station,
    /// In the list of what is still to do, while it is missing.
    Asked,
    /// The same, but of the axes of sticks alone: a trigger has no such figure.
    AskedOfSticks,
}

/// What a row says, whatever part it belongs to.
#[derive(Clone, Copy, Debug)]
pub struct Info {
    /// Key below the part's own; a dot leads into an object, a slash before it starts at the top.
    pub key: &'static str,
    /// Words for a person, the same everywhere.
    pub label: &'static str,
    /// Unit of every reading of the row.
    pub unit: Unit,
    /// How its figures are told apart.
    pub elements: Elements,
    /// What it is, with its formula: one sentence.
    pub note: &'static str,
    /// Where it is shown.
    pub shown: &'static [Shown],
}

impl Info {
    /// The label of the k-th figure: "hysteresis x".
    pub fn label_of(&self, k: usize) -> String {
        match self.elements.words().get(k) {
            Some(&"") | None => self.label.to_owned(),
            Some(word) => format!("{} {word}", self.label),
        }
    }

    /// What it is: one sentence without blanks at its ends.
    pub fn sentence(&self) -> String {
        self.note.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// A row of the catalogue for parts of type `T`.
pub struct Row<T: 'static> {
    /// What it says.
    pub info: Info,
    /// The k-th figure of a part.
    pub get: fn(&T, usize) -> Figure<'_>,
    /// Its limit.
    pub judge: Option<Judge<T>>,
}

/// Writes a part once: its fields with their documentation, and behind `=>` the row of each figure.
///
/// `field: Type => "key", "label", Unit, Elements, [Shown …];`, then perhaps `via` another way to the
/// figure than the field itself, then perhaps a judge behind a comma. What has no field of its own
/// stands in `also` with the way to it.
macro_rules! figures {
    (
        $(#[$doc:meta])*
        pub struct $part:ident {
            $(
                $(#[doc = $own:literal])+
                $field:ident: $type:ty $(=> $key:literal, $label:literal, $unit:ident, $elements:ident, [$($shown:ident)*] $(via $get:expr)? $(, $judge:expr)?)?;
            )*
        }
        also {
            $($also_note:literal, $also_get:expr => $also_key:literal, $also_label:literal, $also_unit:ident, [$($also_shown:ident)*];)*
        }
    ) => {
        $(#[$doc])*
        #[derive(Clone, Debug)]
        pub struct $part {
            $($(#[doc = $own])+ pub $field: $type,)*
        }

        impl $part {
            /// Its rows in the catalogue.
            pub const ROWS: &[Option<$crate::survey::catalogue::Row<$part>>] = &[
                $($crate::survey::catalogue::figures!(
                    @row $part, $field, [$($own),+]
                    $(, $key, $label, $unit, $elements, [$($shown)*], [$($get)?], [$($judge)?])?
                ),)*
                $($crate::survey::catalogue::figures!(
                    @row $part, none, [$also_note], $also_key, $also_label, $also_unit, One,
                    [$($also_shown)*], [$also_get], []
                ),)*
            ];
        }
    };
    (@row $part:ident, $field:ident, [$($note:literal),+]) => { None };
    (
        @row $part:ident, $field:ident, [$($note:literal),+], $key:literal, $label:literal, $unit:ident,
        $elements:ident, [$($shown:ident)*], [$($get:expr)?], [$($judge:expr)?]
    ) => {
        Some($crate::survey::catalogue::Row {
            info: $crate::survey::catalogue::Info {
                key: $key,
                label: $label,
                unit: $crate::units::Unit::$unit,
                elements: $crate::survey::catalogue::Elements::$elements,
                note: concat!($($note),+),
                shown: &[$($crate::survey::catalogue::Shown::$shown),*],
            },
            get: $crate::survey::catalogue::figures!(@get $part, $field $(, $get)?),
            judge: $crate::survey::catalogue::figures!(@judge $($judge)?),
        })
    };
    (@get $part:ident, $field:ident) => {
        |part: &$part, k| $crate::survey::catalogue::Figures::figure(&part.$field, k)
    };
    (@get $part:ident, $field:ident, $get:expr) => { $get };
    (@judge) => { None };
    (@judge $judge:expr) => { Some($judge) };
}
pub(crate) use figures;
