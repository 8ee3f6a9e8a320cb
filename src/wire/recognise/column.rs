//! What the numbers of one column look like over the whole sample.
use crate::wire::classify::is_point;
use crate::wire::{Base, number};

/// Distinct masks remembered.
const KEPT: usize = 64;

/// The look of a column.
pub(super) struct Column {
    /// Tokens.
    pub(super) count: usize,
    /// Tokens with a decimal point.
    pub(super) points: usize,
    /// The first of them.
    pub(super) first_point: String,
    /// Tokens with `0x`.
    prefixed: usize,
    /// Tokens with a letter A–F behind any prefix.
    letters: usize,
    /// Tokens with a leading zero and more than one digit.
    zeros: usize,
    /// Tokens of 0 and 1 alone.
    binary: usize,
    shortest: usize,
    longest: usize,
    /// Values by the guessed base, in order.
    pub(super) values: Vec<i64>,
    /// Distinct tokens, at most 64.
    distinct: Vec<Vec<u8>>,
}

impl Column {
    /// Looks at all tokens of a column.
    pub(super) fn of<'a>(tokens: impl Iterator<Item = &'a [u8]> + Clone) -> Column {
        let mut column = Column {
            count: 0,
            points: 0,
            first_point: String::new(),
            prefixed: 0,
            letters: 0,
            zeros: 0,
            binary: 0,
            shortest: usize::MAX,
            longest: 0,
            values: Vec::new(),
            distinct: Vec::new(),
        };
        let mut last: &[u8] = &[];
        for token in tokens.clone() {
            column.look(token);
            if token != last && column.distinct.len() < KEPT {
                if !column.distinct.iter().any(|d| d == token) {
                    column.distinct.push(token.to_vec());
                }
                last = token;
            }
        }
        let hex = column.is_hex();
        let read = if hex { number::hex } else { number::decimal };
        column.values = tokens.filter_map(|t| read(t, 0).map(|(value, _)| value)).collect();
        column
    }

    fn look(&mut self, token: &[u8]) {
        self.count += 1;
        if is_point(token) {
            self.points += 1;
            if self.first_point.is_empty() {
                self.first_point = String::from_utf8_lossy(token).into_owned();
            }
            return;
        }
        let digits = match token {
            [b'0', b'x' | b'X', digits @ ..] => digits,
            digits => digits,
        };
        self.prefixed += usize::from(digits.len() < token.len());
        self.letters += usize::from(digits.iter().any(u8::is_ascii_alphabetic));
        self.zeros += usize::from(digits.len() > 1 && digits[0] == b'0');
        self.binary += usize::from(token.iter().all(|b| matches!(b, b'0' | b'1')));
        self.shortest = self.shortest.min(token.len());
        self.longest = self.longest.max(token.len());
    }

    /// Hexadecimal beyond what damage explains.
    pub(super) fn is_hex(&self) -> bool {
        2 * self.prefixed > self.count || 30 * self.letters > self.count
    }

    /// Only 0 and 1, one digit each.
    pub(super) fn is_flag(&self) -> bool {
        self.longest == 1 && 50 * self.binary >= 49 * self.count && self.points == 0
    }

    /// Written as a mask is and an axis is not: prefix, leading zeros, many 0 and 1.
    pub(super) fn is_written_as_mask(&self) -> bool {
        2 * self.prefixed > self.count
            || 2 * self.zeros > self.count
            || self.shortest > 4 && 50 * self.binary >= 49 * self.count
    }

    /// Changes like a mask: few values, held for a while, that differ from the first by bits.
    pub(super) fn runs_like_mask(&self) -> bool {
        let Some(&idle) = self.values.first() else { return false };
        let changes = self.values.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let mut bits = 0_i64;
        for value in &self.values {
            let change = value ^ idle;
            if change.count_ones() > 3 {
                return false;
            }
            bits |= change;
        }
        bits.count_ones() >= 2 && bits > 3 && 5 * changes < self.values.len()
    }

    /// The base of a mask, see [`crate::wire::mask`] for the open case.
    pub(super) fn mask_base(&self) -> Base {
        let letters = |token: &&Vec<u8>| token.iter().any(u8::is_ascii_alphabetic);
        let fixed = self.shortest == self.longest;
        if self.prefixed > 0
            || self.distinct.iter().filter(letters).count() >= 2
            || self.letters > 2
        {
            Base::Hex
        } else if fixed && self.longest > 1 && self.binary == self.count {
            match self.longest {
                // As wide as hexadecimal masks are: bits only if more than one moves.
                2 | 4 | 8 if self.moving_positions() < 2 => Base::Hex,
                _ => Base::Bits,
            }
        } else if self.zeros > 0 {
            Base::Hex
        } else if self.longest > 8 {
            Base::Decimal
        } else {
            Base::Unsettled
        }
    }

    fn moving_positions(&self) -> usize {
        let Some(first) = self.distinct.first() else { return 0 };
        let moves = |at: &usize| self.distinct.iter().any(|d| d.get(*at) != first.get(*at));
        (0..first.len()).filter(moves).count()
    }

    /// Rises by one from line to line, apart from losses and wraps.
    pub(super) fn is_counter(&self) -> bool {
        let near = |d: i64| (1..=16).contains(&d);
        let close = self.steps().filter(|d| near(*d) || near(d + 256) || near(d + 65_536)).count();
        let steps = self.values.len().saturating_sub(1);
        steps >= 2 && 20 * close >= 17 * steps && self.median_step() == 1
    }

    /// Rises all the time, apart from wraps.
    pub(super) fn is_clock(&self) -> bool {
        let rising = self.steps().filter(|d| *d > 0).count();
        let steps = self.values.len().saturating_sub(1);
        // Damage, gaps in the sample and one wrap are allowed for.
        steps >= 2
            && rising + 1 + steps / 10 > steps
            && self.median_step() >= 1
            && self.values.iter().max() > self.values.iter().min()
    }

    /// Median difference from line to line.
    pub(super) fn median_step(&self) -> i64 {
        let mut steps: Vec<i64> = self.steps().collect();
        let middle = steps.len() / 2;
        if steps.is_empty() { 0 } else { *steps.select_nth_unstable(middle).1 }
    }

    fn steps(&self) -> impl Iterator<Item = i64> {
        self.values.windows(2).map(|pair| pair[1] - pair[0])
    }
}
