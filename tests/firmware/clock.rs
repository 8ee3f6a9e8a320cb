//! The board's microseconds go round after 71.6 min: windows, kicks and time-outs do not notice. The
//! emulated board begins three seconds before that, and its pins bounce right across it.
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use trimbench::emit::header::header;
use trimbench::trim::apply::{Debouncer, Motor};
use trimbench::trim::{ButtonTrim, MotorTrim, Options, Trim};

use crate::drawn;
use crate::emulator::{Run, companion, compile, harness, plain_program, run};

/// When the clock goes round, µs after it began: 91 turns of 32 768.
const ROUND_US: u64 = 91 << 15;
/// Rows of the pin table, µs.
const ROW_US: u64 = 500;
// Where things stand in a line of text.
const T_US: usize = 1;
const BUTTONS: usize = 8;
const DUTIES: usize = 11;
const OUT_BUTTONS: usize = 20;

/// Two buttons with windows longer than a bounce, two motors with a kick.
fn trim() -> Trim {
    let mut trim = drawn::trim(10, 3);
    let button = |index: u8, press_lockout_ms, release_ms| ButtonTrim {
        index,
        press_lockout_ms,
        release_ms,
        active_low: false,
        ..trim.buttons[0].clone()
    };
    trim.buttons = vec![button(0, 30, 12), button(9, 20, 25)];
    let motor = |index, kick_ms, off_ms| MotorTrim {
        index,
        start: 80,
        stop: 40,
        most: 200,
        kick_ms,
        off_ms,
    };
    let motors = vec![motor(0, 60, 700), motor(1, 0, 300)];
    trim.options = Options { scan_rate_hz: 1000, motors, ..Options::default() };
    trim
}

/// Is the contact closed, so long before or after the clock goes round? Pressed across it, bouncing for
/// 18 ms; let go 200 ms later, bouncing as long; and the same every 400 ms before and after.
fn closed(at_us: i64) -> bool {
    let phase = (at_us + 6_000).rem_euclid(400_000);
    let bounces = |from: i64| (from..from + 18_000).contains(&phase);
    let held = (0..200_000).contains(&phase);
    held ^ ((bounces(0) || bounces(200_000)) && phase / 1500 % 2 == 1)
}

/// A table in which buttons 0 and 9 do so, 2 ms apart.
fn table(folder: &Path) -> PathBuf {
    let rows = 2 * ROUND_US / ROW_US;
    let mut bytes = b"pins1\n".to_vec();
    bytes.extend((ROW_US as u32).to_le_bytes());
    bytes.extend((rows as u32).to_le_bytes());
    for row in 0..rows {
        (0..6).for_each(|_| bytes.extend(32_768_u16.to_le_bytes()));
        let at_us = (row * ROW_US) as i64 - ROUND_US as i64;
        let mask = u16::from(closed(at_us)) | u16::from(closed(at_us - 2000)) << 9;
        bytes.extend(mask.to_le_bytes());
    }
    let path = folder.join("pins");
    std::fs::write(&path, bytes).expect("written");
    path
}

/// What a frame must say, by the arithmetic here on time that does not go round.
struct Twin {
    debouncers: Vec<(u8, Debouncer)>,
    motors: Vec<Motor>,
    last_us: Option<u32>,
    t_us: u64,
}

impl Twin {
    fn new(trim: &Trim) -> Twin {
        Twin {
            debouncers: trim.buttons.iter().map(|b| (b.index, Debouncer::new(b))).collect(),
            motors: trim.options.motors.iter().map(Motor::new).collect(),
            last_us: None,
            t_us: 0,
        }
    }

    fn now_ms(&self) -> u16 {
        (self.t_us / 1000) as u16
    }

