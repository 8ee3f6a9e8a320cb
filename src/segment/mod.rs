//! Rests, releases, rolls, pulls and presses as index ranges with reasons.
