//! The numbers of a debug line: decimal, hexadecimal and strings of 0 and 1.

/// A signed decimal at `at`: its value and the place behind it. At most ten digits.
#[inline]
pub(super) fn decimal(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let (negative, start) = match line.get(at) {
        Some(b'-') => (true, at + 1),
        Some(b'+') => (false, at + 1),
        _ => (false, at),
    };
    let mut end = start;
    let mut value = 0_i64;
    while let Some(digit) = line.get(end).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
        if end - start == 10 {
            return None;
        }
        value = value * 10 + i64::from(digit);
        end += 1;
    }
    (end > start).then_some((if negative { -value } else { value }, end))
}

/// A signed decimal of up to 18 digits at `at`: clocks that count from a far beginning.
#[inline]
pub(super) fn long(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let negative = line.get(at) == Some(&b'-');
    let start = at + usize::from(matches!(line.get(at), Some(b'-' | b'+')));
    let (value, end) = digits(line, start)?;
    (end > start).then_some((if negative { -value } else { value }, end))
}

/// The value of one hexadecimal digit.
#[inline]
pub(super) fn hex_digit(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        b'A'..=b'F' => Some(byte - b'A' + 10),
        _ => None,
    }
}

/// An unsigned hexadecimal at `at`, `0x` allowed before it. At most eight digits.
#[inline]
pub(super) fn hex(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let prefixed = line.get(at) == Some(&b'0') && matches!(line.get(at + 1), Some(b'x' | b'X'));
    let start = if prefixed { at + 2 } else { at };
    let mut end = start;
    let mut value = 0_i64;
    while let Some(digit) = line.get(end).and_then(|b| hex_digit(*b)) {
        if end - start == 8 {
            return None;
        }
        value = value << 4 | i64::from(digit);
        end += 1;
    }
    (end > start).then_some((value, end))
}

/// A string of 0 and 1 at `at`, the first character = bit 0. At most 32 characters.
#[inline]
pub(super) fn bits(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let mut end = at;
    let mut value = 0_i64;
    while let Some(bit) = line.get(end).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 2) {
        if end - at == 32 {
            return None;
        }
        value |= i64::from(bit) << (end - at);
        end += 1;
    }
    (end > at).then_some((value, end))
}

/// A number of base 2 at `at`, `0b` allowed before it and single underlines between its digits. At most 32
/// digits.
#[inline]
pub(super) fn binary(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let prefixed = line.get(at) == Some(&b'0') && matches!(line.get(at + 1), Some(b'b' | b'B'));
    let mut end = if prefixed { at + 2 } else { at };
    let (mut value, mut count) = (0_i64, 0);
    let bit = |at: usize| line.get(at).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 2);
    loop {
        let gap = usize::from(count > 0 && line.get(end) == Some(&b'_'));
        let Some(digit) = bit(end + gap) else { break };
        if count == 32 {
            return None;
        }
        value = value << 1 | i64::from(digit);
        count += 1;
        end += gap + 1;
    }
    (count > 0).then_some((value, end))
}

/// Digits from `at` on: their value, at most 18 of them, and the place behind the last.
#[inline]
fn digits(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let mut end = at;
    let mut value = 0_i64;
    while let Some(digit) = line.get(end).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
        if end - at == 18 {
            return None;
        }
        value = value * 10 + i64::from(digit);
        end += 1;
    }
    Some((value, end))
}

/// The digits behind a point as a whole number of the last of `places`; those behind it are cut.
fn fraction(line: &[u8], at: usize, places: u8) -> Option<(i64, usize)> {
    let (_, end) = digits(line, at)?;
    let kept = line.get(at..end)?.iter().map(|b| i64::from(b - b'0'));
    let mut padded = kept.chain(std::iter::repeat(0));
    let value = (0..places).fold(0, |sum, _| sum * 10 + padded.next().unwrap_or(0));
    (end > at).then_some((value, end))
}

