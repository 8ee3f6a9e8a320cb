//! Seeded random streams, one a purpose, so that planting one cause leaves every other draw alone.
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// What a stream of random numbers is spent on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// The parameters of the board as built.
    Build,
    /// Where and when planted causes strike.
    Plant,
    /// Let-go of a stick: left 0, right 1.
    Stick(u8),
    /// Let-go of a trigger: left 0, right 1.
    Trigger(u8),
    /// Contact bounce of a button.
    Contact(u8),
    /// Noise of a half's converter: left 0, right 1.
    Converter(u8),
    /// Jitter of the firmware's loop.
    Loop,
    /// Answers and hangs of the second half.
    Remote,
    /// Losses between board and host.
    Losses,
    /// The scripted hand.
    Hand,
}

impl Purpose {
    fn stream(self) -> u64 {
        match self {
            Purpose::Build => 1,
            Purpose::Plant => 2,
            Purpose::Loop => 3,
            Purpose::Remote => 4,
            Purpose::Losses => 5,
            Purpose::Hand => 6,
            Purpose::Stick(n) => 0x100 + u64::from(n),
            Purpose::Trigger(n) => 0x200 + u64::from(n),
            Purpose::Converter(n) => 0x300 + u64::from(n),
            Purpose::Contact(n) => 0x400 + u64::from(n),
        }
    }
}

/// A seeded source of random numbers.
#[derive(Clone, Debug)]
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream of `purpose` for a board's seed.
    pub fn new(seed: u64, purpose: Purpose) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(purpose.stream());
        Dice(rng)
    }

    /// Uniform in `[low, high)`; `low` when the span is empty.
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        self.0.sample(StandardNormal)
    }

    /// Normal with the given SD, cut off at `limit` either side.
    pub fn bounded(&mut self, sd: f64, limit: f64) -> f64 {
        (self.normal() * sd).clamp(-limit, limit)
    }

    /// True with probability `share`.
    pub fn chance(&mut self, share: f64) -> bool {
        share > 0.0 && self.0.random::<f64>() < share
    }

    /// A whole number below `count` (0 when `count` is 0).
    pub fn below(&mut self, count: usize) -> usize {
        if count == 0 { 0 } else { self.0.random_range(0..count) }
    }

    /// Exponential with the given mean.
    pub fn waiting(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.0.random::<f64>()).ln()
    }

    /// Puts `items` into random order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}
