//! What a recording without a window goes into: a file, its last stretch in parts, or a pipe or device.
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::session::About;
use crate::session::file::{Writer, write_last};
use crate::source::{DiskWriter, Recorder};
use crate::wire::Dialect;

use super::capture::CaptureSays;
use super::connect::ConnectError;
use super::output::{self, Cause, Place};
use super::parts::{Bounds, Parts};
use super::recording::{Recording, create, refused};

/// Where what comes is kept.
pub(super) struct Kept {
    out: PathBuf,
    about: About,
    dialect: Option<Dialect>,
    /// The file under way; none for a pipe or a device.
    now: Option<Recording>,
    stretch: Option<Stretch>,
}

/// Only the last stretch is wanted.
struct Stretch {
    span: Duration,
    parts: Parts,
    turn: u32,
}

impl Kept {
    /// Opens what `out` leads to; with a `span` the parts beside it that the stretch is made of.
    pub(super) fn begin(
        out: &Path,
        span: Option<Duration>,
        about: About,
        dialect: Option<Dialect>,
    ) -> Result<(DiskWriter, Kept), ConnectError> {
        let place = output::place(out).map_err(|cause| refused(out, cause))?;
        let mut kept = Kept { out: out.to_owned(), about, dialect, now: None, stretch: None };
        let plain: Box<dyn Write + Send> = match (place, span) {
            (Place::File(_, None), Some(span)) => {
                let parts = Parts::new(Bounds::last(span));
                kept.stretch = Some(Stretch { span, parts, turn: 1 });
                let file = kept.next_file()?;
                return Ok((file, kept));
            }
            (Place::File(_, Some(_)), Some(_)) => return Err(refused(out, Cause::There)),
            (Place::File(..), None) => {
                let file = kept.next_file()?;
                return Ok((file, kept));
            }
            (Place::Standard | Place::Device, Some(_)) => {
                let text = format!("{}: --keep needs a file to write; name one", out.display());
                return Err(ConnectError::Refused(text));
            }
            (Place::Standard, None) => Box::new(BufWriter::new(std::io::stdout())),
            (Place::Device, None) => {
                let device = output::open_device(out).map_err(|e| refused(out, e))?;
                Box::new(BufWriter::new(device))
            }
        };
        let writer = Writer::new(plain, &kept.about, kept.dialect.as_ref());
        Ok((writer.map_err(|e| refused(out, e))?, kept))
    }

    fn next_file(&mut self) -> Result<DiskWriter, ConnectError> {
        let path = match &self.stretch {
            None => self.out.clone(),
            Some(stretch) => {
                let name = self.out.file_name().unwrap_or_default().to_string_lossy();
                self.out.with_file_name(format!("{name}.part-{}", stretch.turn))
            }
        };
        let (file, now) = create(&path, &self.about, self.dialect.as_ref())?;
        self.now = Some(now);
        Ok(file)
    }

    /// Says what is to be said of the file, and goes on in a new part when it is time to.
    pub(super) fn look(&mut self, recorder: &Recorder, report: &mut dyn FnMut(CaptureSays<'_>)) {
        self.news(report);
        let Some(now) = &self.now else { return };
        let Some(stretch) = self.stretch.as_mut().filter(|s| s.parts.is_full(now)) else { return };
        stretch.parts.push(now);
        stretch.turn += 1;
        match self.next_file() {
            Ok(file) => recorder.record(Some(file)),
            // What has begun goes on, and is longer than it should be.
            Err(why) => {
                report(CaptureSays::Trouble(&format!("{why}; it goes on in the part before")));
                self.stretch.iter_mut().for_each(|stretch| stretch.parts.take_back());
            }
        }
        if let (Some(stretch), Some(now)) = (&mut self.stretch, &self.now) {
            stretch.parts.let_go(now);
        }
    }

    /// Says what hinders the file.
    pub(super) fn news(&self, report: &mut dyn FnMut(CaptureSays<'_>)) {
        let news = self.now.iter().flat_map(|now| now.health().news());
        news.for_each(|words| report(CaptureSays::Trouble(&words)));
    }

    /// Bytes that came and are in no file.
    pub(super) fn missing(&self) -> u64 {
        self.now.as_ref().map_or(0, |now| now.health().missing())
    }

    /// Everything is written: makes one file of the parts.
    ///
    /// # Errors
    /// It cannot be written; the parts are then still there.
    pub(super) fn end(&self) -> Result<(), ConnectError> {
        let (Some(stretch), Some(now)) = (&self.stretch, &self.now) else { return Ok(()) };
        let mut parts: Vec<PathBuf> = stretch.parts.paths().map(Path::to_owned).collect();
        parts.push(now.path().to_owned());
        let fill = |file: &mut dyn Write| {
            write_last(&parts, stretch.span, &self.about, self.dialect.as_ref(), file).map(drop)
        };
        output::write_new(&self.out, fill).map_err(|e| {
            let text = format!("{e}; what came stands in {} and before it", now.path().display());
            ConnectError::Refused(text)
        })?;
        for part in parts {
            // Left over where it cannot be: the recording is whole without it.
            let _ = std::fs::remove_file(part);
        }
        Ok(())
    }
}