/// A signed decimal with `mark` for its point, or without one, times 10^`places`.
#[inline]
pub(super) fn fixed(line: &[u8], at: usize, mark: u8, places: u8) -> Option<(i64, usize)> {
    let (negative, start) = match line.get(at) {
        Some(b'-') => (true, at + 1),
        Some(b'+') => (false, at + 1),
        _ => (false, at),
    };
    let (whole, mut end) = digits(line, start)?;
    let mut value = whole.checked_mul(10_i64.checked_pow(u32::from(places))?)?;
    let pointed = line.get(end) == Some(&mark) && line.get(end + 1).is_some_and(u8::is_ascii_digit);
    if pointed {
        let (part, behind) = fraction(line, end + 1, places)?;
        value = value.checked_add(part)?;
        end = behind;
    }
    (end > start).then_some((if negative { -value } else { value }, end))
}

/// A time of day at `at` in microseconds; with a date before it, from the beginning of 1970.
///
/// `hh:mm:ss`, `mm:ss.f`, both with a fraction behind a point or comma, or with thousandths behind one more
/// colon; a date is `yyyy-mm-dd` or
/// with strokes, then `T` or a blank.
///
/// A second group of three digits behind a comma (`.005,002`) counts where a bracket ends the stamp: elsewhere
/// it is the next column.
pub(super) fn day_time(line: &[u8], at: usize) -> Option<(i64, usize)> {
    stamp(line, at, |behind| matches!(line.get(behind), Some(b']' | b')')))
}

/// [`day_time`] of a token that was cut out of its line already: it is the whole token or nothing.
pub(super) fn whole_day_time(token: &[u8]) -> Option<i64> {
    let (micros, end) = stamp(token, 0, |behind| behind == token.len())?;
    (end == token.len()).then_some(micros)
}

/// `ends` tells whether a stamp may end at a place behind its second group.
fn stamp(line: &[u8], at: usize, ends: impl Fn(usize) -> bool) -> Option<(i64, usize)> {
    let (days, start) = date(line, at).unwrap_or((0, at));
    let (first, end) = clock_part(line, start)?;
    let (second, mut end) = clock_part(line, (line.get(end) == Some(&b':')).then_some(end + 1)?)?;
    let mut seconds = first * 60 + second;
    let mut whole = false;
    if line.get(end) == Some(&b':') {
        if let Some(thousandths) = thousandths(line, end + 1) {
            let micros = (days * 86_400 + seconds) * 1_000_000 + thousandths * 1_000;
            return Some((micros, end + 4));
        }
        let (third, behind) = clock_part(line, end + 1)?;
        seconds = seconds * 60 + third;
        end = behind;
        whole = true;
    }
    let mut micros = 0;
    if let Some(thousandths) = thousandths(line, end + 1).filter(|_| line.get(end) == Some(&b':')) {
        (micros, end) = (thousandths * 1_000, end + 4);
    } else if matches!(line.get(end), Some(b'.' | b','))
        && let Some((part, behind)) = fraction(line, end + 1, 6)
    {
        // Behind a comma three or six digits: else it separates.
        let digits = behind - end - 1;
        if line[end] == b'.' || digits == 3 && whole || digits == 6 && whole {
            (micros, end) = (part, behind);
            whole = true;
        }
    }
    if let (Some(b','), Some((part, behind))) = (line.get(end), fraction(line, end + 1, 3))
        && behind - end == 4
        && micros % 1_000 == 0
        && ends(behind)
    {
        (micros, end) = (micros + part, behind);
    }
    whole.then_some(((days * 86_400 + seconds) * 1_000_000 + micros, end))
}

/// Three digits behind a colon, and no more.
fn thousandths(line: &[u8], at: usize) -> Option<i64> {
    digits(line, at).filter(|(_, end)| end - at == 3).map(|(value, _)| value)
}

/// One or two digits.
fn clock_part(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let (value, end) = digits(line, at)?;
    (1..=2).contains(&(end - at)).then_some((value, end))
}

