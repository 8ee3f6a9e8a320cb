//! Work off the caller's thread with progress and a stop: `Job`, `Watch`, `Cancelled`.
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread::JoinHandle;

/// The work was stopped by its owner; there is no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cancelled;

#[derive(Default)]
struct Shared {
    stop: AtomicBool,
    per_mille: AtomicU32,
}

/// Handed down into long work: reports progress and says when to stop.
#[derive(Clone, Default)]
pub struct Watch {
    shared: Arc<Shared>,
}

impl Watch {
    /// A watch that nobody looks at and that never stops the work.
    pub fn unwatched() -> Watch {
        Watch::default()
    }

    /// Reports `done` of `total`, and ends the work if its owner asked for it.
    ///
    /// Call at least every 10 ms or so.
    pub fn step(&self, done: u64, total: u64) -> Result<(), Cancelled> {
        let per_mille = done.saturating_mul(1000).checked_div(total).unwrap_or(0).min(1000);
        self.shared.per_mille.store(per_mille as u32, Ordering::Relaxed);
        if self.shared.stop.load(Ordering::Relaxed) { Err(Cancelled) } else { Ok(()) }
    }

    /// Asks the work to stop.
    pub fn stop(&self) {
        self.shared.stop.store(true, Ordering::Relaxed);
    }
}

/// What a job has to say when asked.
pub enum Polled<T> {
    /// Still at it.
    Running,
    /// The result, given once.
    Done(T),
    /// Stopped, panicked, or the result was already taken.
    Over,
}

/// One piece of work on a named thread. Dropping it stops and joins the thread.
pub struct Job<T> {
    watch: Watch,
    result: Receiver<Result<T, Cancelled>>,
    /// The result was given, or there will be none. The thread may still be on its way out.
    over: bool,
    thread: Option<JoinHandle<()>>,
}

impl<T: Send + 'static> Job<T> {
    /// Starts `work` on a thread called `name`; `wake` is called when it ends.
    ///
    /// # Errors
    /// The operating system refused a thread.
    pub fn start(
        name: &str,
        wake: impl FnOnce() + Send + 'static,
        work: impl FnOnce(&Watch) -> Result<T, Cancelled> + Send + 'static,
    ) -> std::io::Result<Job<T>> {
        let watch = Watch::default();
        let inner = watch.clone();
        let (send, result) = channel();
        let thread = std::thread::Builder::new().name(name.to_owned()).spawn(move || {
            let outcome = work(&inner);
            // A receiver that is gone means that nobody wants the result any more.
            let _ = send.send(outcome);
            wake();
        })?;
        Ok(Job { watch, result, over: false, thread: Some(thread) })
    }

    /// Share done in per mille.
    pub fn per_mille(&self) -> u32 {
        self.watch.shared.per_mille.load(Ordering::Relaxed)
    }

    /// Asks the work to stop; the next poll says `Over` once it has.
    pub fn stop(&self) {
        self.watch.stop();
    }

    /// The result if it is there. Never waits.
    pub fn poll(&mut self) -> Polled<T> {
        if self.over {
            return Polled::Over;
        }
        let polled = match self.result.try_recv() {
            Ok(Ok(value)) => Polled::Done(value),
            Ok(Err(Cancelled)) | Err(TryRecvError::Disconnected) => Polled::Over,
            Err(TryRecvError::Empty) => Polled::Running,
        };
        self.over = !matches!(polled, Polled::Running);
        polled
    }
}

impl<T> Drop for Job<T> {
    fn drop(&mut self) {
        self.watch.stop();
        if let Some(thread) = self.thread.take() {
            // A panic in the work has been reported on its own thread; there is nothing to add.
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gives_its_result_once() {
        let mut job = Job::start("sum", || (), |_| Ok(2 + 2)).expect("a thread");
        loop {
            match job.poll() {
                Polled::Running => std::thread::yield_now(),
                Polled::Done(value) => break assert_eq!(value, 4),
                Polled::Over => panic!("ended without a result"),
            }
        }
        assert!(matches!(job.poll(), Polled::Over));
    }

    #[test]
    fn stops_when_dropped() {
        let job = Job::start(
            "endless",
            || (),
            |watch| -> Result<(), Cancelled> {
                loop {
                    watch.step(1, 2)?;
                    std::thread::sleep(std::time::Duration::from_millis(1));
                }
            },
        )
        .expect("a thread");
        drop(job);
    }
}
