//! Several recordings of one board as one session: the rows of a later one behind those of the first.
use crate::rig::{HostUs, Word};
use crate::wire::{Role, same_reading};

use super::block::Block;
use super::store::Stamp;
use super::{Chunk, Session};

/// Host time between two recordings when nothing tells it, µs.
const APART_US: u64 = 1_000_000;

/// Why two recordings are no parts of one session.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotJoined {
    /// No lines were read of one of them.
    #[error("it holds no frames")]
    Empty,
    /// A reading is missing in the later one.
    #[error("it has no {}, which the first file has", .0.words())]
    Missing(Role),
    /// A reading is written otherwise.
    #[error("its {} is written in other digits or units than in the first file", .0.words())]
    Digits(Role),
    /// One has host times and the other has none.
    #[error("one of the files has the times of a capture and the other has none")]
    Times,
}

impl Session {
    /// Puts the rows, marks and refused lines of `later` behind its own; nothing is known of what came between.
    ///
    /// Host times go on a second behind the last one. Cost: one pass over `later`.
    ///
    /// # Errors
    /// The later one lacks a reading or counts otherwise; then nothing was joined.
    pub fn join(&mut self, later: &Session, name: &str) -> Result<(), NotJoined> {
        let places = self.places_in(later)?;
        let row = self.rows();
        let last = self.host_part(row.saturating_sub(1)..row).first().copied();
        let first = later.host_part(0..1).first().copied();
        let shift = match (last, first) {
            (Some(last), Some(first)) => (last + APART_US).wrapping_sub(first),
            _ => 0,
        };
        let host = HostUs(first.unwrap_or(0).wrapping_add(shift));
        let stamp = Stamp { host, row };
        let mut marks = self.marks().to_vec();
        marks.push(crate::rig::Mark::new(Word::Back, format!("next file: {name}")).set_at(stamp));
        marks.extend(later.marks().iter().map(|mark| {
            let host = HostUs(mark.at.host.0.wrapping_add(shift));
            mark.clone().set_at(Stamp { host, row: row + mark.at.row })
        }));
        for block in later.blocks() {
            self.append(&chunk_of(block, &places, shift));
        }
        self.append(&Chunk {
            columns: vec![Vec::new(); places.len()],
            refusals: later.refusals().clone(),
            bytes: later.bytes(),
            second: later.second(),
            second_more: later.second_more().to_vec(),
            ..Chunk::default()
        });
        self.join_places(row, later);
        self.set_marks(marks);
        Ok(())
    }

    /// For each field the one of `later` that holds the same reading.
    fn places_in(&self, later: &Session) -> Result<Vec<Option<usize>>, NotJoined> {
        let (Some(mine), Some(other)) = (self.dialect(), later.dialect()) else {
            return Err(NotJoined::Empty);
        };
        if self.is_timed() != later.is_timed() {
            return Err(NotJoined::Times);
        }
        let place = |(k, role): (usize, &Role)| {
            if *role == Role::Ignore {
                let name = &mine.fields[k].name;
                return Ok(other.fields.iter().position(|field| field.name == *name));
            }
            let at = later.field_of(*role).ok_or(NotJoined::Missing(*role))?;
            match same_reading(*role, (mine, k), (other, at)) {
                true => Ok(Some(at)),
                false => Err(NotJoined::Digits(*role)),
            }
        };
        self.roles().iter().enumerate().map(place).collect()
    }
}

fn chunk_of(block: &Block, places: &[Option<usize>], shift: u64) -> Chunk {
    let column = |place: &Option<usize>| match place {
        Some(at) => block.column(*at).to_vec(),
        None => vec![0; block.rows()],
    };
    Chunk {
        columns: places.iter().map(column).collect(),
        host_us: block.host_us().iter().map(|us| us.wrapping_add(shift)).collect(),
        ..Chunk::default()
    }
}