/// Days from the beginning of 1970 and the place of the time behind a date.
fn date(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let (year, end) = digits(line, at)?;
    let mark = line.get(end).filter(|b| matches!(b, b'-' | b'/'))?;
    let (month, behind) = clock_part(line, end + 1)?;
    let (day, last) = clock_part(line, (line.get(behind) == Some(mark)).then_some(behind + 1)?)?;
    let sound = end - at == 4 && (1..=12).contains(&month) && (1..=31).contains(&day);
    let gap = matches!(line.get(last), Some(b'T' | b't' | b' '));
    if !(sound && gap) {
        return None;
    }
    // Days of the civil calendar, March first (Hinnant 2013).
    let year = if month <= 2 { year - 1 } else { year };
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let days = year * 365 + year / 4 - year / 100 + year / 400 + of_year - 719_468;
    Some((days, last + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_each_form_and_stops_behind_it() {
        assert_eq!(decimal(b"512,", 0), Some((512, 3)));
        assert_eq!(decimal(b"-12 ", 0), Some((-12, 3)));
        assert_eq!(decimal(b"4294967295", 0), Some((4_294_967_295, 10)));
        assert_eq!(hex(b"0x1fF;", 0), Some((0x1FF, 5)));
        assert_eq!(hex(b"FFFFFFFF", 0), Some((0xFFFF_FFFF, 8)));
        assert_eq!(bits(b"0100", 0), Some((2, 4)));
    }

    #[test]
    fn reads_points_and_times() {
        assert_eq!(binary(b"0b0110,", 0), Some((6, 6)));
        assert_eq!(binary(b"0b01_10_,", 0), Some((6, 7)));
        assert_eq!(fixed(b"-1.5,", 0, b'.', 3), Some((-1500, 4)));
        assert_eq!(fixed(b"2,25;", 0, b',', 2), Some((225, 4)));
        assert_eq!(fixed(b"7,", 0, b',', 2), Some((700, 1)));
        assert_eq!(day_time(b"00:01:02.5]", 0), Some((62_500_000, 10)));
        assert_eq!(day_time(b"1:02.25 ", 0), Some((62_250_000, 7)));
        let stamp = b"1970-01-03T00:00:01,002 x";
        assert_eq!(day_time(stamp, 0), Some((2 * 86_400_000_000 + 1_002_000, 23)));
        let late = day_time(b"2026-03-04 00:00:00 ", 0);
        assert_eq!(late, Some((1_772_582_400_000_000, 19)));
        assert_eq!(day_time(b"00:00:52.005,002]", 0), Some((52_005_002, 16)));
        assert_eq!(day_time(b"00:00:52.005,002,7", 0), Some((52_005_000, 12)), "columns follow");
        assert_eq!(whole_day_time(b"00:00:52.005,002"), Some(52_005_002));
        assert_eq!(whole_day_time(b"00:00:52.005,002 "), None);
        assert_eq!(day_time(b"12:30", 0), None);
        assert_eq!(day_time(b"02:03:045,7", 0), Some((123_045_000, 9)));
        assert_eq!(day_time(b"1:02:03:045 ", 0), Some((3_723_045_000, 11)));
        assert_eq!(day_time(b"1:02:0345", 0), None);
        assert_eq!(long(b"1764547200123,", 0), Some((1_764_547_200_123, 13)));
    }

    #[test]
    fn refuses_what_is_no_number_or_too_long() {
        for bad in [&b""[..], b"-", b"x", b"12345678901"] {
            assert_eq!(decimal(bad, 0), None, "{bad:?}");
        }
        for bad in [&b"0x"[..], b"g", b"123456789"] {
            assert_eq!(hex(bad, 0), None, "{bad:?}");
        }
        assert_eq!(bits(&[b'1'; 33], 0), None);
        assert_eq!(bits(b"2", 0), None);
    }
}
