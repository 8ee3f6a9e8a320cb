//! Lines that gave no frame: exact counts by reason, and the places of the first and last ones.
use std::collections::VecDeque;

use crate::wire::{Place, Why};

/// Refused lines kept from the beginning, and again from the end.
const KEPT: usize = 500;
/// Bytes kept of each.
const KEPT_BYTES: usize = 160;

/// One refused line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Where it stood.
    pub place: Place,
    /// Why it gave no frame.
    pub why: Why,
    /// Its first bytes, at most 160.
    pub bytes: Vec<u8>,
}

/// The account of refused lines.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Refusals {
    counts: [u64; Why::ALL.len()],
    bytes: u64,
    first: Vec<Refusal>,
    last: VecDeque<Refusal>,
}

impl Refusals {
    /// Notes one refused line.
    pub fn add(&mut self, place: Place, why: Why, bytes: &[u8]) {
        self.counts[why.index()] += 1;
        self.bytes += bytes.len() as u64;
        let bytes = bytes[..bytes.len().min(KEPT_BYTES)].to_vec();
        self.keep(Refusal { place, why, bytes });
    }

    /// Adds a later account to this one.
    pub fn merge(&mut self, later: &Refusals) {
        for (mine, theirs) in self.counts.iter_mut().zip(later.counts) {
            *mine += theirs;
        }
        self.bytes += later.bytes;
        for refusal in later.kept() {
            self.keep(refusal.clone());
        }
    }

    fn keep(&mut self, refusal: Refusal) {
        if self.first.len() < KEPT {
            self.first.push(refusal);
            return;
        }
        if self.last.len() == KEPT {
            self.last.pop_front();
        }
        self.last.push_back(refusal);
    }

    /// How many lines were refused for this reason.
    pub fn count(&self, why: Why) -> u64 {
        self.counts[why.index()]
    }

    /// All refused lines.
    pub fn total(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// Lines meant as frames and damaged on the way.
    pub fn malformed(&self) -> u64 {
        Why::ALL.iter().filter(|w| w.is_damage()).map(|w| self.count(*w)).sum()
    }

    /// Bytes of the refused lines (of a line that is too long, its first 4 096).
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// The lines kept, in the order of the stream: the first 500 and the last 500.
    pub fn kept(&self) -> impl Iterator<Item = &Refusal> {
        self.first.iter().chain(&self.last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_stay_exact_while_the_list_stays_short() {
        let mut refusals = Refusals::default();
        for line in 1..=5000 {
            refusals.add(Place { line, byte: line * 10 }, Why::Torn, &[b'x'; 1000]);
        }
        assert_eq!(refusals.count(Why::Torn), 5000);
        assert_eq!(refusals.bytes(), 5_000_000);
        assert_eq!(refusals.kept().count(), 2 * KEPT);
        let places: Vec<u64> = refusals.kept().map(|r| r.place.line).collect();
        assert_eq!((places[0], places[499], places[500], places[999]), (1, 500, 4501, 5000));
        assert!(refusals.kept().all(|r| r.bytes.len() == KEPT_BYTES));
    }

    #[test]
    fn merging_equals_adding_in_order() {
        let mut whole = Refusals::default();
        let mut parts = Refusals::default();
        for part in 0..3_u64 {
            let mut one = Refusals::default();
            for i in 0..300 {
                let place = Place { line: part * 300 + i + 1, byte: 0 };
                whole.add(place, Why::Foreign, b"boot");
                one.add(place, Why::Foreign, b"boot");
            }
            parts.merge(&one);
        }
        assert_eq!(whole, parts);
    }
}
