//! Rig and dialect files named on the line.
use std::path::{Path, PathBuf};

use super::Failure;
use crate::desk::small_text;
use crate::rig::Rig;
use crate::wire::Dialect;

/// A file to read: one that was named, or standard input kept in a file of its own.
pub(super) struct Input {
    path: PathBuf,
    /// The folder goes when this does.
    _kept: Option<tempfile::TempDir>,
}

impl Input {
    pub(super) fn path(&self) -> &Path {
        &self.path
    }
}

/// `-` is standard input, read to its end: recognition looks all over what it reads.
pub(super) fn input(path: &Path) -> Result<Input, Failure> {
    if path.as_os_str() != "-" {
        return Ok(Input { path: path.to_owned(), _kept: None });
    }
    let refuse = |e: std::io::Error| {
        Failure::Refused(format!("standard input cannot be kept in the temp folder ({e})"))
    };
    let folder = tempfile::Builder::new().prefix("trimbench-").tempdir().map_err(refuse)?;
    let kept = folder.path().join("standard-input");
    let mut file = std::fs::File::create(&kept).map_err(refuse)?;
    std::io::copy(&mut std::io::stdin().lock(), &mut file).map_err(refuse)?;
    Ok(Input { path: kept, _kept: Some(folder) })
}

/// The parts list in a file, if one was named.
pub(super) fn rig(path: Option<&Path>) -> Result<Option<Rig>, Failure> {
    let Some(path) = path else { return Ok(None) };
    let text = text(path)?;
    Ok(Some(Rig::from_ron(&text, &path.display().to_string())?))
}

/// The dialect in a file, if one was named.
pub(super) fn dialect(path: Option<&Path>) -> Result<Option<Dialect>, Failure> {
    let Some(path) = path else { return Ok(None) };
    let text = text(path)?;
    Ok(Some(Dialect::from_ron(&text, &path.display().to_string())?))
}

fn text(path: &Path) -> Result<String, Failure> {
    small_text(path).map_err(|why| Failure::Refused(format!("{}: {why}", path.display())))
}
