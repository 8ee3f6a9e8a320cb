//! Which bytes a session came from: their SHA-256 and their number.
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};

/// What bytes were summed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// The file as it stands on the disk.
    File,
    /// What came over a link, as it was read.
    Link,
}

impl Of {
    /// Machine word: `file`, `link`.
    pub fn key(self) -> &'static str {
        match self {
            Of::File => "file",
            Of::Link => "link",
        }
    }
}

/// The identity of a recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Identity {
    /// SHA-256 (FIPS 180-4), 64 hexadecimal digits.
    pub sha256: String,
    /// Bytes that it is over.
    pub bytes: u64,
    /// What they are.
    pub of: Of,
}

/// Lower-case hexadecimal digits.
pub(super) fn hex_of(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The sum of bytes as they come.
#[derive(Clone, Debug)]
pub(super) struct Summed {
    hash: Sha256,
    bytes: u64,
}

impl Summed {
    pub(super) fn new() -> Summed {
        Summed { hash: Sha256::new(), bytes: 0 }
    }

    pub(super) fn add(&mut self, bytes: &[u8]) {
        self.hash.update(bytes);
        self.bytes += bytes.len() as u64;
    }

    /// The identity of what has come so far.
    pub(super) fn identity(&self, of: Of) -> Identity {
        Identity { sha256: hex_of(&self.hash.clone().finalize()), bytes: self.bytes, of }
    }
}

impl Identity {
    /// The identity of the bytes of several files, one behind the other.
    ///
    /// # Errors
    /// A file cannot be read.
    pub fn of_files(paths: &[&Path]) -> io::Result<Identity> {
        let mut summed = Summed::new();
        let mut buffer = vec![0; 1 << 20];
        for path in paths {
            let mut file = File::open(path)?;
            loop {
                let count = file.read(&mut buffer)?;
                if count == 0 {
                    break;
                }
                summed.add(&buffer[..count]);
            }
        }
        Ok(summed.identity(Of::File))
    }
}

/// A reader that sums what goes through it.
pub(super) struct Summing<R> {
    pub(super) input: R,
    pub(super) summed: Summed,
}

impl<R: Read> Read for Summing<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.input.read(buffer)?;
        self.summed.add(&buffer[..count]);
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_sums() {
        // FIPS 180-2, appendix B.1, and the sum of nothing (from memory: e3b0c442…b855).
        let mut summed = Summed::new();
        let empty = summed.identity(Of::Link);
        assert!(empty.sha256.starts_with("e3b0c442") && empty.sha256.ends_with("7852b855"));
        summed.add(b"a");
        summed.add(b"bc");
        let found = summed.identity(Of::File);
        let wanted = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!((found.sha256.as_str(), found.bytes), (wanted, 3));
    }
}
