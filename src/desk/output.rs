//! Files that leave: whole or not at all, never over a recording, never through a half-written name.
//!
//! | the name is | what happens |
//! |---|---|
//! | `-`, `/dev/stdout` | standard output |
//! | a new name | made with the ordinary permissions of a new file |
//! | a file | replaced at once, keeping its permissions and, where allowed, its owner |
//! | a link to a file | the file that it leads to is replaced, the link stays |
//! | a device, pipe or socket | written to |
//! | a folder, a link to nothing, a write-protected file, a recording | refused |
use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::session::file::is_recording;

/// An output that could not be written.
#[derive(Debug, thiserror::Error)]
#[error("{}: cannot be written ({cause}); {}", path.display(), cause.remedy())]
pub struct OutputError {
    /// The file asked for.
    pub path: PathBuf,
    /// Why not.
    pub cause: Cause,
}

/// Why an output cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum Cause {
    /// What the system said.
    #[error(transparent)]
    System(#[from] io::Error),
    /// The name is a folder's.
    #[error("it is a folder")]
    Folder,
    /// A symbolic link whose file is not there.
    #[error("it is a link to a file that is not there")]
    Loose,
    /// A file without permission to write.
    #[error("it is write-protected")]
    Protected,
    /// A session file: the one thing that cannot be computed again.
    #[error("it is a recording")]
    Recording,
    /// A recording is asked for where a file stands.
    #[error("it is there already, and a recording replaces nothing")]
    There,
}

impl OutputError {
    pub(super) fn at(path: &Path, cause: impl Into<Cause>) -> OutputError {
        OutputError { path: path.to_owned(), cause: cause.into() }
    }
}

impl Cause {
    fn remedy(&self) -> &'static str {
        match self {
            Cause::System(cause) => match cause.kind() {
                ErrorKind::NotFound => "make the folder first or choose another",
                ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                    "choose a folder that you may write to"
                }
                ErrorKind::StorageFull => "free some space and try again",
                _ => "choose another place",
            },
            Cause::Folder => "name a file in it",
            Cause::Loose => "name the file itself",
            Cause::Protected => "allow it or choose another name",
            Cause::Recording => "choose another name, or delete it yourself",
            Cause::There => "choose another name, or let --number take the next free one",
        }
    }
}

/// Where a name leads.
#[derive(Debug)]
pub(super) enum Place {
    /// Standard output.
    Standard,
    /// A file of this name, links followed; what stands there now.
    File(PathBuf, Option<Metadata>),
    /// A device, pipe or socket.
    Device,
}

/// True for the names of standard output.
pub fn is_standard(path: &Path) -> bool {
    ["-", "/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"].iter().any(|name| path == Path::new(name))
}

/// Finds where a name leads, without touching it.
pub(super) fn place(path: &Path) -> Result<Place, Cause> {
    if is_standard(path) {
        return Ok(Place::Standard);
    }
    let meta = match path.symlink_metadata() {
        Err(e) if e.kind() == ErrorKind::NotFound => {
            return Ok(Place::File(path.to_owned(), None));
        }
        other => other?,
    };
    let linked = meta.is_symlink();
    let meta = match path.metadata() {
        Err(e) if linked && e.kind() == ErrorKind::NotFound => return Err(Cause::Loose),
        other => other?,
    };
    if meta.is_dir() {
        return Err(Cause::Folder);
    }
    if !meta.is_file() {
        return Ok(Place::Device);
    }
    let real = if linked { path.canonicalize()? } else { path.to_owned() };
    Ok(Place::File(real, Some(meta)))
}

/// Whether `path` may be written as an output that can be made again: known before the work begins.
///
/// # Errors
/// [`OutputError`] as [`write_whole`] would give it, as far as it can be seen now.
pub fn may_write(path: &Path) -> Result<(), OutputError> {
    let seen = place(path).and_then(|place| match place {
        Place::Standard | Place::Device => Ok(()),
        Place::File(real, there) => {
            folder_of(&real).metadata()?;
            replaceable(&real, there.as_ref())
        }
    });
    seen.map_err(|cause| OutputError::at(path, cause))
}

