//! The recorder thread: the one owner of a link. Reads, frames, appends to disk, hands on chunks.
//!
//! The thread never waits for whoever draws. Chunks go through a bounded channel; while that is
//! full they wait merged in the thread, and past [`BACKLOG_ROWS`] rows they are dropped from memory
//! (never from disk) and [`Counters::behind`] tells the reader to open the file instead.
use std::collections::VecDeque;
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Sender, TrySendError, bounded, unbounded};

use crate::link::{Link, LinkError};
use crate::rig::{HostUs, Mark, Rig, Word};
use crate::session::file::Writer;
use crate::session::{Chunk, Intake};
use crate::wire::{Dialect, RateWatch};

use super::comeback::{Attempt, Comeback, Loss};
use super::counters::{Counters, LinkState};
use super::keep_alive::KeepAlive;

/// A session file being written.
pub type DiskWriter = Writer<Box<dyn Write + Send>>;

/// Rows that may wait in the thread for a reader who does not drain.
pub const BACKLOG_ROWS: usize = 1 << 20;

/// Longest wait for bytes in one read.
const READ_WAIT: Duration = Duration::from_millis(20);
/// How often chunks are handed on at most.
const HAND_ON: Duration = Duration::from_millis(16);

/// What the thread hands on: a piece of the stream, and the marks set behind it.
#[derive(Clone, Debug, Default)]
pub struct Delivery {
    /// The piece.
    pub chunk: Chunk,
    /// Marks set after it.
    pub marks: Vec<Mark<HostUs>>,
}

/// What the recorder can be told.
enum Command {
    Send(Vec<u8>),
    Mark(Mark),
    Record(Option<DiskWriter>),
    Dialect(Dialect),
    Rig(Box<Rig>),
    HandOver,
}

/// What a recorder needs to begin.
pub struct Plan {
    /// The link as opened the first time.
    pub link: Box<dyn Link>,
    /// How to open it again; `None` = once it is gone the recording ends.
    pub reopen: Option<Comeback>,
    /// Frames the bytes.
    pub intake: Intake,
    /// The session file, where one is kept.
    pub file: Option<DiskWriter>,
    /// Wakes whoever draws; called at most every 16 ms.
    pub wake: Box<dyn Fn() + Send>,
}

/// A running recorder. Dropping it stops the thread, which closes the file cleanly.
pub struct Recorder {
    commands: Sender<Command>,
    deliveries: Receiver<Delivery>,
    news: Receiver<Mark<HostUs>>,
    counters: Arc<Counters>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Recorder {
    /// Starts the thread.
    ///
    /// # Errors
    /// The operating system refused a thread.
    pub fn start(plan: Plan) -> std::io::Result<Recorder> {
        let (commands, inbox) = unbounded();
        let (outbox, deliveries) = bounded(256);
        let (tell, news) = unbounded();
        let counters = Arc::new(Counters::default());
        let stop = Arc::new(AtomicBool::new(false));
        let mut work = Work {
            link: Some(plan.link),
            reopen: plan.reopen,
            intake: plan.intake,
            file: plan.file,
            wake: plan.wake,
            inbox,
            outbox,
            tell,
            counters: Arc::clone(&counters),
            stop: Arc::clone(&stop),
            rate: RateWatch::default(),
            framed: false,
            keep_alive: KeepAlive::new(),
            marks: Vec::new(),
            pending: VecDeque::new(),
            pending_rows: 0,
            begun: Instant::now(),
            handed_on: Instant::now(),
        };
        let thread =
            std::thread::Builder::new().name("recorder".to_owned()).spawn(move || work.run())?;
        Ok(Recorder { commands, deliveries, news, counters, stop, thread: Some(thread) })
    }

    /// The figures that the thread keeps.
    pub fn counters(&self) -> &Counters {
        &self.counters
    }

    /// What came since the last call, in order. Never waits.
    pub fn drain(&self) -> impl Iterator<Item = Delivery> + '_ {
        self.deliveries.try_iter()
    }

