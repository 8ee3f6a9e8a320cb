//! A recording on a disk that may fill up, or under a file that is deleted, moved or cut.
//!
//! What comes is held in memory until the disk takes it: at once while all is well, and tried once a
//! second while it is not. Every checkpoint asks the disk to make it durable, on a thread of its own.
use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Sender, bounded, unbounded};

use super::output::numbered;
use super::recovered::{put_sign, take_sign};

/// Bytes that wait for a disk that takes none, at most: a quarter of an hour at 64 kB a second.
pub const HELD_MOST: usize = 64 << 20;
/// Bytes that are collected for one write.
const GATHER: usize = 8 << 10;
/// Bytes wait so long at most before they are written: what a killed process loses.
const GATHER_FOR: Duration = Duration::from_millis(250);
/// How often the disk is asked to keep what was written: what a cut of the power loses, and as long as the
/// disk takes.
const SYNC_EVERY: Duration = Duration::from_millis(500);
/// How often the file is looked for, and a disk that failed is tried again.
const LOOK: Duration = Duration::from_millis(900);
/// Bytes from the beginning that are kept, to give a file that was cut its head again.
const HEAD_MOST: usize = 64 << 10;

/// How a recording fares, for whoever looks.
#[derive(Debug)]
pub struct Health {
    /// Bytes that the file holds.
    pub written: AtomicU64,
    /// Bytes that wait in memory.
    pub held: AtomicU64,
    /// Bytes that neither the file nor the memory holds any more.
    pub lost: AtomicU64,
    says: Receiver<String>,
}

impl Health {
    /// What is to be told since the last call: each trouble once, with what to do, and its end.
    pub fn news(&self) -> impl Iterator<Item = String> + '_ {
        self.says.try_iter()
    }

    /// Bytes that came and are not in the file.
    pub fn missing(&self) -> u64 {
        self.lost.load(Ordering::Relaxed) + self.held.load(Ordering::Relaxed)
    }
}

/// The writer below a recording. Never fails while the recording goes on.
pub struct Steady {
    /// The name it was begun under, whose sign stands beside it.
    begun: PathBuf,
    path: PathBuf,
    file: File,
    /// Where the next byte goes.
    at: u64,
    head: Vec<u8>,
    held: Vec<u8>,
    health: Arc<Health>,
    says: Sender<String>,
    /// The trouble that was told last, until it is over.
    trouble: Option<String>,
    moved: bool,
    looked: Instant,
    pushed: Instant,
    asked: Instant,
    sync: Option<Syncing>,
}

/// The thread that asks the disk to keep what was written.
struct Syncing {
    ask: Sender<()>,
    failed: Receiver<io::Error>,
}

impl Syncing {
    /// A file that cannot be synced apart is synced by nobody until its end.
    fn of(file: &File) -> Option<Syncing> {
        let file = file.try_clone().ok()?;
        let (ask, asked) = bounded::<()>(1);
        let (fail, failed) = unbounded();
        let work = move || {
            for () in asked {
                if let Err(e) = file.sync_data() {
                    // Nobody is left to be told.
                    let _ = fail.send(e);
                }
            }
        };
        std::thread::Builder::new().name("disk".to_owned()).spawn(work).ok()?;
        Some(Syncing { ask, failed })
    }
}

impl Steady {
    /// Makes a new file of this name.
    ///
    /// # Errors
    /// As the system; a file that is there already is an error too.
    pub fn create(path: &Path) -> io::Result<(Steady, Arc<Health>)> {
        let file = fresh(path)?;
        put_sign(path);
        let (says, told) = unbounded();
        let health = Arc::new(Health {
            written: AtomicU64::new(0),
            held: AtomicU64::new(0),
            lost: AtomicU64::new(0),
            says: told,
        });
        let steady = Steady {
            begun: path.to_owned(),
            path: path.to_owned(),
            sync: Syncing::of(&file),
            file,
            at: 0,
            head: Vec::new(),
            held: Vec::with_capacity(2 * GATHER),
            health: Arc::clone(&health),
            says,
            trouble: None,
            moved: false,
            looked: Instant::now(),
            pushed: Instant::now(),
            asked: Instant::now(),
        };
        Ok((steady, health))
    }

    /// Gives the file what is held, as far as the disk takes it.
    fn push(&mut self) -> io::Result<()> {
        let mut done = 0;
        let pushed = loop {
            match self.file.write(&self.held[done..]) {
                _ if done == self.held.len() => break Ok(()),
                Ok(0) => break Err(ErrorKind::WriteZero.into()),
                Ok(n) => {
                    done += n;
                    self.at += n as u64;
                }
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => break Err(e),
            }
        };
        self.held.drain(..done);
        self.health.written.store(self.at, Ordering::Relaxed);
        self.health.held.store(self.held.len() as u64, Ordering::Relaxed);
        pushed
    }

