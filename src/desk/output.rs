//! Files that leave: written whole or not at all, and never through a half-written name.
use std::io::Write;
use std::path::{Path, PathBuf};

/// An output that could not be written.
#[derive(Debug, thiserror::Error)]
#[error("{}: cannot be written ({cause}); {}", path.display(), remedy(.cause))]
pub struct OutputError {
    /// The file asked for.
    pub path: PathBuf,
    /// What the system said.
    pub cause: std::io::Error,
}

fn remedy(cause: &std::io::Error) -> &'static str {
    match cause.kind() {
        std::io::ErrorKind::NotFound => "make the folder first or choose another",
        std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
            "choose a folder that you may write to"
        }
        std::io::ErrorKind::StorageFull => "free some space and try again",
        _ => "choose another place",
    }
}

/// Replaces `path` by `bytes`: a temporary file beside it, synced, then renamed.
///
/// # Errors
/// [`OutputError`]; the old file, if any, is then untouched.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), OutputError> {
    write_with(path, |file| file.write_all(bytes))
}

/// Like [`write_whole`], for output too large to hold: `fill` writes it piece by piece.
///
/// # Errors
/// [`OutputError`]; the old file, if any, is then untouched.
pub fn write_with(
    path: &Path,
    fill: impl FnOnce(&mut std::io::BufWriter<&mut std::fs::File>) -> std::io::Result<()>,
) -> Result<(), OutputError> {
    let refuse = |cause| OutputError { path: path.to_owned(), cause };
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(refuse)?;
    let mut buffer = std::io::BufWriter::with_capacity(1 << 16, file.as_file_mut());
    fill(&mut buffer).and_then(|()| buffer.flush()).map_err(refuse)?;
    drop(buffer);
    open_to_group(file.as_file()).and_then(|()| file.as_file().sync_all()).map_err(refuse)?;
    file.persist(path).map_err(|e| refuse(e.error))?;
    Ok(())
}

/// Temporary files are private; an output gets the ordinary permissions of a new file.
#[cfg(unix)]
fn open_to_group(file: &std::fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn open_to_group(_file: &std::fs::File) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replaces_a_file_whole() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("constants.h");
        write_whole(&path, b"old").expect("written");
        write_whole(&path, b"new and longer").expect("replaced");
        assert_eq!(std::fs::read(&path).expect("read"), b"new and longer");
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("constants.h");
        write_whole(&path, b"old").expect("written");
        let broken = write_with(&path, |file| {
            file.write_all(b"half")?;
            Err(std::io::Error::other("the disk is gone"))
        });
        assert!(broken.is_err());
        assert_eq!(std::fs::read(&path).expect("read"), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn a_missing_folder_says_what_to_do() {
        let words = write_whole(Path::new("/no/such/folder/a.h"), b"").expect_err("refused");
        assert!(words.to_string().contains("make the folder first"), "{words}");
    }
}
