//! A second form of lines in a recording: looked for among the refused lines once the whole was read.
use super::FileError;
use crate::session::Session;
use crate::wire::{Dialect, Grammar, SecondForm, Why, recognise};

/// Where one line in twenty is refused, and most of those are frames of another form with the same readings: the
/// form that leads, and the way from the other one to it. The form that holds more leads, unless a recording
/// says which one does.
pub(super) fn second_form(
    session: &Session,
    dialect: &Dialect,
    said: bool,
) -> Option<(Dialect, SecondForm)> {
    let refusals = session.refusals();
    if 20 * refusals.total() < refusals.total() + session.rows() as u64 {
        return None;
    }
    let mut sample = Vec::new();
    // What the recording lost would have been read otherwise.
    for refusal in refusals.kept().filter(|refusal| refusal.why != Why::Suspect) {
        sample.extend_from_slice(&refusal.bytes);
        sample.push(b'\n');
    }
    let other = recognise(&sample).ok()?;
    if dialect.grammar == Grammar::Packed {
        return Some((dialect.clone(), SecondForm::settling(dialect, &other)?));
    }
    let way = SecondForm::of(dialect, &other);
    if !said
        && way.as_ref().is_some_and(|way| !way.more().is_empty())
        && let Some(back) = SecondForm::of(&other, dialect)
    {
        return Some((other, back));
    }
    Some((dialect.clone(), way?))
}

/// Reads by both forms, and once more where the lines themselves showed digits of a mask to be decimal.
pub(super) fn by_both<T>(
    second: SecondForm,
    mut read: impl FnMut(SecondForm) -> Result<T, FileError>,
    form: impl Fn(&T) -> Option<&SecondForm>,
) -> Result<T, FileError> {
    let first = read(second)?;
    match form(&first).and_then(SecondForm::in_decimals) {
        Some(second) => read(second),
        None => Ok(first),
    }
}
