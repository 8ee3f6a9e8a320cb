//! Damage of a recording on standard error, and what it does to the exit code.
use super::args::DamageWords;
use super::voice::error;
use crate::trim::{Origin, damaged_places};

/// Says that a recording is damaged, where it is; true where the verb ends with 1 for it.
pub(super) fn told(origin: &Origin, words: DamageWords) -> bool {
    if !origin.is_damaged() {
        return false;
    }
    let places = origin.damage.len() as u64 + origin.more_damage;
    let places = damaged_places(places, "");
    let first = origin.damage.iter().find(|harm| !harm.undone);
    let first = first.map_or(String::new(), |harm| format!("; the first is {harm}"));
    let next = if words.accept_damage { "" } else { "; --accept-damage takes it as it is" };
    error(&format!("{}: {places}, {} rows lost{first}{next}", origin.source, origin.rows_lost));
    !words.accept_damage
}