    /// What the link has done since the last call: the marks that it left. Never waits.
    pub fn news(&self) -> impl Iterator<Item = Mark<HostUs>> + '_ {
        self.news.try_iter()
    }

    /// Queues bytes for the board; they are logged as sent.
    pub fn send(&self, bytes: Vec<u8>) {
        // A thread that has ended takes no more commands; its state says so.
        let _ = self.commands.send(Command::Send(bytes));
    }

    /// Queues a mark at the present place of the stream.
    pub fn mark(&self, mark: Mark) {
        // As for `send`.
        let _ = self.commands.send(Command::Mark(mark));
    }

    /// From here on writes into this file, or into none; the one before is closed cleanly.
    pub fn record(&self, file: Option<DiskWriter>) {
        // As for `send`.
        let _ = self.commands.send(Command::Record(file));
    }

    /// Writes the meaning of the fields as a person has set it into the session file.
    pub fn dialect(&self, dialect: Dialect) {
        // As for `send`.
        let _ = self.commands.send(Command::Dialect(dialect));
    }

    /// Writes the parts list as a person has set it into the session file.
    pub fn rig(&self, rig: Rig) {
        // As for `send`.
        let _ = self.commands.send(Command::Rig(Box::new(rig)));
    }

    /// Closes the port for another program, until its board is back; asked again, takes it back at
    /// once. Nothing for what is no port.
    pub fn hand_over(&self) {
        // As for `send`.
        let _ = self.commands.send(Command::HandOver);
    }

    /// Like [`Recorder::stop`], but waits so long at most: a pipe that nobody reads may hold the thread
    /// for ever. Gives false when it was left behind.
    pub fn stop_within(&mut self, most: Duration) -> bool {
        self.stop.store(true, Ordering::Relaxed);
        let begun = Instant::now();
        while self.thread.as_ref().is_some_and(|thread| !thread.is_finished()) {
            if begun.elapsed() >= most {
                self.thread = None;
                return false;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        self.stop();
        true
    }

    /// Stops the thread and closes the file; what was still on its way can be drained.
    pub fn stop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A panic has been reported on its own thread.
            let _ = thread.join();
        }
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The thread's own state.
struct Work {
    link: Option<Box<dyn Link>>,
    reopen: Option<Comeback>,
    intake: Intake,
    file: Option<DiskWriter>,
    wake: Box<dyn Fn() + Send>,
    inbox: Receiver<Command>,
    outbox: Sender<Delivery>,
    tell: Sender<Mark<HostUs>>,
    counters: Arc<Counters>,
    stop: Arc<AtomicBool>,
    rate: RateWatch,
    /// The file has been told the dialect.
    framed: bool,
    keep_alive: KeepAlive,
    marks: Vec<Mark<HostUs>>,
    pending: VecDeque<Delivery>,
    pending_rows: usize,
    begun: Instant,
    handed_on: Instant,
}

impl Work {
    fn run(&mut self) {
        let mut buffer = vec![0_u8; 1 << 16];
        while !self.stop.load(Ordering::Relaxed) {
            self.obey();
            match &mut self.link {
                Some(link) => match link.read(&mut buffer, READ_WAIT) {
                    Ok(n) => {
                        let mark = link.take_mark();
                        self.take(&buffer[..n]);
                        if let Some(mark) = mark {
                            self.note_played(mark);
                        }
                    }
                    Err(LinkError::End) => break,
                    Err(broken @ LinkError::Broken { lines }) => self.skip(lines, &broken),
                    Err(_gone) => self.lose_link(Loss::Vanished),
                },
                None if self.reopen.is_none() => break,
                None => self.try_again(),
            }
            if self.handed_on.elapsed() >= HAND_ON {
                self.hand_on();
            }
        }
        self.obey();
        let stop = self.keep_alive.stop();
        self.send(self.now_us(), &stop);
        self.intake.finish();
        self.counters.set(LinkState::Ended);
        self.hand_on();
        self.close_file();
        (self.wake)();
    }

    /// The host's time since the beginning, or the recording's own.
    fn now_us(&self) -> u64 {
        let stamp = self.link.as_ref().and_then(|link| link.stamp_us());
        stamp.unwrap_or_else(|| self.begun.elapsed().as_micros() as u64)
    }

    /// Nothing is known of what stood at a damaged place.
    fn skip(&mut self, rows: u64, why: &LinkError) {
        self.intake.broken(rows);
        self.note(Mark::new(Word::Damaged, why.to_string()).set_at(HostUs(self.now_us())));
    }

    fn take(&mut self, bytes: &[u8]) {
        let host_us = self.now_us();
        if !bytes.is_empty() {
            self.counters.bytes.fetch_add(bytes.len() as u64, Ordering::Relaxed);
            self.judge_rate(bytes);
            self.intake.push(host_us, bytes);
            self.tell_dialect();
        }
        self.store(|file| file.append(host_us, bytes).and_then(|()| file.tick(host_us)));
    }

    fn tell_dialect(&mut self) {
        if let (false, Some(dialect)) = (self.framed, self.intake.dialect()) {
            self.framed = true;
            if let Some(file) = &mut self.file {
                file.framed_by(dialect);
            }
        }
    }

    fn judge_rate(&mut self, bytes: &[u8]) {
        if let Some(odd) = self.rate.take(bytes) {
            self.counters.baud_suspect.store(odd, Ordering::Relaxed);
        }
    }

    fn obey(&mut self) {
        while let Ok(command) = self.inbox.try_recv() {
            let host_us = self.now_us();
            match command {
                Command::Send(bytes) => {
                    self.keep_alive.sent(&bytes);
                    self.send(host_us, &bytes);
                }
                Command::Mark(mark) => self.note(mark.set_at(HostUs(host_us))),
                Command::Record(file) => {
                    self.close_file();
                    self.counters.disk_failed.store(false, Ordering::Relaxed);
                    self.file = file;
                    self.framed = false;
                    self.tell_dialect();
                }
                Command::Dialect(dialect) => {
                    self.store(|file| file.dialect(host_us, &dialect).map(drop));
                }
                Command::HandOver => self.hand_over(),
                Command::Rig(rig) => self.store(|file| file.rig(host_us, &rig).map(drop)),
            }
        }
        if self.link.is_some() {
            let due = self.keep_alive.due();
            self.send(self.now_us(), &due);
        }
    }

    fn send(&mut self, host_us: u64, bytes: &[u8]) {
        if bytes.is_empty() {
            return;
        }
        let sent = self.link.as_mut().map(|link| link.write(bytes));
        if matches!(sent, Some(Ok(()))) {
            self.store(|file| file.sent(host_us, bytes));
        } else {
            self.note(Mark::new(Word::Unsent, "the link was down").set_at(HostUs(host_us)));
        }
    }

    /// A mark goes to disk and, behind what has been framed so far, to the reader.
    fn note(&mut self, mark: Mark<HostUs>) {
        self.store(|file| file.mark(&mark).map(drop));
        self.marks.push(mark);
    }

    fn store(&mut self, write: impl FnOnce(&mut DiskWriter) -> std::io::Result<()>) {
        if let Some(file) = &mut self.file
            && write(file).is_err()
        {
            // Reading goes on; whoever draws shows the failure and keeps what is in memory.
            self.counters.disk_failed.store(true, Ordering::Relaxed);
            self.file = None;
        }
    }

    fn close_file(&mut self) {
        if let Some(file) = self.file.take()
            && file.finish().is_err()
        {
            self.counters.disk_failed.store(true, Ordering::Relaxed);
        }
    }

    fn hand_over(&mut self) {
        match (&self.link, &mut self.reopen) {
            (_, None) => {}
            (Some(_), Some(_)) => {
                let stop = self.keep_alive.stop();
                self.send(self.now_us(), &stop);
                self.lose_link(Loss::HandedOver);
            }
            (None, Some(reopen)) => reopen.take_back(),
        }
    }

    fn lose_link(&mut self, loss: Loss) {
        let name = self.link.take().map_or(String::new(), |link| link.name().to_owned());
        let (word, state) = match loss {
            Loss::Vanished => (Word::Gone, LinkState::Waiting),
            Loss::HandedOver => (Word::HandedOver, LinkState::HandedOver),
        };
        self.note_now(word, name);
        self.counters.set(state);
        if let Some(reopen) = &mut self.reopen {
            reopen.lost(self.begun.elapsed(), loss);
        }
    }

    fn try_again(&mut self) {
        std::thread::sleep(READ_WAIT);
        let now_us = self.now_us();
        self.store(|file| file.tick(now_us));
        let Some(reopen) = &mut self.reopen else { return };
        match reopen.attempt(self.begun.elapsed()) {
            Attempt::Nothing => {}
            Attempt::Absent(why) => self.note_now(Word::Absent, why),
            Attempt::Back(link, words) => {
                self.link = Some(link);
                self.intake.reopened();
                self.note_now(Word::Back, words);
                self.counters.reopened.fetch_add(1, Ordering::Relaxed);
                self.counters.set(LinkState::Live);
            }
        }
    }

    fn note_now(&mut self, word: Word, text: String) {
        let mark = Mark::new(word, text).set_at(HostUs(self.now_us()));
        // Whoever would read it may have gone.
        let _ = self.tell.send(mark.clone());
        self.note(mark);
    }

    /// A mark of the recording that is played; where its link came back, a line begins anew.
    fn note_played(&mut self, mark: Mark<HostUs>) {
        if mark.word == Word::Back {
            self.intake.reopened();
        }
        self.note(mark);
    }

    fn hand_on(&mut self) {
        self.handed_on = Instant::now();
        let chunk = self.intake.take();
        let marks = std::mem::take(&mut self.marks);
        self.counters.frames.fetch_add(chunk.rows() as u64, Ordering::Relaxed);
        self.counters.refused.fetch_add(chunk.refusals.total(), Ordering::Relaxed);
        self.counters.before_first.fetch_add(chunk.refusals.before_first(), Ordering::Relaxed);
        if !chunk.is_empty() || !marks.is_empty() {
            self.pending_rows += chunk.rows();
            self.pending.push_back(Delivery { chunk, marks });
        }
        if self.pending.is_empty() {
            return;
        }
        while let Some(next) = self.pending.pop_front() {
            let rows = next.chunk.rows();
            match self.outbox.try_send(next) {
                Ok(()) => self.pending_rows -= rows,
                Err(TrySendError::Full(next)) => {
                    self.pending.push_front(next);
                    break;
                }
                Err(TrySendError::Disconnected(_)) => break,
            }
        }
        if self.pending_rows > BACKLOG_ROWS {
            self.pending.clear();
            self.pending_rows = 0;
            self.counters.behind.store(true, Ordering::Relaxed);
        }
        self.counters.waiting.store(self.pending_rows as u64, Ordering::Relaxed);
        (self.wake)();
    }
}
