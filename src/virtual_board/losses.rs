//! What happens to lines between the board's pin and the host: lost whole, or one bit flipped.
use super::causes::LossCauses;
use super::dice::Dice;
use super::truth::StreamTruth;
use crate::wire::{Dialect, Framer, Place, Sink, Why, encode};

/// The way from the board to the host.
pub(super) struct Losses {
    causes: LossCauses,
    dice: Dice,
    delimiter: u8,
    /// Judges whether a damaged line still reads as a frame.
    judge: Framer,
    /// A line lost its end: the next one runs into it.
    joined: bool,
    /// Frames lost since the last whole one; they show only once another comes.
    unseen: u64,
    any_whole: bool,
}

/// Counts frames.
#[derive(Default)]
struct Frames(u64);

impl Sink for Frames {
    fn frame(&mut self, _: Place, _: &[i32]) {
        self.0 += 1;
    }
    fn refused(&mut self, _: Place, _: Why, _: &[u8]) {}
}

/// What became of one frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fate {
    Whole,
    Altered,
    Destroyed,
    Dropped,
}

impl Losses {
    /// A way for lines of `dialect`.
    pub fn new(causes: LossCauses, dialect: &Dialect, dice: Dice) -> Self {
        let mut judge = Framer::new(dialect);
        let mut opening = Vec::new();
        encode(dialect, &[], &mut opening);
        // The first line of a stream may be judged as opened in its middle: spend one on that.
        judge.push(&opening, &mut Frames::default());
        let delimiter = dialect.delimiter();
        Losses { causes, dice, delimiter, judge, joined: false, unseen: 0, any_whole: false }
    }

    /// Sends one frame's line on its way; empties it when it is lost, and books what became of it.
    pub fn pass(&mut self, line: &mut Vec<u8>, stream: &mut StreamTruth) {
        let dropped = self.dice.chance(self.causes.drop_share);
        let flipped = self.dice.chance(self.causes.flip_share);
        let fate = if dropped {
            line.clear();
            Fate::Dropped
        } else {
            self.damage(flipped, line)
        };
        stream.sent += 1;
        match fate {
            Fate::Dropped => stream.dropped += 1,
            Fate::Destroyed => stream.destroyed += 1,
            Fate::Altered => stream.altered += 1,
            Fate::Whole => {}
        }
        if matches!(fate, Fate::Dropped | Fate::Destroyed) {
            self.unseen += 1;
        } else {
            // What was lost before the first whole frame no counter can show.
            if self.any_whole {
                stream.lost += self.unseen;
            }
            self.any_whole = true;
            self.unseen = 0;
        }
    }

    /// The last line lost its end.
    pub fn is_open(&self) -> bool {
        self.joined
    }

    /// What the host's port makes of a line: the same bytes, or others when it reads at another rate.
    ///
    /// One start bit, eight data bits from the lowest, one stop bit; the host waits for a falling edge
    /// and then looks at the middle of each of its own bits.
    pub fn received(&self, line: &mut Vec<u8>) {
        let ratio = self.causes.rate_ratio;
        if ratio <= 0.0 || line.is_empty() {
            return;
        }
        let frame = |byte: &u8| {
            let data = *byte;
            let bits = (0..8).map(move |k| data >> k & 1 == 1);
            std::iter::once(false).chain(bits).chain([true])
        };
        let levels: Vec<bool> = line.iter().flat_map(frame).collect();
        line.clear();
        let at = |place: f64| levels.get(place as usize).copied().unwrap_or(true);
        let mut place = 0;
        while let Some(edge) = levels.get(place..).and_then(|l| l.iter().position(|level| !level)) {
            let start = (place + edge) as f64;
            let bit = |k: f64| at(start + (k + 0.5) / ratio);
            line.push((0..8u8).fold(0, |byte, k| byte | u8::from(bit(f64::from(k) + 1.0)) << k));
            // The line must be idle again before the next edge counts.
            place = (start + 9.5 / ratio) as usize;
            place +=
                levels.get(place..).map_or(0, |l| l.iter().take_while(|level| !**level).count());
        }
    }

    fn damage(&mut self, flipped: bool, line: &mut [u8]) -> Fate {
        let joined = std::mem::take(&mut self.joined);
        if flipped && !line.is_empty() {
            let at = self.dice.below(line.len());
            let bit = self.dice.below(8);
            line[at] ^= 1 << bit;
        }
        self.joined = line.last() != Some(&self.delimiter);
        if joined || self.joined {
            return Fate::Destroyed;
        }
        if !flipped {
            return Fate::Whole;
        }
        let mut frames = Frames::default();
        self.judge.push(line, &mut frames);
        if frames.0 == 0 { Fate::Destroyed } else { Fate::Altered }
    }
}

#[cfg(test)]
mod tests {
    use super::super::dice::Purpose;
    use super::super::options::{bench_dialect, bench_rig};
    use super::*;

    /// Sends 20 000 equal lines; gives what came out and the book.
    fn send(causes: LossCauses) -> (Vec<u8>, StreamTruth, Dialect) {
        let dialect = bench_dialect(&bench_rig(10));
        let mut losses = Losses::new(causes, &dialect, Dice::new(5, Purpose::Losses));
        let (mut stream, mut all) = (StreamTruth::default(), Vec::new());
        for seq in 0..20_000 {
            let mut line = Vec::new();
            encode(&dialect, &[seq, 4000 * seq, 518, 503, 509, 520, 102, 99, 0], &mut line);
            losses.pass(&mut line, &mut stream);
            all.extend_from_slice(&line);
        }
        (all, stream, dialect)
    }

    #[test]
    fn another_symbol_rate_makes_other_bytes() {
        let dialect = bench_dialect(&bench_rig(10));
        let read = |rate_ratio: f64| {
            let causes = LossCauses { rate_ratio, ..LossCauses::default() };
            let mut line = b"17,68000,518,503,509,520,102,99,0x0000\n".to_vec();
            Losses::new(causes, &dialect, Dice::new(5, Purpose::Losses)).received(&mut line);
            line
        };
        assert_eq!(read(0.0), read(1.0));
        let slow = read(1.0 / 12.0);
        // A twelfth of the symbols fits into the same time.
        assert!((2..=6).contains(&slow.len()), "{slow:?}");
        let odd = slow.iter().filter(|b| !(0x20..0x7f).contains(*b)).count();
        assert!(2 * odd > slow.len(), "{slow:?}");
    }

    #[test]
    fn nothing_happens_on_a_sound_link() {
        let (bytes, stream, _) = send(LossCauses::default());
        assert_eq!(bytes.iter().filter(|&&b| b == b'\n').count(), 20_000);
        assert_eq!(stream, StreamTruth { sent: 20_000, ..StreamTruth::default() });
    }

    #[test]
    fn the_book_agrees_with_what_a_framer_makes_of_the_bytes() {
        let (bytes, stream, dialect) =
            send(LossCauses { drop_share: 0.02, flip_share: 0.05, ..LossCauses::default() });
        assert!((300..500).contains(&stream.dropped), "{stream:?}");
        assert!(stream.destroyed > 300 && stream.altered > 100, "{stream:?}");
        let mut frames = Frames::default();
        let mut framer = Framer::new(&dialect);
        framer.push(&bytes, &mut frames);
        framer.finish(&mut frames);
        assert_eq!(frames.0, stream.sent - stream.dropped - stream.destroyed);
        assert!(stream.lost <= stream.dropped + stream.destroyed);
        assert!(stream.lost + 5 >= stream.dropped + stream.destroyed);
    }
}