fn replaceable(real: &Path, there: Option<&Metadata>) -> Result<(), Cause> {
    match there {
        None => Ok(()),
        Some(meta) if meta.permissions().readonly() => Err(Cause::Protected),
        // What cannot be read may be a recording.
        Some(_) if is_recording(real)? => Err(Cause::Recording),
        Some(_) => Ok(()),
    }
}

/// The folder that a name stands in.
pub fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Replaces `path` by `bytes`: a temporary file beside it, synced, then renamed.
///
/// # Errors
/// [`OutputError`]; the old file, if any, is then untouched.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), OutputError> {
    write_with(path, |out| out.write_all(bytes))
}

/// Like [`write_whole`], for output too large to hold: `fill` writes it piece by piece.
///
/// # Errors
/// [`OutputError`]; the old file, if any, is then untouched.
pub fn write_with(
    path: &Path,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), OutputError> {
    write_to(path, fill, |real, there, fill| {
        replaceable(real, there)?;
        replace(real, there, fill)
    })
}

/// Writes a recording: like [`write_with`], but never over anything that is there.
///
/// # Errors
/// [`OutputError`]; nothing is then left behind.
pub fn write_new(
    path: &Path,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), OutputError> {
    write_to(path, fill, |real, there, fill| match there {
        Some(_) => Err(Cause::There),
        None => make(real, fill),
    })
}

/// Standard output and devices take what `fill` gives; what becomes a file is left to `file`.
fn write_to<F: FnOnce(&mut dyn Write) -> io::Result<()>>(
    path: &Path,
    fill: F,
    file: impl FnOnce(&Path, Option<&Metadata>, F) -> Result<(), Cause>,
) -> Result<(), OutputError> {
    let written = place(path).and_then(|place| match place {
        Place::Standard => to_standard(fill),
        Place::Device => buffered(open_device(path)?, fill),
        Place::File(real, there) => file(&real, there.as_ref(), fill),
    });
    written.map_err(|cause| OutputError::at(path, cause))
}

/// The first of `a.session`, `a-2.session`, `a-3.session` … that nothing bears.
pub fn numbered(path: &Path) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let ending = path.extension().map(|e| format!(".{}", e.to_string_lossy())).unwrap_or_default();
    let mut name = path.to_owned();
    let mut turn = 1_u64;
    while name.symlink_metadata().is_ok() {
        turn += 1;
        name = path.with_file_name(format!("{stem}-{turn}{ending}"));
    }
    name
}

fn to_standard(fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Cause> {
    match buffered(io::stdout().lock(), fill) {
        // Whoever read it has seen enough.
        Err(Cause::System(e)) if e.kind() == ErrorKind::BrokenPipe => Ok(()),
        other => other,
    }
}

fn buffered(
    out: impl Write,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), Cause> {
    let mut out = BufWriter::with_capacity(1 << 16, out);
    fill(&mut out).and_then(|()| out.flush())?;
    // What could not be written has been told; it is not tried once more.
    drop(out.into_parts());
    Ok(())
}

/// Opens what is no regular file, without waiting for somebody at the other end of a pipe.
#[cfg(unix)]
pub(super) fn open_device(path: &Path) -> io::Result<File> {
    use std::os::unix::fs::OpenOptionsExt;

    use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};

    let flags = (OFlags::NONBLOCK | OFlags::NOCTTY).bits();
    let opened = OpenOptions::new().write(true).custom_flags(flags.cast_signed()).open(path);
    let file = opened.map_err(|e| match rustix::io::Errno::from_io_error(&e) {
        Some(rustix::io::Errno::NXIO) => io::Error::other("nobody reads at its other end"),
        _ => e,
    })?;
    let flags = fcntl_getfl(&file)?;
    fcntl_setfl(&file, flags - OFlags::NONBLOCK)?;
    Ok(file)
}

#[cfg(not(unix))]
pub(super) fn open_device(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).open(path)
}

