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