    /// Debounced mask and duties of the frame at `t_us` on the board's clock.
    fn frame(&mut self, t_us: u32, buttons: u32) -> (u32, Vec<u32>) {
        let passed = self.last_us.map_or(t_us, |last| t_us.wrapping_sub(last));
        self.t_us += u64::from(passed);
        self.last_us = Some(t_us);
        let now = self.now_ms();
        let mask = self.debouncers.iter_mut().fold(0, |mask, (index, debouncer)| {
            mask | u32::from(debouncer.sample(buttons >> *index & 1 == 1, now)) << *index
        });
        (mask, self.motors.iter_mut().map(|m| u32::from(m.duty(now))).collect())
    }
}

fn number(cells: &[&str], at: usize) -> u32 {
    let cell = cells[at].split('*').next().unwrap_or_default();
    let parsed = match cell.strip_prefix("0x") {
        Some(hex) => u32::from_str_radix(hex, 16),
        None => cell.parse(),
    };
    parsed.unwrap_or_else(|e| panic!("{cells:?}: {e}"))
}

#[test]
fn the_emulated_board_counts_on_when_its_clock_goes_round() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let trim = trim();
    let text = header(&trim).expect("consistent");
    let program = plain_program(folder.path(), "round", &["BENCH_FIRST_TURN=130981"], Some(&text));
    let table = table(folder.path());
    let duties = folder.path().join("duties");
    let say = [
        (100_000, "rate 1000"),
        (ROUND_US - 100_000, "strength 1 255"),
        // The kick begins before the clock goes round and ends after it, then nobody asks any more.
        (ROUND_US - 25_000, "strength 0 90"),
        (ROUND_US + 1_500_000, "motor 1 33"),
        (ROUND_US + 1_600_000, "strength 2 5"),
    ];
    let words = ["--duties".to_owned(), duties.display().to_string()];
    let words = words.each_ref().map(String::as_str);
    let order = Run { table: Some(&table), say: &say, words: &words, ..Run::default() };
    let seconds = (ROUND_US + 2_400_000) as f64 / 1e6;
    let said = String::from_utf8(run(&program, seconds, order)).expect("text");
    let mut twin = Twin::new(&trim);
    let (mut frames, mut rounds, mut presses, mut raw) = (0, 0, 0, None);
    let mut before = (0, 0);
    for line in said.lines() {
        let now_ms = twin.now_ms();
        match line {
            "# done strength 0 90" => twin.motors[0].ask(90 * 257, now_ms),
            "# done strength 1 255" => twin.motors[1].ask(65_535, now_ms),
            "# done motor 1 33" => raw = Some(33),
            _ => {}
        }
        let cells: Vec<&str> = line.split(',').collect();
        if cells.len() < 20 || !cells[0].bytes().all(|b| b.is_ascii_digit()) {
            continue;
        }
        let t_us = number(&cells, T_US);
        rounds += u32::from(t_us < before.0);
        let (mask, mut duties) = twin.frame(t_us, number(&cells, BUTTONS));
        // A duty of its own holds until the host has been silent for a second.
        duties[1] = raw.unwrap_or(duties[1]);
        let have: Vec<u32> = (0..2).map(|n| number(&cells, DUTIES + n)).collect();
        assert_eq!((number(&cells, OUT_BUTTONS), have), (mask, duties), "{line}");
        presses += (mask & !before.1).count_ones();
        before = (t_us, mask);
        frames += 1;
    }
    assert_eq!(rounds, 1, "the clock goes round once");
    assert!(frames > 2000, "{frames}");
    // Both buttons, every 400 ms of 5.4 s, and once each in spite of the bounce.
    assert!((26..=28).contains(&presses), "{presses}");
    let refused = "# refused: no such command, or numbers out of range";
    assert!(said.contains(refused), "there is no motor 2");
    check_pins(&std::fs::read_to_string(duties).expect("taken down"));
}

