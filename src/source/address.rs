//! Where bytes come from, as a person types it: `serial:PATH@BAUD`, `virtual:SCENARIO`, `file:PATH`.
use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

/// The rate taken when an address names none.
pub const DEFAULT_BAUD: u32 = 115_200;

/// Rates that a port may have, from teleprinters to the fastest converters to USB.
pub const BAUDS: std::ops::RangeInclusive<u32> = 50..=20_000_000;

/// A source of bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// A serial port at a rate.
    Serial {
        /// Device path.
        path: String,
        /// Symbol rate.
        baud: u32,
    },
    /// The virtual board playing a scenario.
    Virtual {
        /// Name of the scenario; several joined by `+`.
        scenario: String,
    },
    /// A recording played as if it were live.
    File {
        /// A session or a plain log.
        path: PathBuf,
    },
}

/// An address that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("address `{text}`: {why}; use serial:PATH@BAUD, virtual:SCENARIO or file:PATH")]
pub struct BadAddress {
    text: String,
    why: &'static str,
}

impl Address {
    /// True when both name the same device, which one process can hold only once.
    pub fn same_device(&self, other: &Address) -> bool {
        match (self, other) {
            (Address::Serial { path: a, .. }, Address::Serial { path: b, .. }) => {
                a == b
                    || std::fs::canonicalize(a)
                        .ok()
                        .is_some_and(|a| std::fs::canonicalize(b).is_ok_and(|b| a == b))
            }
            _ => false,
        }
    }
}

impl FromStr for Address {
    type Err = BadAddress;

    fn from_str(text: &str) -> Result<Address, BadAddress> {
        let bad = |why| BadAddress { text: text.escape_debug().to_string(), why };
        let (kind, rest) = text.split_once(':').ok_or_else(|| bad("no kind before a colon"))?;
        if rest.is_empty() {
            return Err(bad("nothing behind the colon"));
        }
        match kind {
            "serial" => match rest.rsplit_once('@') {
                Some((path, baud)) => {
                    let baud = baud.parse().map_err(|_e| bad("the rate is not a whole number"))?;
                    if !BAUDS.contains(&baud) {
                        return Err(bad("no port has such a rate; 115200 is common"));
                    }
                    Ok(Address::Serial { path: path.to_owned(), baud })
                }
                None => Ok(Address::Serial { path: rest.to_owned(), baud: DEFAULT_BAUD }),
            },
            "virtual" => Ok(Address::Virtual { scenario: rest.to_owned() }),
            "file" => Ok(Address::File { path: PathBuf::from(rest) }),
            _ => Err(bad("unknown kind")),
        }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Address::Serial { path, baud } => write!(f, "serial:{path}@{baud}"),
            Address::Virtual { scenario } => write!(f, "virtual:{scenario}"),
            Address::File { path } => write!(f, "file:{}", path.display()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_it_writes() {
        for text in ["serial:/dev/ttyACM0@500000", "virtual:healthy", "file:/tmp/a@b.log"] {
            let address: Address = text.parse().expect(text);
            assert_eq!(address.to_string(), text);
        }
    }

    #[test]
    fn a_rate_may_be_left_out() {
        let address: Address = "serial:COM7".parse().expect("an address");
        assert_eq!(address, Address::Serial { path: "COM7".into(), baud: DEFAULT_BAUD });
    }

    #[test]
    fn refusals_say_what_an_address_looks_like() {
        for text in ["ttyACM0", "usb:1", "serial:", "serial:/dev/x@fast", ""] {
            let words = text.parse::<Address>().expect_err(text).to_string();
            assert!(words.contains("serial:PATH@BAUD"), "{words}");
        }
    }
}
