//! The place in time that the stations look at: following the newest frame, or played by hand.
/// Speeds that can be chosen, times real time.
pub const SPEEDS: [f64; 8] = [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];

/// Where the stations look, in µs of session time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transport {
    /// Stays at the newest frame.
    pub following: bool,
    /// Moves on by itself (when not following).
    pub playing: bool,
    /// Times real time.
    pub speed: f64,
    /// The place, µs.
    pub at_us: u64,
}

impl Default for Transport {
    fn default() -> Transport {
        Transport { following: true, playing: false, speed: 1.0, at_us: 0 }
    }
}

impl Transport {
    /// Moves on by `elapsed_s` of real time within a session that spans `first_us..=last_us`.
    pub fn advance(&mut self, elapsed_s: f64, first_us: u64, last_us: u64) {
        if self.following {
            self.at_us = last_us;
            return;
        }
        if self.playing {
            self.at_us = self.at_us.saturating_add((elapsed_s * self.speed * 1e6) as u64);
            self.playing = self.at_us < last_us;
        }
        self.at_us = self.at_us.clamp(first_us, last_us.max(first_us));
    }

    /// Goes to a place and stays there.
    pub fn seek(&mut self, at_us: u64) {
        self.following = false;
        self.at_us = at_us;
    }

    /// Steps by a signed time and stands still.
    pub fn step(&mut self, by_us: i64) {
        self.playing = false;
        self.seek(self.at_us.saturating_add_signed(by_us));
    }

    /// Plays or pauses; from the end it plays from the beginning.
    pub fn toggle(&mut self, first_us: u64, last_us: u64) {
        if !self.playing && self.at_us >= last_us {
            self.at_us = first_us;
        }
        self.playing = !self.playing || self.following;
        self.following = false;
    }

    /// The next faster or slower speed.
    pub fn change_speed(&mut self, by: isize) {
        let now = SPEEDS.iter().position(|s| *s >= self.speed).unwrap_or(2);
        self.speed = SPEEDS[now.saturating_add_signed(by).min(SPEEDS.len() - 1)];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn follows_plays_and_stops_at_the_end() {
        let mut t = Transport::default();
        t.advance(0.1, 0, 5_000_000);
        assert_eq!(t.at_us, 5_000_000);
        t.toggle(0, 5_000_000);
        assert_eq!((t.at_us, t.playing, t.following), (0, true, false));
        t.speed = 2.0;
        t.advance(1.0, 0, 5_000_000);
        assert_eq!(t.at_us, 2_000_000);
        t.advance(9.0, 0, 5_000_000);
        assert_eq!((t.at_us, t.playing), (5_000_000, false));
    }

    #[test]
    fn speeds_stay_on_their_list() {
        let mut t = Transport::default();
        for _ in 0..20 {
            t.change_speed(1);
        }
        assert_eq!(t.speed, 32.0);
        for _ in 0..20 {
            t.change_speed(-1);
        }
        assert_eq!(t.speed, 0.25);
    }
}
