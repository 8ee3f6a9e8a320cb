//! Rig and dialect files named on the line.
use std::path::Path;

use super::Failure;
use crate::rig::Rig;
use crate::wire::Dialect;

/// Largest rig or dialect file that is read, bytes.
const LARGEST: u64 = 1 << 20;

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
    let refuse = |why: String| Failure::Refused(format!("{}: {why}", path.display()));
    let meta = std::fs::metadata(path).map_err(|e| refuse(format!("cannot be read ({e})")))?;
    if meta.len() > LARGEST {
        return Err(refuse("too large for a rig or dialect file; name another".to_owned()));
    }
    std::fs::read_to_string(path).map_err(|e| refuse(format!("cannot be read as text ({e})")))
}