/// The pins do what the frames say: kick, duty, off, and the least duty where there is no kick.
fn check_pins(duties: &str) {
    let changes: Vec<[u64; 3]> = duties
        .lines()
        .map(|line| {
            let numbers: Vec<u64> = line.split(' ').map(|w| w.parse().expect("a number")).collect();
            numbers.try_into().expect("three numbers")
        })
        .collect();
    let of = |motor: u64| -> Vec<[u64; 2]> {
        changes.iter().filter(|c| c[1] == motor).map(|c| [c[0], c[2]]).collect()
    };
    let first = of(0);
    let levels: Vec<u64> = first.iter().map(|c| c[1]).collect();
    assert_eq!(levels.len(), 3, "kick, duty, off: {first:?}");
    assert_eq!((levels[0], levels[2]), (200, 0), "{first:?}");
    assert!((40..200).contains(&levels[1]), "{first:?}");
    let kick_us = first[1][0] - first[0][0];
    assert!((58_500..61_500).contains(&kick_us), "{kick_us} µs");
    assert!(first[0][0] < ROUND_US && first[1][0] > ROUND_US, "across: {first:?}");
    let off_us = first[2][0] - first[0][0];
    assert!((697_000..703_000).contains(&off_us), "{off_us} µs");
    let second: Vec<u64> = of(1).iter().map(|c| c[1]).collect();
    assert_eq!(second[..3], [200, 0, 33], "{second:?}");
}

/// The header's functions on the host, through `process.h`, over days that go round many times.
#[test]
fn process_counts_milliseconds_on_over_every_round() {
    let folder = tempfile::tempdir().expect("a folder");
    let trim = trim();
    let place = |name: &str| folder.path().join(name);
    std::fs::write(place("trim.h"), header(&trim).expect("consistent")).expect("written");
    let mut main = String::from(
        "#include <stdio.h>\n#include \"bench_link.h\"\n#define BENCH_TRIM\n#include \"trim.h\"\n\
         #include \"process.h\"\nstatic void drive(uint8_t m, uint8_t d) { (void)m; (void)d; }\n\
         int main(void)\n{\n    static bench_frame f;\n    unsigned long i;\n    \
         (void)process_ask(3, 0);\n    process_let_go(3);\n",
    );
    // A step that is no whole number of milliseconds, and passes 2^32 µs sixteen times.
    let (frames, step_us) = (60_000_u64, 1_145_333_u64);
    let _ = write!(
        main,
        "    for (i = 0; i < {frames}ul; ++i) {{\n        f.buttons = (uint16_t)((i * 7ul) >> 2 & 0x201ul);\n        \
         process(&f);\n        process_motors(&f, drive);\n        printf(\"%u %u\\n\", \
         (unsigned)process_now_ms, (unsigned)f.out_buttons);\n        f.t_us += {step_us}ul;\n    }}\n    return 0;\n}}\n"
    );
    std::fs::write(place("main.c"), main).expect("written");
    let program = place("main").display().to_string();
    let source = place("main.c").display().to_string();
    let includes = [companion(), folder.path().to_owned()].map(|p| format!("-I{}", p.display()));
    for compiler in [["cc", "-std=c99"], ["c++", "-std=c++11"]] {
        let language = if compiler[0] == "cc" { "c" } else { "c++" };
        let mut rest = crate::emulator::WARNINGS.to_vec();
        rest.extend(["-x", language, &source, &includes[0], &includes[1], "-o", &program]);
        compile(&compiler, &rest);
        let out = std::process::Command::new(&program).output().expect("it runs").stdout;
        let mut twin = Twin::new(&trim);
        let lines = String::from_utf8(out).expect("text");
        assert_eq!(lines.lines().count() as u64, frames);
        for (i, line) in (0..frames).zip(lines.lines()) {
            let t_us = (i * step_us) as u32;
            let (mask, _) = twin.frame(t_us, ((i * 7) >> 2 & 0x201) as u32);
            let ms = (i * step_us / 1000) as u16;
            assert_eq!(line, format!("{ms} {mask}"), "frame {i}");
        }
    }
}
