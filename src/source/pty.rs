//! A pseudo-terminal that a board is served on, so that any serial program can open it.
use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

use rustix::event::{PollFd, PollFlags, poll};
use rustix::fs::OFlags;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use crate::link::LinkError;

/// The board's end of a pseudo-terminal.
///
/// Like a real board it never waits for a listener: bytes that nobody takes are dropped and
/// counted.
pub struct ServedPty {
    master: File,
    device: PathBuf,
    link: Option<PathBuf>,
    dropped: u64,
}

impl ServedPty {
    /// Makes a pseudo-terminal in raw mode, with a symbolic link to it where one is asked for.
    ///
    /// An existing symbolic link is replaced; any other file is left alone.
    ///
    /// # Errors
    /// [`LinkError::Refused`] when the system gives no pseudo-terminal or the link cannot be made.
    pub fn open(link: Option<&Path>) -> Result<ServedPty, LinkError> {
        let (master, device) = raw_pair().map_err(|cause| {
            LinkError::Refused(format!("no pseudo-terminal: {cause}; use --out FILE instead"))
        })?;
        if let Some(link) = link {
            make_link(link, &device)?;
        }
        Ok(ServedPty { master, device, link: link.map(Path::to_owned), dropped: 0 })
    }

    /// The path that a serial program opens: the link where one was asked for.
    pub fn path(&self) -> &Path {
        self.link.as_deref().unwrap_or(&self.device)
    }

    /// Bytes that nobody took.
    pub fn dropped(&self) -> u64 {
        self.dropped
    }

    /// Sends what a listener takes and drops the rest.
    ///
    /// # Errors
    /// [`LinkError::Gone`] when the pseudo-terminal itself fails.
    pub fn send(&mut self, mut bytes: &[u8]) -> Result<(), LinkError> {
        while !bytes.is_empty() {
            if !self.somebody_listens() {
                break;
            }
            match self.master.write(bytes) {
                Ok(n) => bytes = &bytes[n..],
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) if e.kind() == ErrorKind::WouldBlock => break,
                Err(_closed) => return Err(self.gone()),
            }
        }
        self.dropped += bytes.len() as u64;
        Ok(())
    }

    /// What the listener sent, if anything.
    pub fn receive(&mut self, into: &mut Vec<u8>) {
        let mut buffer = [0_u8; 512];
        while let Ok(n @ 1..) = self.master.read(&mut buffer) {
            into.extend_from_slice(&buffer[..n]);
        }
    }

    fn somebody_listens(&self) -> bool {
        let mut fds = [PollFd::new(&self.master, PollFlags::OUT)];
        let now = rustix::time::Timespec { tv_sec: 0, tv_nsec: 0 };
        poll(&mut fds, Some(&now)).is_ok() && !fds[0].revents().contains(PollFlags::HUP)
    }

    fn gone(&self) -> LinkError {
        LinkError::Gone { name: self.path().display().to_string() }
    }
}

impl Drop for ServedPty {
    fn drop(&mut self) {
        if let Some(link) = &self.link {
            // Somebody may have removed it already; then there is nothing left to do.
            let _ = std::fs::remove_file(link);
        }
    }
}

/// A master that does not block, and the path of its raw slave.
fn raw_pair() -> rustix::io::Result<(File, PathBuf)> {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
    grantpt(&master)?;
    unlockpt(&master)?;
    let name = ptsname(&master, Vec::new())?;
    let device = PathBuf::from(name.to_string_lossy().into_owned());
    let slave =
        rustix::fs::open(&device, OFlags::RDWR | OFlags::NOCTTY, rustix::fs::Mode::empty())?;
    let mut settings = tcgetattr(&slave)?;
    settings.make_raw();
    tcsetattr(&slave, OptionalActions::Now, &settings)?;
    rustix::io::ioctl_fionbio(&master, true)?;
    Ok((File::from(master), device))
}

fn make_link(link: &Path, device: &Path) -> Result<(), LinkError> {
    let refuse = |why: String| LinkError::Refused(format!("{}: {why}", link.display()));
    match std::fs::symlink_metadata(link) {
        Ok(meta) if meta.file_type().is_symlink() => {
            std::fs::remove_file(link).map_err(|e| refuse(format!("cannot be replaced ({e})")))?;
        }
        Ok(_) => return Err(refuse("exists and is no link; choose another name".to_owned())),
        Err(_absent) => {}
    }
    std::os::unix::fs::symlink(device, link)
        .map_err(|e| refuse(format!("the link cannot be made ({e}); choose another place")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drops_bytes_while_nobody_listens_and_serves_whoever_comes() {
        let folder = tempfile::tempdir().expect("a folder");
        let link = folder.path().join("board");
        let mut pty = ServedPty::open(Some(&link)).expect("a pseudo-terminal");
        pty.send(b"into the void").expect("dropped");
        assert_eq!(pty.dropped(), 13);

        let mut reader = File::options().read(true).write(true).open(&link).expect("opened");
        pty.send(b"12,34\n").expect("sent");
        let mut got = [0_u8; 6];
        reader.read_exact(&mut got).expect("read");
        assert_eq!(&got, b"12,34\n");

        reader.write_all(b"hello").expect("written");
        let mut back = Vec::new();
        pty.receive(&mut back);
        assert_eq!(back, b"hello");
        drop(pty);
        assert!(std::fs::symlink_metadata(&link).is_err(), "the link is taken away");
    }

    #[test]
    fn an_ordinary_file_is_never_replaced_by_a_link() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("precious");
        std::fs::write(&path, b"data").expect("written");
        assert!(ServedPty::open(Some(&path)).is_err());
        assert_eq!(std::fs::read(&path).expect("read"), b"data");
    }
}
