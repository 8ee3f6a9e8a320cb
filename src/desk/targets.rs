//! What is read and what is written never meet: looked at before any work begins.
use std::path::{Path, PathBuf};

use super::output::{self, OutputError, Place};

/// A name as it stands on the line: the word before it, and the path.
pub type Named<'a> = (&'a str, &'a Path);

/// Names that cannot stand together, or an output that cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum TargetError {
    /// An output would replace what is read.
    #[error(
        "{output} {}: this file is read ({input}) and would be replaced; choose another name",
        path.display()
    )]
    Read {
        /// The word before the output.
        output: String,
        /// The word before the input.
        input: String,
        /// The output.
        path: PathBuf,
    },
    /// Two outputs have one file.
    #[error("{first} and {second} {}: two outputs in one file; choose another name", path.display())]
    Twice {
        /// The word before one output.
        first: String,
        /// The word before the other.
        second: String,
        /// The file.
        path: PathBuf,
    },
    /// An output cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
}

/// What makes two names the same file.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Identity {
    /// Standard output.
    Standard,
    /// A file that is there, by device and number.
    There(u64, u64),
    /// A file that is not there yet: its folder and name; or one where files have no numbers.
    Name(PathBuf),
}

/// `None` for what is no regular file: two may share it.
fn identity(path: &Path) -> Option<Identity> {
    match output::place(path).ok()? {
        Place::Standard => Some(Identity::Standard),
        Place::Device => None,
        Place::File(real, Some(meta)) => Some(numbers(&meta).unwrap_or(Identity::Name(real))),
        Place::File(real, None) => {
            let folder = output::folder_of(&real).canonicalize().ok()?;
            Some(Identity::Name(folder.join(real.file_name()?)))
        }
    }
}

#[cfg(unix)]
#[allow(clippy::unnecessary_wraps)] // other systems have no numbers
fn numbers(meta: &std::fs::Metadata) -> Option<Identity> {
    use std::os::unix::fs::MetadataExt;
    Some(Identity::There(meta.dev(), meta.ino()))
}

#[cfg(not(unix))]
fn numbers(_meta: &std::fs::Metadata) -> Option<Identity> {
    None
}

/// Looks at every name before the work: no output is an input or another output.
///
/// # Errors
/// [`TargetError`], the first one found.
pub fn apart(inputs: &[Named<'_>], outputs: &[Named<'_>]) -> Result<(), TargetError> {
    let read: Vec<_> = inputs.iter().map(|(word, path)| (*word, identity(path))).collect();
    let mut taken: Vec<(&str, Identity)> = Vec::new();
    for &(word, path) in outputs {
        let Some(this) = identity(path) else { continue };
        let same = read.iter().find(|(_, other)| other.as_ref() == Some(&this));
        if let (Some((input, _)), false) = (same, this == Identity::Standard) {
            let (output, input) = (word.to_owned(), (*input).to_owned());
            return Err(TargetError::Read { output, input, path: path.to_owned() });
        }
        if let Some((first, _)) = taken.iter().find(|(_, other)| *other == this) {
            let (first, second) = ((*first).to_owned(), word.to_owned());
            return Err(TargetError::Twice { first, second, path: path.to_owned() });
        }
        taken.push((word, this));
    }
    Ok(())
}

/// [`apart`], and every output can be written as far as it can be seen now.
///
/// # Errors
/// [`TargetError`], the first one found.
pub fn check(inputs: &[Named<'_>], outputs: &[Named<'_>]) -> Result<(), TargetError> {
    apart(inputs, outputs)?;
    outputs.iter().try_for_each(|(_, path)| Ok(output::may_write(path)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_meet_are_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        let log = folder.path().join("a.log");
        std::fs::write(&log, "1,2").expect("written");
        let again = folder.path().join(".").join("a.log");
        let fresh = folder.path().join("b.json");
        let words = |read: &[Named<'_>], write: &[Named<'_>]| {
            check(read, write).err().map(|e| e.to_string()).unwrap_or_default()
        };
        let read: &[Named<'_>] = &[("the log", &log)];
        assert!(words(read, &[("--json", &again)]).contains("is read (the log)"));
        assert!(words(read, &[("--json", &fresh), ("--csv", &fresh)]).contains("two outputs"));
        let dash = Path::new("-");
        let stdout = Path::new("/dev/stdout");
        assert!(words(read, &[("--json", dash), ("--csv", stdout)]).contains("two outputs"));
        assert!(words(read, &[("--json", folder.path())]).contains("name a file in it"));
        let null = Path::new("/dev/null");
        assert_eq!(words(read, &[("--json", null), ("--csv", null)]), "");
        assert_eq!(words(&[("the log", dash)], &[("--json", dash)]), "", "in and out");
    }

    #[cfg(unix)]
    #[test]
    fn links_hide_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let log = folder.path().join("a.log");
        std::fs::write(&log, "1,2").expect("written");
        let hard = folder.path().join("hard.json");
        let soft = folder.path().join("soft.json");
        std::fs::hard_link(&log, &hard).expect("linked");
        std::os::unix::fs::symlink(&log, &soft).expect("linked");
        for other in [&hard, &soft] {
            assert!(check(&[("the log", &log)], &[("--json", other)]).is_err());
        }
    }
}