    /// Pushes; tells a trouble that begins, and one that is over.
    fn try_push(&mut self) {
        self.pushed = Instant::now();
        match self.push() {
            Ok(()) => {
                if self.trouble.take().is_some() {
                    let lost = self.health.lost.load(Ordering::Relaxed);
                    let words = match lost {
                        0 => "nothing was lost".to_owned(),
                        n => format!("{n} bytes were lost"),
                    };
                    self.say(&format!("is written again; {words}"));
                }
            }
            Err(e) => {
                let remedy = match e.kind() {
                    ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "free some space",
                    ErrorKind::ReadOnlyFilesystem => "make the disk writable again",
                    _ => "look at the disk and its plug",
                };
                let words = format!(
                    "cannot be written now ({e}) and goes on in memory, up to {} MB; {remedy}",
                    HELD_MOST >> 20
                );
                self.trouble(words);
            }
        }
    }

    fn trouble(&mut self, words: String) {
        if self.trouble.as_ref() != Some(&words) {
            self.say(&words);
            self.trouble = Some(words);
        }
    }

    fn say(&self, words: &str) {
        // Whoever asked for the recording may have gone.
        let _ = self.says.send(format!("{}: {words}", self.path.display()));
    }

    /// Looks whether the file is still what was written, and mends what can be.
    fn look(&mut self) {
        self.looked = Instant::now();
        let Ok(open) = self.file.metadata() else { return };
        let named = self.path.symlink_metadata().ok();
        if !named.is_some_and(|named| is_same(&named, &open)) {
            if links(&open) == 0 {
                return self.write_again();
            }
            if !self.moved {
                self.moved = true;
                self.say("was moved while it was written; it is written where it is now");
            }
        }
        if open.len() < self.at {
            self.take_up(open.len());
        }
    }

    /// The file was cut: its head is given again, and it goes on behind what is left.
    fn take_up(&mut self, left: u64) {
        let gone = self.at - left;
        self.at = left.max(self.head.len() as u64);
        let head = self.head.get(left as usize..).unwrap_or_default();
        let again = self
            .file
            .seek(SeekFrom::Start(left))
            .and_then(|_| self.file.write_all(head))
            .and_then(|()| self.file.seek(SeekFrom::Start(self.at)));
        let gone = gone - head.len() as u64;
        self.health.lost.fetch_add(gone, Ordering::Relaxed);
        let words =
            format!("was cut while it was written: {gone} bytes of it are lost; it goes on");
        self.say(&words);
        if let Err(e) = again {
            self.trouble(format!("cannot be written now ({e}) and goes on in memory"));
        }
    }

    /// The file was deleted: what it holds is copied into a new one of the same name.
    fn write_again(&mut self) {
        let name = numbered(&self.path);
        let copied = self.copy_to(&name);
        match copied {
            Ok(file) => {
                self.sync = Syncing::of(&file);
                self.file = file;
                self.say(&format!(
                    "was deleted while it was written; it is written again as {}",
                    name.display()
                ));
                self.path = name;
            }
            Err(e) => {
                let words = format!(
                    "was deleted while it was written and cannot be written again ({e}); \
                     make its folder again or free some space"
                );
                self.trouble(words);
            }
        }
    }

    fn copy_to(&mut self, name: &Path) -> io::Result<File> {
        let mut file = fresh(name)?;
        self.file.seek(SeekFrom::Start(0))?;
        let copied = io::copy(&mut (&mut self.file).take(self.at), &mut file);
        self.file.seek(SeekFrom::Start(self.at))?;
        match copied {
            Ok(n) if n == self.at => Ok(file),
            copied => {
                // The next try begins anew; what stands there is a part of what is still held open.
                let _ = std::fs::remove_file(name);
                copied.and(Err(ErrorKind::UnexpectedEof.into()))
            }
        }
    }

    fn ask_sync(&mut self) {
        self.asked = Instant::now();
        let Some(sync) = &self.sync else { return };
        // One that is still under way takes these bytes along or is asked again in a second.
        let _ = sync.ask.try_send(());
        if let Ok(e) = sync.failed.try_recv() {
            self.trouble(format!(
                "the disk does not say that it keeps what was written ({e}); look at it"
            ));
        }
    }
}

