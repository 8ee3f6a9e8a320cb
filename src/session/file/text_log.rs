//! A plain text log of a board's output: no host times, no marks.
use std::io::{Cursor, Read, Seek};

use crate::session::identity::{Of, Summed, Summing};
use crate::session::{About, Intake, Session};
use crate::wire::{Dialect, SecondForm, recognise};

use super::second::{by_both, second_form};
use super::{FileError, LAST_BYTES, Opened, Opening, append, sample, wide};

/// Bytes read at once.
const STEP: usize = 1 << 20;
/// Bytes between two calls of the partial callback.
const SHOW: u64 = 16 << 20;
/// The mark that some editors put before UTF-8 text.
pub(super) const BYTE_ORDER_MARK: &[u8] = b"\xEF\xBB\xBF";

pub(super) fn read(opening: &mut Opening) -> Result<Opened, FileError> {
    let mut file = opening.file.try_clone().map_err(|e| opening.io(e))?;
    let mut head = Vec::new();
    (&mut file).take(64).read_to_end(&mut head).map_err(|e| opening.io(e))?;
    file.rewind().map_err(|e| opening.io(e))?;
    let Some(order) = wide::is_wide(&head) else {
        let (mut opened, summed) = read_from(&mut file, opening.bytes, opening)?;
        opened.session.set_identity(summed.identity(Of::File));
        return Ok(opened);
    };
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).map_err(|e| opening.io(e))?;
    let text = wide::narrow(&bytes, order);
    let mut summed = Summed::new();
    summed.add(&bytes);
    drop(bytes);
    let length = text.len() as u64;
    let (mut opened, _of_the_text) = read_from(&mut Cursor::new(text), length, opening)?;
    opened.session.set_identity(summed.identity(Of::File));
    Ok(opened)
}

fn read_from<F: Read + Seek>(
    file: &mut F,
    bytes: u64,
    opening: &mut Opening,
) -> Result<(Opened, Summed), FileError> {
    let dialect = match &opening.overrides.dialect {
        Some(dialect) => dialect.clone(),
        None => {
            let take = |line: &[u8], sample: &mut Vec<u8>| sample.extend_from_slice(line);
            let sample = sample::spread(file, bytes, take);
            let sample = sample.map_err(|e| opening.io(e))?;
            recognise(&sample).map_err(|reason| opening.unrecognised(reason))?
        }
    };
    let first = read_by(file, bytes, opening, &dialect, None)?;
    // Who names a form wants that one alone.
    let named = opening.overrides.dialect.is_some();
    match second_form(&first.0.session, &dialect, false).filter(|_| !named) {
        Some((leading, second)) => {
            let again = |second| {
                file.rewind().map_err(|e| opening.io(e))?;
                read_by(file, bytes, opening, &leading, Some(second))
            };
            by_both(second, again, |read| read.0.second.as_ref())
        }
        None => Ok(first),
    }
}

fn read_by<F: Read + Seek>(
    file: &mut F,
    bytes: u64,
    opening: &mut Opening,
    dialect: &Dialect,
    second: Option<SecondForm>,
) -> Result<(Opened, Summed), FileError> {
    let about = About { rig: opening.overrides.rig.clone(), ..About::default() };
    let mut session = Session::new(about);
    let mut intake = Intake::untimed(Some(dialect.clone()));
    second.iter().for_each(|second| intake.also_read(second.clone()));
    intake.sum_nothing();
    let mut summing = Summing { input: file, summed: Summed::new() };
    let mut last = Vec::new();
    let mut buffer = vec![0; STEP];
    let (mut done, mut shown) = (0_u64, 0_u64);
    loop {
        let count = summing.read(&mut buffer).map_err(|e| opening.io(e))?;
        if count == 0 {
            break;
        }
        let mark = if done == 0 && buffer.starts_with(BYTE_ORDER_MARK) { 3 } else { 0 };
        intake.keep_lines(done + count as u64 + LAST_BYTES > bytes);
        intake.push(0, &buffer[mark..count]);
        append(&mut session, &mut last, intake.take());
        done += count as u64;
        opening.watch.step(done, bytes)?;
        if done - shown >= SHOW {
            shown = done;
            (opening.partial)(&session);
        }
    }
    intake.finish();
    append(&mut session, &mut last, intake.take());
    let second = intake.second().cloned();
    Ok((Opened { session, damage: Vec::new(), last, second }, summing.summed))
}
