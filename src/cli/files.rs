//! Rig and dialect files named on the line.
use std::path::Path;

use super::Failure;
use crate::desk::small_text;
use crate::rig::Rig;
use crate::wire::Dialect;

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
