//! Text of two bytes a character (UTF-16), as some terminals save it, made plain.

/// The order of the two bytes, if a file's first bytes are such text: by its mark, else by the
/// zeros that stand beside every plain character.
pub(super) fn is_wide(head: &[u8]) -> Option<Order> {
    let pairs = head.chunks_exact(2);
    let all = pairs.len();
    // Two such bytes may be rubbish from before: most characters of a board's line are plain.
    let zeros = |at: usize| 2 * pairs.clone().filter(|p| p[at] == 0).count() > all;
    match head {
        [0xFF, 0xFE, ..] if zeros(1) => return Some(Order::LowFirst),
        [0xFE, 0xFF, ..] if zeros(0) => return Some(Order::HighFirst),
        _ => {}
    }
    let plain = |b: u8| (b' '..0x7F).contains(&b) || matches!(b, b'\r' | b'\n' | b'\t');
    let low = pairs.clone().filter(|p| p[1] == 0 && plain(p[0])).count();
    let high = pairs.clone().filter(|p| p[0] == 0 && plain(p[1])).count();
    if all < 8 {
        None
    } else if low == all {
        Some(Order::LowFirst)
    } else if high == all {
        Some(Order::HighFirst)
    } else {
        None
    }
}

/// Which byte of a character comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    /// The low one.
    LowFirst,
    /// The high one.
    HighFirst,
}

/// The text in UTF-8, without its mark; what is no character becomes U+FFFD.
pub(super) fn narrow(bytes: &[u8], order: Order) -> Vec<u8> {
    let unit = |pair: &[u8]| match order {
        Order::LowFirst => u16::from_le_bytes([pair[0], pair[1]]),
        Order::HighFirst => u16::from_be_bytes([pair[0], pair[1]]),
    };
    let units = bytes.chunks_exact(2).map(unit).skip_while(|u| *u == 0xFEFF);
    let text: String =
        char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect();
    text.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_orders_are_told_with_and_without_mark() {
        for (order, mark) in [(Order::LowFirst, true), (Order::HighFirst, false)] {
            let text = "12,34,µ\r\n5,6,7\r\n";
            let units = mark.then_some(0xFEFF).into_iter().chain(text.encode_utf16());
            let bytes: Vec<u8> = units
                .flat_map(|u| match order {
                    Order::LowFirst => u.to_le_bytes(),
                    Order::HighFirst => u.to_be_bytes(),
                })
                .collect();
            let head = if mark { &bytes[..] } else { &bytes[16..] };
            assert_eq!(is_wide(head), Some(order).filter(|_| mark || head.len() >= 16));
            assert_eq!(narrow(&bytes, order), text.as_bytes());
        }
        assert_eq!(is_wide(b"1,2,3\n4,5,6\n7,8,9\n"), None);
    }
}
