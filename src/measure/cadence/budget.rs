//! What a serial line or a USB endpoint can carry: arithmetic, no measurement.

/// Shape of a character on an asynchronous serial line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame {
    /// Data bits, 5–9.
    pub data_bits: u8,
    /// A parity bit is sent.
    pub parity: bool,
    /// Stop bits, 1 or 2.
    pub stop_bits: u8,
}

impl Frame {
    /// 8 data bits, no parity, one stop bit: 10 bit times a byte.
    pub const N81: Frame = Frame { data_bits: 8, parity: false, stop_bits: 1 };

    /// Bit times of a character, start bit included.
    pub fn bits(self) -> u32 {
        1 + u32::from(self.data_bits) + u32::from(self.parity) + u32::from(self.stop_bits)
    }
}

/// An asynchronous serial line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Uart {
    /// Bits a second.
    pub baud: u32,
    /// Shape of a character.
    pub frame: Frame,
}

impl Uart {
    /// A line of 8N1 characters.
    pub fn n81(baud: u32) -> Uart {
        Uart { baud, frame: Frame::N81 }
    }

    /// Characters a second: baud / bits of a character.
    pub fn bytes_per_s(self) -> f64 {
        f64::from(self.baud) / f64::from(self.frame.bits())
    }

    /// Time of one character, µs; infinite at 0 baud.
    pub fn byte_us(self) -> f64 {
        1e6 / self.bytes_per_s()
    }

    /// Lines a second at most, for lines of `line_bytes` with their ending.
    pub fn lines_per_s(self, line_bytes: usize) -> f64 {
        self.bytes_per_s() / line_bytes as f64
    }

    /// Share of the line in use at `rate_hz` lines of `line_bytes`; above 1 the print slows the loop.
    pub fn load(self, line_bytes: usize, rate_hz: f64) -> f64 {
        rate_hz / self.lines_per_s(line_bytes)
    }
}

/// Divisor register of an AVR-like UART, the rate that it gives and its error as a share.
///
/// UBRR = round(f/(k·baud)) − 1, at least 0, with k = 16, or 8 at double speed; rate =
/// f/(k(UBRR + 1)). `None` at 0 baud. Source: USART chapter of the ATmega data sheets (from memory).
pub fn uart_divisor(clock_hz: u32, baud: u32, double_speed: bool) -> Option<(u32, f64, f64)> {
    let k = if double_speed { 8.0 } else { 16.0 };
    let (clock, wanted) = (f64::from(clock_hz), f64::from(baud));
    if baud == 0 {
        return None;
    }
    let divisor = (clock / (k * wanted)).round().max(1.0);
    let rate = clock / (k * divisor);
    Some((divisor as u32 - 1, rate, rate / wanted - 1.0))
}

/// Raw bytes of a full-speed frame of 1 ms: 12 Mbit/s.
const FRAME_BYTES: u32 = 1500;

/// Bytes that each full-speed bulk transaction costs beside its payload.
const BULK_OVERHEAD: u32 = 13;

/// Full-speed bulk transactions of `payload` bytes that fit in a frame, and bytes a second.
///
/// ⌊1500/(13 + payload)⌋; payload 1–64. 64 bytes: 19 a frame, 1 216 000 B/s. Source: USB 2.0
/// specification (2000), table 5-9 (from memory; the arithmetic reproduces it).
pub fn full_speed_bulk(payload: u32) -> (u32, u32) {
    let payload = payload.clamp(1, 64);
    let transactions = FRAME_BYTES / (BULK_OVERHEAD + payload);
    (transactions, transactions * payload * 1000)
}

/// Bytes a second of one full-speed interrupt endpoint: one transaction an interval.
///
/// `payload` at most 64 bytes, `interval_ms` 1–255; a host may poll faster than asked.
pub fn interrupt_bytes_per_s(payload: u32, interval_ms: u32) -> f64 {
    f64::from(payload.min(64)) * 1000.0 / f64::from(interval_ms.clamp(1, 255))
}

/// Mean wait of a report for the host's next poll: half the interval, µs.
pub fn poll_wait_us(interval_ms: u32) -> f64 {
    f64::from(interval_ms) * 500.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_sixty_bytes_at_common_rates() {
        // 115 200/(10·60) = 192 lines a second.
        assert_eq!(Uart::n81(115_200).lines_per_s(60), 192.0);
        assert_eq!(Uart::n81(115_200).load(60, 250.0), 250.0 / 192.0);
        assert_eq!(Frame { data_bits: 8, parity: true, stop_bits: 1 }.bits(), 11);
    }

    #[test]
    fn impossible_requests_stay_finite_or_absent() {
        assert_eq!(uart_divisor(16_000_000, 0, false), None);
        assert_eq!(uart_divisor(1_000_000, 4_000_000, true).map(|d| d.0), Some(0));
        assert_eq!(full_speed_bulk(0), full_speed_bulk(1));
        assert_eq!(poll_wait_us(8), 4_000.0);
    }
}
