//! From a session's fields to tracks by role.
use std::ops::Range;

use crate::rig::Rig;

use super::{Session, Tracks};

impl Session {
    /// The whole session by role, with unwrapped time and the account of completeness.
    pub fn tracks(&self, rig: &Rig) -> Tracks {
        self.tracks_of(0..self.rows(), rig)
    }

    /// The same of `rows` alone: cost proportional to their number, whatever the session holds.
    pub fn tracks_of(&self, rows: Range<usize>, _rig: &Rig) -> Tracks {
        let _ = rows;
        todo!()
    }
}