impl Write for Steady {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.head.len() < HEAD_MOST && self.at == 0 && self.held.len() == self.head.len() {
            let room = HEAD_MOST - self.head.len();
            self.head.extend_from_slice(&bytes[..bytes.len().min(room)]);
        }
        if self.held.len() + bytes.len() > HELD_MOST {
            self.health.lost.fetch_add(bytes.len() as u64, Ordering::Relaxed);
            self.trouble(format!(
                "{} MB wait in memory: what comes now is lost; free some space",
                HELD_MOST >> 20
            ));
            return Ok(bytes.len());
        }
        self.held.extend_from_slice(bytes);
        let late = self.pushed.elapsed() >= GATHER_FOR;
        if (late || self.held.len() >= GATHER) && self.trouble.is_none() {
            self.try_push();
        }
        if self.asked.elapsed() >= SYNC_EVERY {
            self.ask_sync();
        }
        self.health.held.store(self.held.len() as u64, Ordering::Relaxed);
        Ok(bytes.len())
    }

    /// At each checkpoint: to the disk, and the disk is asked to keep it.
    fn flush(&mut self) -> io::Result<()> {
        if self.looked.elapsed() >= LOOK {
            self.look();
            self.try_push();
        } else if self.trouble.is_none() {
            self.try_push();
        }
        self.ask_sync();
        Ok(())
    }
}

impl Drop for Steady {
    fn drop(&mut self) {
        self.look();
        self.try_push();
        if let Err(e) = self.file.sync_all() {
            self.say(&format!("the disk does not say that it keeps what was written ({e})"));
        }
        take_sign(&self.begun);
    }
}

fn fresh(path: &Path) -> io::Result<File> {
    let file = OpenOptions::new().read(true).write(true).create_new(true).open(path)?;
    // Where locks are not known there is none; the name is new, so nobody else has it.
    let _ = file.try_lock();
    Ok(file)
}

#[cfg(unix)]
fn is_same(a: &Metadata, b: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    (a.dev(), a.ino()) == (b.dev(), b.ino())
}

#[cfg(not(unix))]
fn is_same(_a: &Metadata, _b: &Metadata) -> bool {
    true
}

/// Names that a file has.
#[cfg(unix)]
fn links(meta: &Metadata) -> u64 {
    use std::os::unix::fs::MetadataExt;
    meta.nlink()
}

#[cfg(not(unix))]
fn links(_meta: &Metadata) -> u64 {
    1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait() {
        std::thread::sleep(LOOK + Duration::from_millis(50));
    }

    fn begun() -> (tempfile::TempDir, PathBuf, Steady, Arc<Health>) {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.session");
        let (mut steady, health) = Steady::create(&path).expect("made");
        steady.write_all(b"head\n").expect("taken");
        steady.flush().expect("flushed");
        (folder, path, steady, health)
    }

    #[test]
    fn nothing_that_is_there_is_opened() {
        let (_folder, path, ..) = begun();
        let refused = Steady::create(&path).err().expect("there already");
        assert_eq!(refused.kind(), ErrorKind::AlreadyExists);
    }

    #[cfg(unix)]
    #[test]
    fn a_deleted_file_is_written_again_with_all_of_it() {
        let (_folder, path, mut steady, health) = begun();
        std::fs::remove_file(&path).expect("deleted");
        steady.write_all(b"one\n").expect("taken");
        wait();
        steady.flush().expect("flushed");
        assert_eq!(std::fs::read(&path).expect("there again"), b"head\none\n");
        assert!(health.news().any(|words| words.contains("written again as")));
        assert_eq!(health.missing(), 0);
    }

    #[cfg(unix)]
    #[test]
    fn a_moved_file_is_written_where_it_is() {
        let (folder, path, mut steady, health) = begun();
        let other = folder.path().join("b.session");
        std::fs::rename(&path, &other).expect("moved");
        wait();
        steady.write_all(b"one\n").expect("taken");
        steady.flush().expect("flushed");
        assert_eq!(std::fs::read(&other).expect("there"), b"head\none\n");
        assert_eq!(health.news().filter(|words| words.contains("moved")).count(), 1);
    }

    #[test]
    fn a_cut_file_gets_its_head_again_and_says_what_is_lost() {
        let (_folder, path, mut steady, health) = begun();
        steady.write_all(b"one\ntwo\n").expect("taken");
        steady.flush().expect("flushed");
        OpenOptions::new().write(true).open(&path).expect("opened").set_len(2).expect("cut");
        wait();
        steady.flush().expect("flushed");
        steady.write_all(b"three\n").expect("taken");
        drop(steady);
        let text = std::fs::read_to_string(&path).expect("there");
        assert!(text.starts_with("head\n") && text.ends_with("three\n"), "{text}");
        assert!(health.missing() > 0);
    }

    #[test]
    fn what_no_memory_holds_is_counted() {
        let (_folder, _path, mut steady, health) = begun();
        steady.trouble = Some("the disk is full".to_owned());
        let much = vec![b'x'; HELD_MOST];
        steady.write_all(&much).expect("held");
        steady.write_all(b"too much").expect("counted");
        assert_eq!(health.lost.load(Ordering::Relaxed), 8);
        assert_eq!(health.held.load(Ordering::Relaxed), HELD_MOST as u64);
    }
}
