//! Checksums (CRC RevEng catalogue, G. Cook) and byte stuffing (Cheshire & Baker 1999), by the
//! crates that the wire uses.
use crate::source::{json, text};

#[test]
fn catalogue_of_checksums() {
    let hex = |field: &str| u64::from_str_radix(field.trim_start_matches("0x"), 16).unwrap();
    let all: Vec<u8> = (0..=255).collect();
    let inputs: [&[u8]; 4] = [b"123456789", b"", &[0; 4], &all];
    let mut seen = 0;
    let table = text("crc.csv");
    for row in table.lines().skip(1) {
        let f: Vec<&str> = row.split(',').collect();
        let (name, width) = (f[0], f[1].parse::<u8>().unwrap());
        let (poly, init, xorout) = (hex(f[2]), hex(f[3]), hex(f[6]));
        let (refin, refout) = (f[4] == "True", f[5] == "True");
        for (input, want) in inputs.iter().zip(&f[7..11]) {
            let got = match width {
                8 => small(narrow8(poly, init, xorout, refin, refout), input),
                16 => medium(narrow16(poly, init, xorout, refin, refout), input),
                32 => large(narrow32(poly, init, xorout, refin, refout), input),
                _ => continue,
            };
            assert_eq!(got, hex(want), "{name}");
            seen += 1;
        }
    }
    assert!(seen >= 20, "{seen}");
}

macro_rules! algorithm {
    ($narrow:ident, $run:ident, $int:ty) => {
        fn $narrow(
            poly: u64,
            init: u64,
            xorout: u64,
            refin: bool,
            refout: bool,
        ) -> crc::Algorithm<$int> {
            let int = |v: u64| <$int>::try_from(v).unwrap();
            crc::Algorithm {
                width: <$int>::BITS as u8,
                poly: int(poly),
                init: int(init),
                refin,
                refout,
                xorout: int(xorout),
                check: 0,
                residue: 0,
            }
        }
        fn $run(algorithm: crc::Algorithm<$int>, input: &[u8]) -> u64 {
            let leaked: &'static crc::Algorithm<$int> = Box::leak(Box::new(algorithm));
            u64::from(crc::Crc::<$int>::new(leaked).checksum(input))
        }
    };
}

algorithm!(narrow8, small, u8);
algorithm!(narrow16, medium, u16);
algorithm!(narrow32, large, u32);

#[test]
fn check_value_of_the_header_checksum() {
    let crc = crc::Crc::<u16>::new(&crc::CRC_16_IBM_3740);
    assert_eq!(crc.checksum(b"123456789"), 0x29B1);
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
    assert_eq!(crc.checksum(b"123456789"), 0xCBF4_3926);
}

#[test]
fn stuffed_bytes() {
    let bytes = |hex: &str| -> Vec<u8> {
        let digits = hex.as_bytes().chunks_exact(2);
        digits.map(|d| u8::from_str_radix(std::str::from_utf8(d).unwrap(), 16).unwrap()).collect()
    };
    for case in json("cobs.json")["cases"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let raw = bytes(case["raw_hex"].as_str().unwrap());
        let stuffed = bytes(case["cobs_hex"].as_str().unwrap());
        assert_eq!(cobs::decode_vec(&stuffed).unwrap(), raw, "{name}");
        let mut again = cobs::encode_vec(&raw);
        // Both forms of exactly 254 bytes without a zero are valid; decoders accept either.
        if again != stuffed && again.last() == Some(&1) {
            again.pop();
        }
        assert_eq!(again, stuffed, "{name}");
    }
}
