//! Board clocks that begin anew: at 16, 24 or 32 bits, at midnight, at the full hour.
use super::{Base, ClockUnit, Dialect, Role};

/// Microseconds in one unit of the clock.
pub fn unit_us(unit: ClockUnit) -> u64 {
    match unit {
        ClockUnit::Micros => 1,
        ClockUnit::Millis => 1000,
    }
}

/// Where a clock begins anew. Cells hold the low 32 bits of what the board printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// At 2 to this power.
    Bits(u8),
    /// A time of day in microseconds: at midnight, without hours at the full hour.
    OfDay,
}

impl Default for Turn {
    fn default() -> Turn {
        Turn::Bits(32)
    }
}

/// Longest way over midnight or the full hour that is taken for one, µs.
const OVER: u32 = 10_000_000;
/// Microseconds of an hour.
const HOUR: u32 = 3_600_000_000;
/// Microseconds of a day, their low 32 bits.
const DAY: u32 = (86_400_000_000_u64 % (1 << 32)) as u32;

impl Turn {
    /// Where the clock of a dialect turns.
    pub fn of(dialect: &Dialect) -> Turn {
        let clock = dialect.fields.iter().find(|field| field.role == Role::Clock);
        match clock.map(|field| field.base) {
            Some(Base::DayTime) => Turn::OfDay,
            _ => Turn::Bits(dialect.clock_bits.unwrap_or(32)),
        }
    }

    /// Units that pass before the clock stands at the same value again, as far as 32 bits show.
    pub fn units(self) -> f64 {
        match self {
            Turn::Bits(bits) => 2_f64.powi(i32::from(bits.min(32))),
            Turn::OfDay => f64::from(HOUR),
        }
    }

    /// Clock units from `from` to `to`, going forward over a turn; a clock that went back has gone
    /// forward by more than half of 32 bits.
    #[inline]
    pub fn ahead(self, from: u32, to: u32) -> u32 {
        let ahead = to.wrapping_sub(from);
        match self {
            // A narrow clock turns all the time: it never goes back.
            Turn::Bits(bits) if bits < 32 => ahead & ((1 << bits) - 1),
            Turn::Bits(_) => ahead,
            Turn::OfDay => {
                let over = |turn: u32| {
                    let late = turn.wrapping_sub(from) <= OVER && to < OVER;
                    late.then(|| turn.wrapping_sub(from).wrapping_add(to))
                };
                over(DAY).or_else(|| over(HOUR)).unwrap_or(ahead)
            }
        }
    }

    /// The same; `None` when the clock went back.
    ///
    /// More than half of the 32-bit range counts as going back: a silence of 35.8 min on a microsecond
    /// clock cannot be told from it.
    #[inline]
    pub fn forward(self, from: u32, to: u32) -> Option<u32> {
        Some(self.ahead(from, to)).filter(|ahead| *ahead < 1 << 31)
    }
}

/// The width at which a clock of whole numbers wraps, from its values in the order of the stream: 16 or
/// 24 when it was seen to fall by just that much, 32 else.
///
/// Cost: two passes.
pub fn width_of(values: &[i32]) -> u8 {
    let steps = || values.windows(2).map(|pair| (pair[1] as u32).wrapping_sub(pair[0] as u32));
    let most = values.iter().map(|v| *v as u32).max().unwrap_or(0);
    let forward = || steps().filter(|ahead| (1..1 << 31).contains(ahead));
    let longest = forward().map(u64::from).sum::<u64>() / (forward().count().max(1) as u64) * 4;
    let falls = |bits: u8| {
        let over = |ahead: u32| u64::from(ahead & ((1 << bits) - 1)) <= longest;
        steps().filter(|ahead| *ahead >= 1 << 31 && over(*ahead)).count()
    };
    let backward = steps().filter(|ahead| *ahead >= 1 << 31).count();
    let turns = |bits: u8| most < 1 << bits && backward > 0 && 2 * falls(bits) > backward;
    [16, 24].into_iter().find(|bits| turns(*bits)).unwrap_or(32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrap_goes_forward_and_a_restart_goes_back() {
        let wide = Turn::default();
        assert_eq!(wide.forward(u32::MAX - 999, 1000), Some(2000));
        assert_eq!(wide.forward(5_000_000, 1000), None);
        assert_eq!(wide.forward(7, 7), Some(0));
        assert_eq!(Turn::Bits(16).forward(65_000, 464), Some(1000));
        assert_eq!(Turn::Bits(24).forward((1 << 24) - 600, 400), Some(1000));
    }

    #[test]
    fn the_width_is_seen_where_it_falls() {
        let run = |start: u64, step: u64, bits: u32| -> Vec<i32> {
            (0..2000).map(|k| ((start + k * step) % (1 << bits)) as u32 as i32).collect()
        };
        assert_eq!(width_of(&run(10_000_000, 4_000, 24)), 24);
        assert_eq!(width_of(&run(60_000, 500, 16)), 16);
        assert_eq!(width_of(&run(60_000, 500, 32)), 32);
        // A restart falls by any amount.
        let mut again = run(9_000_000, 4_000, 32);
        again.extend(run(0, 4_000, 32));
        assert_eq!(width_of(&again), 32);
        assert_eq!(width_of(&[]), 32);
    }

    #[test]
    fn times_of_day_go_over_midnight_and_the_full_hour() {
        let low = |micros: u64| micros as u32;
        let day = Turn::OfDay;
        let midnight = 86_400_000_000_u64;
        assert_eq!(day.forward(low(midnight - 3_000), 5_000), Some(8_000));
        assert_eq!(day.forward(HOUR - 3_000, 5_000), Some(8_000));
        // A clock with hours goes on over the full hour, and so does one that carries the date.
        assert_eq!(day.forward(HOUR - 3_000, HOUR + 5_000), Some(8_000));
        assert_eq!(day.forward(low(midnight - 3_000), low(midnight + 5_000)), Some(8_000));
        // A restart stays one.
        assert_eq!(day.forward(2_000_000_000, 5_000), None);
    }
}