fn filled(
    real: &Path,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<tempfile::NamedTempFile, Cause> {
    let mut builder = tempfile::Builder::new();
    ordinary(&mut builder);
    let mut file = builder.tempfile_in(folder_of(real)).map_err(without_its_name)?;
    buffered(file.as_file_mut(), fill)?;
    Ok(file)
}

/// The system's own words: the name of a temporary file says nothing to anybody.
fn without_its_name(error: io::Error) -> io::Error {
    let inner = error.get_ref().and_then(std::error::Error::source);
    let code = inner.and_then(|e| e.downcast_ref::<io::Error>()).and_then(io::Error::raw_os_error);
    code.map_or(error, io::Error::from_raw_os_error)
}

/// Temporary files are private; an output gets what the user's mask leaves of a new file's permissions.
#[cfg(unix)]
fn ordinary(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(std::fs::Permissions::from_mode(0o666));
}

#[cfg(not(unix))]
fn ordinary(_builder: &mut tempfile::Builder<'_, '_>) {}

/// A new file, whole or not at all.
fn make(real: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Cause> {
    let file = filled(real, fill)?;
    file.as_file().sync_all()?;
    file.persist_noclobber(real).map_err(|e| match e.error.kind() {
        ErrorKind::AlreadyExists => Cause::There,
        _ => Cause::System(e.error),
    })?;
    Ok(())
}

fn replace(
    real: &Path,
    there: Option<&Metadata>,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), Cause> {
    let file = filled(real, fill)?;
    if let Some(there) = there {
        keep_owner(file.as_file(), there);
        file.as_file().set_permissions(there.permissions())?;
    }
    file.as_file().sync_all()?;
    file.persist(real).map_err(|e| e.error)?;
    Ok(())
}

/// Only the superuser can give files away; for anybody else the new file is their own.
#[cfg(unix)]
fn keep_owner(file: &File, there: &Metadata) {
    use std::os::unix::fs::MetadataExt;
    let (uid, gid) = (there.uid(), there.gid());
    let owner = (rustix::fs::Uid::from_raw(uid), rustix::fs::Gid::from_raw(gid));
    // Refused where it is not allowed, and the file is written all the same.
    let _ = rustix::fs::fchown(file, Some(owner.0), Some(owner.1));
}

#[cfg(not(unix))]
fn keep_owner(_file: &File, _there: &Metadata) {}

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
            Err(io::Error::other("the disk is gone"))
        });
        assert!(broken.is_err());
        assert_eq!(std::fs::read(&path).expect("read"), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn a_missing_folder_says_what_to_do() {
        let words = write_whole(Path::new("/no/such/folder/a.h"), b"").expect_err("refused");
        assert!(words.to_string().contains("make the folder first"), "{words}");
        assert!(may_write(Path::new("/no/such/folder/a.h")).is_err());
    }

    #[test]
    fn a_recording_is_never_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.session");
        write_new(&path, |out| out.write_all(b"trimbench-session 1\n")).expect("made");
        for refused in [
            write_new(&path, |out| out.write_all(b"x")),
            write_whole(&path, b"x"),
            may_write(&path),
        ] {
            let words = refused.expect_err("refused").to_string();
            assert!(words.contains("recording"), "{words}");
        }
        assert_eq!(std::fs::read(&path).expect("read"), b"trimbench-session 1\n");
        assert_eq!(numbered(&path), folder.path().join("a-2.session"));
    }

    #[cfg(unix)]
    #[test]
    fn links_are_followed_and_permissions_kept() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().expect("a folder");
        let real = folder.path().join("real.json");
        let link = folder.path().join("link.json");
        write_whole(&real, b"old").expect("written");
        std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o600)).expect("set");
        symlink(&real, &link).expect("linked");
        write_whole(&link, b"new").expect("written through");
        assert!(link.symlink_metadata().expect("there").is_symlink());
        assert_eq!(std::fs::read(&real).expect("read"), b"new");
        assert_eq!(real.metadata().expect("there").permissions().mode() & 0o777, 0o600);
        std::fs::remove_file(&real).expect("gone");
        let words = write_whole(&link, b"x").expect_err("a link to nothing").to_string();
        assert!(words.contains("name the file itself"), "{words}");
        std::fs::write(&real, "kept").expect("written");
        std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o444)).expect("set");
        let words = write_whole(&real, b"x").expect_err("protected").to_string();
        assert!(words.contains("write-protected"), "{words}");
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_to_and_stays() {
        use std::os::unix::fs::FileTypeExt;
        write_whole(Path::new("/dev/null"), b"x").expect("written");
        let kind = Path::new("/dev/null").metadata().expect("there").file_type();
        assert!(kind.is_char_device());
    }
}
