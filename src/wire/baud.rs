//! Bytes read at the wrong baud rate, told by their look.

/// Fewer bytes than this say nothing.
const ENOUGH: usize = 64;

/// True when `bytes` look like a stream read at the wrong baud rate or with inverted levels.
///
/// More than 30 % of them lie outside 0x20–0x7E (tabs, CR and LF are not counted as outside) and
/// line ends are missing or come in no pattern: fewer than half of the pieces between them are
/// printable text (common practice). Or they are of the form that half of the board's rate leaves
/// ([`at_half_rate`]). With fewer than 64 bytes the answer is no.
pub fn looks_like_baud_mismatch(bytes: &[u8]) -> bool {
    // Packed frames are no text either, but they prove themselves.
    let (frames, pieces, _) = super::packed::survey(bytes);
    if frames > 0 && 2 * frames >= pieces {
        return false;
    }
    if bytes.len() < ENOUGH {
        return false;
    }
    if at_half_rate(bytes) as f64 > HALF_RATE * bytes.len() as f64 {
        return true;
    }
    if 10 * unprintable(bytes) <= 3 * bytes.len() {
        return false;
    }
    let (mut pieces, mut text) = (0_usize, 0_usize);
    for piece in bytes.split(|b| *b == b'\n').filter(|p| p.len() > 1) {
        pieces += 1;
        text += usize::from(unprintable(piece) == 0);
    }
    2 * text < pieces.max(1)
}

/// Bytes as digits and their separators leave when the port reads at half of the board's rate.
///
/// Of ten bits the port then sees every other one: d2, d4, d6, the stop bit, and the same of the next
/// byte behind its start bit. So bit 3 of what it takes for a byte is always set, and bit 2 is d6 of the
/// first byte, which no digit, comma, tab, space or line end has. A digit and a comma, 0x31 0x2C, read
/// 0x2A: text, if odd. (A port that looks at the other edge of its bits sees d1, d3, d5, d7 and sets bit 7:
/// no text, which [`unprintable`] counts.)
pub fn at_half_rate(bytes: &[u8]) -> usize {
    bytes.iter().filter(|b| *b & 0x0C == 0x08).count()
}

/// Share of such bytes from which they are no text: a line of numbers that really are sent has commas
/// or spaces, and no more than two digits in ten are of that form.
const HALF_RATE: f64 = 0.85;

/// Watches a link for bytes at another baud rate, stretch by stretch.
///
/// The first stretch is judged as it grows, so that a wrong rate shows at once; later ones when they
/// are whole, so that the answer does not flicker. Memory: one stretch.
#[derive(Clone, Debug, Default)]
pub struct RateWatch {
    stretch: Vec<u8>,
    past_first: bool,
}

/// Bytes of a stretch.
const STRETCH: usize = 4_096;

impl RateWatch {
    /// Takes the bytes of one read; `Some` when there is a new answer: they look odd, or not.
    pub fn take(&mut self, bytes: &[u8]) -> Option<bool> {
        let mut answer = None;
        let mut rest = bytes;
        while !rest.is_empty() {
            let part = rest.len().min(STRETCH - self.stretch.len());
            self.stretch.extend_from_slice(&rest[..part]);
            rest = &rest[part..];
            let whole = self.stretch.len() == STRETCH;
            if whole || !self.past_first {
                answer = Some(looks_like_baud_mismatch(&self.stretch));
            }
            if whole {
                self.past_first = true;
                self.stretch.clear();
            }
        }
        answer
    }
}

/// Bytes that no line of text contains.
pub fn unprintable(bytes: &[u8]) -> usize {
    bytes.iter().filter(|b| !matches!(b, 0x20..=0x7E | b'\t' | b'\r' | b'\n')).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_is_a_mismatch_and_text_is_none() {
        let noise: Vec<u8> =
            (0..500_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8 | 0x80).collect();
        assert!(looks_like_baud_mismatch(&noise));
        assert!(!looks_like_baud_mismatch(&noise[..40]), "too few to tell");
        assert!(!looks_like_baud_mismatch("512,498,3\r\n".repeat(40).as_bytes()));
    }

    #[test]
    fn every_other_bit_of_two_digits_is_known() {
        // '1' = 0x31 and ',' = 0x2C: d2 d4 d6 = 0 1 0, a stop bit, d0 d2 d4 d6 = 0 1 0 0.
        assert_eq!(at_half_rate(&[0b0010_1010]), 1);
        // Lines of numbers as they really are.
        let text = b"88,998,808,999,0x0000\n".repeat(20);
        assert!(at_half_rate(&text) < 7 * text.len() / 10);
        assert!(!looks_like_baud_mismatch(&text));
    }

    #[test]
    fn a_rate_that_changes_later_is_noticed_and_so_is_its_return() {
        let noise: Vec<u8> =
            (0..9_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8 | 0x80).collect();
        let text = "512,498,3\r\n".repeat(900);
        let mut watch = RateWatch::default();
        assert_eq!(watch.take(&text.as_bytes()[..200]), Some(false), "judged as it grows");
        assert_eq!(watch.take(&text.as_bytes()[200..]), Some(false));
        assert_eq!(watch.take(&noise[..40]), None, "no whole stretch yet");
        assert_eq!(watch.take(&noise), Some(true));
        assert_eq!(watch.take(text.as_bytes()), Some(false));
    }

    #[test]
    fn lines_with_a_burst_of_noise_are_text() {
        let mut bytes = "512,498\n".repeat(60).into_bytes();
        bytes.extend([0xFE; 400]);
        assert!(!looks_like_baud_mismatch(&bytes));
    }
}
