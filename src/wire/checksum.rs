//! The two line checksums: `*HH` (XOR) and `*HHHH` (CRC-16/IBM-3740).
use crc::{CRC_16_IBM_3740, Crc};

use super::ChecksumForm;
use super::number::hex_digit;

const CRC16: Crc<u16> = Crc::<u16>::new(&CRC_16_IBM_3740);

/// What a line's ending says of its bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Checked<'a> {
    /// The bytes before the star, proven.
    Good(&'a [u8]),
    /// There is a checksum and it does not agree; the bytes before the star.
    Wrong(&'a [u8]),
    /// The line does not end in a star and digits.
    Missing,
}

/// XOR of all bytes.
pub(super) fn xor(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, b| sum ^ b)
}

/// CRC-16/IBM-3740 (poly 0x1021, init 0xFFFF; "123456789" gives 0x29B1).
pub(super) fn crc16(bytes: &[u8]) -> u16 {
    CRC16.checksum(bytes)
}

/// Hex digits behind the star.
pub(super) fn digits(form: ChecksumForm) -> usize {
    match form {
        ChecksumForm::None => 0,
        ChecksumForm::Xor | ChecksumForm::Unchecked8 => 2,
        ChecksumForm::Crc16 | ChecksumForm::Unchecked16 => 4,
    }
}

/// Checks the end of a line (no delimiter, no trailing blanks) and takes it off.
pub(super) fn check(form: ChecksumForm, line: &[u8]) -> Checked<'_> {
    let count = digits(form);
    if count == 0 {
        return Checked::Good(line);
    }
    let Some(star) = line.len().checked_sub(count + 1) else { return Checked::Missing };
    if line[star] != b'*' {
        return Checked::Missing;
    }
    let mut said = 0_u16;
    for &byte in &line[star + 1..] {
        let Some(digit) = hex_digit(byte) else { return Checked::Missing };
        said = said << 4 | u16::from(digit);
    }
    let payload = &line[..star];
    let sum = match form {
        ChecksumForm::Xor => u16::from(xor(payload.strip_prefix(b"$").unwrap_or(payload))),
        ChecksumForm::Crc16 => crc16(payload),
        ChecksumForm::None | ChecksumForm::Unchecked8 | ChecksumForm::Unchecked16 => said,
    };
    if sum == said { Checked::Good(payload) } else { Checked::Wrong(payload) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_check_value() {
        // Catalogue of parametrised CRC algorithms: CRC-16/IBM-3740, check 0x29B1.
        assert_eq!(crc16(b"123456789"), 0x29B1);
    }

    #[test]
    fn a_sum_is_taken_off_and_compared() {
        assert_eq!(check(ChecksumForm::Xor, b"$AB*03"), Checked::Good(b"$AB"));
        assert_eq!(check(ChecksumForm::Xor, b"AB*04"), Checked::Wrong(b"AB"));
        assert_eq!(check(ChecksumForm::Xor, b"AB03"), Checked::Missing);
        assert_eq!(check(ChecksumForm::Crc16, b"123456789*29b1"), Checked::Good(b"123456789"));
        assert_eq!(check(ChecksumForm::None, b"1,2"), Checked::Good(b"1,2"));
        assert_eq!(check(ChecksumForm::Unchecked8, b"1,2*FF"), Checked::Good(b"1,2"));
        assert_eq!(check(ChecksumForm::Crc16, b"*1"), Checked::Missing);
    }
}
