//! The files that a line of words names: what is read, what is written; looked at before the work.
use std::path::Path;

use super::Failure;
use crate::desk::output::is_standard;
use crate::desk::targets;

/// The files of one line, each with the word before it.
#[derive(Default)]
pub(super) struct Names<'a> {
    read: Vec<targets::Named<'a>>,
    written: Vec<targets::Named<'a>>,
}

impl<'a> Names<'a> {
    /// A file that is read.
    pub(super) fn reads(mut self, word: &'a str, path: Option<&'a Path>) -> Names<'a> {
        self.read.extend(path.map(|path| (word, path)));
        self
    }

    /// A file that is written.
    pub(super) fn writes(mut self, word: &'a str, path: Option<&'a Path>) -> Names<'a> {
        self.written.extend(path.map(|path| (word, path)));
        self
    }

    /// No output is an input or another output, and each can be replaced; true when one of them is
    /// standard output, where nothing else may then be said.
    pub(super) fn check(&self) -> Result<bool, Failure> {
        targets::check(&self.read, &self.written)?;
        Ok(self.on_standard())
    }

    /// The same for a recording, which replaces nothing: [`crate::desk`] looks when it makes it.
    pub(super) fn check_apart(&self) -> Result<bool, Failure> {
        targets::apart(&self.read, &self.written)?;
        Ok(self.on_standard())
    }

    fn on_standard(&self) -> bool {
        self.written.iter().any(|(_, path)| is_standard(path))
    }
}
