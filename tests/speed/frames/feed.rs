//! A board on a pseudo-terminal that prints lines at a steady rate, by the clock or frame by frame.
use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use serialport::{SerialPort, TTYPort};
use trimbench::source::Address;

/// A board that prints what it is asked to, in a time of its own.
pub struct Stepped {
    /// What the window connects to.
    pub address: Address,
    /// Lines printed.
    pub sent: u64,
    rate_hz: u64,
    fields: usize,
    master: TTYPort,
    _slave: TTYPort,
}

impl Stepped {
    /// A board of `rate_hz` lines a second, silent until it is asked.
    pub fn begin(rate_hz: u64, fields: usize) -> Stepped {
        let (address, master, slave) = terminal();
        Stepped { address, sent: 0, rate_hz, fields, master, _slave: slave }
    }

    /// Prints what is due in a time from the beginning.
    pub fn print_until(&mut self, time: Duration) {
        let due = time.as_micros() as u64 * self.rate_hz / 1_000_000;
        let mut line = Vec::new();
        for k in self.sent..due {
            print(&mut line, k, self.rate_hz, self.fields);
        }
        self.master.write_all(&line).expect("somebody reads");
        self.sent = self.sent.max(due);
    }
}

fn terminal() -> (Address, TTYPort, TTYPort) {
    let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let path = PathBuf::from(slave.name().expect("its name"));
    let path = path.to_string_lossy().into_owned();
    master.set_timeout(Duration::from_secs(5)).expect("set");
    (Address::Serial { path, baud: 2_000_000 }, master, slave)
}

/// A board that prints until it is stopped.
pub struct Feed {
    /// What the window connects to.
    pub address: Address,
    sent: Arc<AtomicU64>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    _slave: TTYPort,
}

impl Feed {
    /// Prints `rate_hz` lines a second of `fields` fields: counter, clock, six inputs, buttons, and
    /// then plain numbers.
    pub fn begin(rate_hz: u64, fields: usize) -> Feed {
        let (address, mut master, slave) = terminal();
        let (sent, stop) = (Arc::new(AtomicU64::new(0)), Arc::new(AtomicBool::new(false)));
        let (count, until) = (Arc::clone(&sent), Arc::clone(&stop));
        let body = move || {
            let begun = Instant::now();
            let mut line = Vec::new();
            while !until.load(Ordering::Relaxed) {
                let due = begun.elapsed().as_micros() as u64 * rate_hz / 1_000_000;
                let from = count.load(Ordering::Relaxed);
                for k in from..due {
                    line.clear();
                    print(&mut line, k, rate_hz, fields);
                    master.write_all(&line).expect("somebody reads");
                    count.store(k + 1, Ordering::Relaxed);
                }
                std::thread::sleep(Duration::from_millis(1));
            }
        };
        let thread = std::thread::Builder::new().name("board".to_owned()).spawn(body);
        Feed { address, sent, stop, thread: Some(thread.expect("a thread")), _slave: slave }
    }

    /// Stops the printing; gives how many lines were printed.
    pub fn end(&mut self) -> u64 {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().map(JoinHandle::join);
        self.sent.load(Ordering::Relaxed)
    }
}

fn print(line: &mut Vec<u8>, k: u64, rate_hz: u64, fields: usize) {
    let t_us = k * 1_000_000 / rate_hz;
    let noise = |j: u64| (k.wrapping_mul(2_654_435_761) >> (j * 3 % 24)) & 3;
    let wave = |j: u64| {
        let turn = t_us as f64 / 1e6 * std::f64::consts::TAU * (0.3 + j as f64 * 0.1);
        (2048.0 + 1500.0 * turn.sin()) as u64 + noise(j)
    };
    write!(line, "{k},{t_us}").expect("a vector takes all");
    for j in 0..fields as u64 - 3 {
        write!(line, ",{}", wave(j)).expect("a vector takes all");
        if j == 5 {
            write!(line, ",{:04X}", (k / 700) & 1).expect("a vector takes all");
        }
    }
    line.push(b'\n');
}
