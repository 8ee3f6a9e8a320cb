//! What the numbers of one column look like over the whole sample.
mod bases;

use super::order::Company;
use crate::wire::classify::is_point;
use crate::wire::{Base, marks, number, states};

/// Distinct masks remembered.
const KEPT: usize = 64;
/// Rows for which a value must stand to count.
const HELD: usize = 3;

/// The look of a column.
pub(super) struct Column {
    /// Tokens.
    pub(super) count: usize,
    /// Tokens with a decimal point.
    pub(super) points: usize,
    /// Most digits behind a point.
    pub(super) places: u8,
    /// The point is a comma.
    commas: bool,
    /// Times of day.
    times: usize,
    /// Tokens with `0b`.
    binaries: usize,
    /// States in words.
    states: usize,
    /// Rows of marks.
    marks: usize,
    /// The neighbours are hexadecimal, so this is too.
    forced_hex: bool,
    /// Values that stood for at least three rows, and rows of each.
    held: Vec<(i64, usize)>,
    /// Different values.
    different: usize,
    /// From the 2nd to the 998th thousandth.
    span: i64,
    /// The same value but for damage.
    steady: bool,
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
            places: 0,
            commas: false,
            times: 0,
            binaries: 0,
            states: 0,
            marks: 0,
            forced_hex: false,
            held: Vec::new(),
            different: 0,
            span: 0,
            steady: false,
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
        let digits = column.digits();
        column.values = tokens.filter_map(|t| bases::value(t, digits)).collect();
        column.weigh();
        column
    }

    /// Reads all tokens again as hexadecimal.
    pub(super) fn as_hex<'a>(&mut self, tokens: impl Iterator<Item = &'a [u8]>) {
        self.forced_hex = true;
        self.values = tokens.filter_map(|t| bases::value(t, Base::Hex)).collect();
        self.weigh();
    }

    /// Finds what stays for a few rows: a damaged digit does not.
    fn weigh(&mut self) {
        let mut held: Vec<(i64, usize)> = Vec::new();
        let mut run = 0;
        for (k, value) in self.values.iter().enumerate() {
            run = if k > 0 && self.values[k - 1] == *value { run + 1 } else { 1 };
            if run == HELD && held.len() < KEPT && !held.iter().any(|h| h.0 == *value) {
                held.push((*value, 0));
            }
            if run >= HELD
                && let Some(at) = held.iter_mut().find(|h| h.0 == *value)
            {
                at.1 += if run == HELD { HELD } else { 1 };
            }
        }
        self.held = held;
        let mut sorted = self.values.clone();
        sorted.sort_unstable();
        self.different = 1 + sorted.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let part = |n: usize| sorted.get(n * sorted.len().saturating_sub(1) / 1000).copied();
        self.span = part(998).unwrap_or(0) - part(2).unwrap_or(0);
        self.steady = part(10) == part(990);
    }

    fn look(&mut self, token: &[u8]) {
        self.count += 1;
        if number::whole_day_time(token).is_some() {
            self.times += 1;
            return;
        }
        if states::is_state(token) {
            self.states += 1;
            return;
        }
        if marks::is_row(token) {
            self.marks += 1;
            self.longest = self.longest.max(token.len());
            return;
        }
        self.binaries += usize::from(matches!(token, [b'0', b'b' | b'B', _, ..]));
        let mark = token.iter().position(|b| matches!(b, b'.' | b','));
        if let Some(mark) = mark.filter(|_| is_point(token) || token.contains(&b',')) {
            self.points += 1;
            self.commas = token[mark] == b',';
            self.places = self.places.max((token.len() - mark - 1).min(9) as u8);
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
        self.forced_hex || 2 * self.prefixed > self.count || 30 * self.letters > self.count
    }

    /// A row of marks for the buttons.
    pub(super) fn is_marks(&self) -> bool {
        2 * self.marks > self.count
    }

    /// States in words.
    fn is_worded(&self) -> bool {
        2 * self.states > self.count
    }

    /// Only 0 and 1, one digit each, or states in words.
    pub(super) fn is_flag(&self) -> bool {
        if self.is_worded() {
            return true;
        }
        self.longest == 1
            && 50 * self.binary >= 49 * self.count
            && self.points == 0
            && self.held.iter().all(|h| matches!(h.0, 0 | 1))
    }

    /// Written as a mask is and an axis is not: prefix, leading zeros, many 0 and 1.
    pub(super) fn is_written_as_mask(&self, company: Company) -> bool {
        self.is_marks()
            || self.is_prefixed() && !company.prefixed
            || self.is_padded() && !company.padded
            || self.shortest > 4 && 50 * self.binary >= 49 * self.count
    }

    /// Nothing but digits of base 16: neither points nor signs nor times nor `0b`.
    pub(super) fn may_be_hex(&self) -> bool {
        self.points + self.times + self.binaries + self.states + self.marks == 0
            && self.values.iter().all(|v| *v >= 0)
    }

    /// Zeros in front: a sign of a mask where the axes have none.
    pub(super) fn is_padded(&self) -> bool {
        2 * self.zeros > self.count
    }

    /// `0x` or `0b` in front.
    pub(super) fn is_prefixed(&self) -> bool {
        2 * self.prefixed > self.count || 2 * self.binaries > self.count
    }

    /// Decimal points beyond what damage explains.
    pub(super) fn is_pointed(&self) -> bool {
        20 * self.points > self.count
    }

    /// A time of day.
    pub(super) fn is_day_time(&self) -> bool {
        2 * self.times > self.count
    }

    /// The same value all the time, but for damage.
    pub(super) fn is_steady(&self) -> bool {
        self.steady && self.held.len() < 2
    }

    /// Moved as a control that somebody works does: through many values, far apart.
    pub(super) fn is_moved(&self) -> bool {
        self.span >= 16 && !self.is_flag() && !self.runs_like_mask()
    }

    /// Where its middle value lies in its own span, 0 to 1: at rest most of the time, as controls are.
    fn resting_place(&self) -> f64 {
        let mut sorted = self.values.clone();
        sorted.sort_unstable();
        let part = |n: usize| sorted.get(n * sorted.len().saturating_sub(1) / 1000).copied();
        let (low, middle) = (part(2).unwrap_or(0), part(500).unwrap_or(0));
        (middle - low) as f64 / self.span.max(1) as f64
    }

    /// Rests near one end of its span and moves one way, as a trigger does.
    pub(super) fn rests_at_an_end(&self) -> bool {
        self.is_moved() && !(0.12..=0.88).contains(&self.resting_place())
    }

    /// Rests within its span and moves both ways, as the axis of a stick does.
    pub(super) fn rests_between(&self) -> bool {
        self.is_moved() && (0.2..=0.8).contains(&self.resting_place())
    }

    /// Goes up and down at will: no clock.
    pub(super) fn is_moved_about(&self) -> bool {
        let falling = self.steps().filter(|d| *d < 0).count();
        3 * falling > self.values.len() && !self.is_narrow_clock()
    }

    /// Hardly ever falls, but for the turns of a narrow clock.
    pub(super) fn goes_forward(&self) -> bool {
        let falling = self.steps().filter(|d| *d < 0).count();
        10 * falling <= self.values.len() || self.is_narrow_clock()
    }

    /// The eight directions of a hat by number, and another for none: no mask shows so many values and
    /// hardly any but these.
    pub(super) fn is_hat(&self) -> bool {
        self.held.len() >= 6 && self.held.iter().all(|h| matches!(h.0, 0..=8 | 15))
    }

    /// Leaps over much of its span from line to line, through many values: a checksum, and no control.
    pub(super) fn leaps(&self) -> bool {
        let mut steps: Vec<u64> = self.steps().map(i64::unsigned_abs).collect();
        let middle = steps.len() / 2;
        self.span > 200
            && self.different > 64
            && steps.len() >= 64
            && *steps.select_nth_unstable(middle).1 > self.span.unsigned_abs() / 8
    }

    /// Never falls and rises now and then: a clock of whole seconds, a count of events.
    pub(super) fn creeps(&self) -> bool {
        let falling = self.steps().filter(|d| *d < 0).count();
        let rising = self.steps().filter(|d| *d > 0).count();
        self.count >= 64 && 50 * falling < self.count && rising > 4 * falling + 1 && rising > 2
    }

    /// Usual step from line to line, that of a narrow clock over its turns.
    pub(super) fn pace(&self) -> i64 {
        self.median_step()
    }

    /// Goes round at 2^16 at least once.
    pub(super) fn turns_narrow(&self) -> bool {
        let usual = self.median_step().max(1);
        let turns = |d: i64| d < 0 && (1..=4 * usual).contains(&(d + 65_536));
        let inside = self.values.iter().all(|v| (0..65_536).contains(v));
        self.is_narrow_clock() || inside && self.steps().any(turns)
    }

    /// Characters of the longest token.
    pub(super) fn longest_token(&self) -> usize {
        self.longest
    }

    /// The bits of the highest value that stood for a while.
    fn bits_held(&self) -> u32 {
        let most = self.held.iter().map(|h| h.0).max().unwrap_or(0);
        64 - most.max(0).leading_zeros()
    }

    /// All bits one, at least four of them, or none: a mask at rest may look so.
    pub(super) fn is_idle_mask(&self) -> bool {
        let value = self.values.first().copied().unwrap_or(-1);
        self.is_steady() && (value == 0 || value >= 15 && (value + 1).count_ones() == 1)
    }

    /// Changes like a mask: few values, held for a while, that differ from the idle one by few bits.
    pub(super) fn runs_like_mask(&self) -> bool {
        let Some(&(idle, _)) = self.held.iter().max_by_key(|h| h.1) else { return false };
        if self.is_hat() {
            return false;
        }
        let changes = self.values.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let stood: usize = self.held.iter().map(|h| h.1).sum();
        // A lever passes through values on its way, a mask does not.
        let passing = self.different > 2 * self.held.len() + 4 + self.values.len() / 200;
        if self.is_pointed()
            || passing
            || 5 * changes > self.values.len()
            || 10 * stood < 9 * self.values.len()
        {
            return false;
        }
        let by = |digits: &dyn Fn(i64) -> i64| {
            let mut bits = 0_i64;
            let few = self.held.iter().all(|h| {
                let change = digits(h.0) ^ digits(idle);
                bits |= change;
                change.count_ones() <= 3
            });
            few && bits.count_ones() >= 2 && bits > 3
        };
        by(&|v| v) || by(&|v| i64::from_str_radix(&v.to_string(), 16).unwrap_or(v))
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
        let rises = steps >= 2
            && rising + 1 + steps / 10 > steps
            && self.median_step() >= 1
            && self.values.iter().max() > self.values.iter().min();
        rises || self.is_narrow_clock()
    }

    /// Goes round at 2^16, by much the same step every time.
    pub(super) fn is_narrow_clock(&self) -> bool {
        let inside = self.values.iter().filter(|v| (0..65_536).contains(*v)).count();
        let mut ahead: Vec<i64> = self.steps().map(|d| d.rem_euclid(65_536)).collect();
        if ahead.len() < 32 || 50 * inside < 49 * self.values.len() || self.span < 32_768 {
            return false;
        }
        let middle = ahead.len() / 2;
        let usual = *ahead.select_nth_unstable(middle).1;
        let like = ahead.iter().filter(|d| 2 * **d >= usual && **d <= 2 * usual).count();
        let turns = self.steps().filter(|d| *d < -32_768).count();
        usual > 0 && 20 * like >= 18 * ahead.len() && turns > 0
    }

    /// Falls all the time: a clock or counter that runs down, and no control.
    pub(super) fn is_falling(&self) -> bool {
        let falling = self.steps().filter(|d| *d < 0).count();
        let steps = self.values.len().saturating_sub(1);
        steps >= 16 && 20 * falling >= 19 * steps
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
