//! The sketch, compiled with the Debian AVR core for two boards, run on the emulated chips.
use std::path::{Path, PathBuf};
use std::process::Command;

use trimbench::session::file::{Overrides, open};
use trimbench::wire::{Role, Why};
use trimbench::work::Watch;

use crate::closed_loop::first_header;
use crate::emulator::{Run, WARNINGS, companion, compile, damaged_inside, harness, run, skip};
use crate::pins;

/// Where the Debian package `arduino-core-avr` puts the core.
const CORE: &str = "/usr/share/arduino/hardware/arduino/avr";

/// A board that the core knows.
struct Board {
    mcu: &'static str,
    variant: &'static str,
    uart: &'static str,
    flash: u32,
    ram: u32,
    defines: &'static [&'static str],
}

const BOARDS: [Board; 2] = [
    Board {
        mcu: "atmega32u4",
        variant: "leonardo",
        uart: "1",
        // Less the boot loader.
        flash: 28_672,
        ram: 2560,
        defines: &[
            "-DARDUINO_AVR_LEONARDO",
            "-DUSB_VID=0x1209",
            "-DUSB_PID=0x0001",
            "-DUSB_MANUFACTURER=\"Bench\"",
            "-DUSB_PRODUCT=\"Bench\"",
        ],
    },
    Board {
        mcu: "atmega328p",
        variant: "standard",
        uart: "0",
        flash: 32_256,
        ram: 2048,
        defines: &["-DARDUINO_AVR_UNO"],
    },
];

fn common(board: &Board) -> Vec<String> {
    let mut words: Vec<String> = [
        "-Os",
        "-ffunction-sections",
        "-fdata-sections",
        "-DF_CPU=16000000L",
        "-DARDUINO=10819",
        "-DARDUINO_ARCH_AVR",
        // Debian's pair of compiler and library lacks it.
        "-DDECIMAL_DIG=__DECIMAL_DIG__",
    ]
    .map(str::to_owned)
    .to_vec();
    words.push(format!("-mmcu={}", board.mcu));
    words.extend(board.defines.iter().map(|d| (*d).to_owned()));
    for place in ["cores/arduino".to_owned(), format!("variants/{}", board.variant)] {
        // As -isystem this compiler takes C++ headers for C.
        words.push(format!("-I{CORE}/{place}"));
    }
    words
}

fn object(folder: &Path, board: &Board, source: &Path, extra: &[&str]) -> PathBuf {
    let name = source.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let out = folder.join(format!("{name}.o"));
    let end = source.extension().map(|e| e.to_string_lossy().into_owned()).unwrap_or_default();
    let language: &[&str] = match end.as_str() {
        "c" => &["avr-gcc", "-std=gnu11"],
        "S" => &["avr-gcc", "-x", "assembler-with-cpp"],
        _ => &[
            "avr-g++",
            "-x",
            "c++",
            "-std=gnu++11",
            "-fno-exceptions",
            "-fno-threadsafe-statics",
            "-fpermissive",
        ],
    };
    let language: Vec<&str> = match end.as_str() {
        // Ours is not in need of leniency.
        "ino" => language.iter().copied().filter(|w| *w != "-fpermissive").collect(),
        _ => language.to_vec(),
    };
    let common = common(board);
    let (to, from) = (out.display().to_string(), source.display().to_string());
    let mut rest: Vec<&str> = common.iter().map(String::as_str).collect();
    rest.extend_from_slice(extra);
    rest.extend(["-c", "-o", &to, &from]);
    compile(&language, &rest);
    out
}

/// The sketch with the core, linked; the header where given.
fn sketch(folder: &Path, board: &Board, header: Option<&str>) -> PathBuf {
    let form = if header.is_some() { "trimmed" } else { "raw" };
    let folder = folder.join(format!("{}-{form}", board.variant));
    std::fs::create_dir_all(&folder).expect("a folder");
    let entries = std::fs::read_dir(format!("{CORE}/cores/arduino")).expect("the core");
    let mut objects = Vec::new();
    for entry in entries {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|e| ["c", "cpp", "S"].iter().any(|k| e == *k)) {
            objects.push(object(&folder, board, &path, &["-w"]));
        }
    }
    let include = format!("-I{}", companion().display());
    let header_place = format!("-I{}", folder.display());
    let mut extra = WARNINGS.to_vec();
    extra.extend([include.as_str(), &header_place]);
    if let Some(header) = header {
        std::fs::write(folder.join("trim.h"), header).expect("written");
        extra.push("-DBENCH_TRIM");
    }
    for source in ["bench_sketch/bench_sketch.ino", "bench_link.c"] {
        objects.push(object(&folder, board, &companion().join(source), &extra));
    }
    let program = folder.join("sketch.elf");
    let mcu = format!("-mmcu={}", board.mcu);
    let words: Vec<String> = objects.iter().map(|o| o.display().to_string()).collect();
    let out = program.display().to_string();
    let mut rest = vec!["-Os", "-Wl,--gc-sections", &mcu, "-o", &out];
    rest.extend(words.iter().map(String::as_str));
    rest.push("-lm");
    compile(&["avr-gcc"], &rest);
    program
}

/// Flash and memory, bytes.
fn sizes(program: &Path) -> [u32; 2] {
    let out = Command::new("avr-size").arg(program).output().expect("avr-size");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let row = text.lines().nth(1).unwrap_or_else(|| panic!("{text}"));
    let numbers: Vec<u32> =
        row.split_whitespace().take(3).map(|w| w.parse().expect("a number")).collect();
    [numbers[0] + numbers[1], numbers[1] + numbers[2]]
}

#[test]
fn the_sketch_runs_on_two_boards_and_takes_the_header() {
    if harness().is_none() {
        return;
    }
    if !Path::new(CORE).exists() {
        return skip("arduino-core-avr is not installed");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let board = pins::first();
    let table = Some(board.tables[0].as_path());
    // The constants come from the plain program: the sensors are the same.
    let header = first_header();
    for make in &BOARDS {
        for header in [None, Some(header)] {
            let program = sketch(folder.path(), make, header);
            let [flash, ram] = sizes(&program);
            println!("{} {}: flash {flash}, memory {ram}", make.variant, header.is_some());
            assert!(flash < make.flash && ram < make.ram * 3 / 4, "{flash} {ram}");
            let words = ["--uart", make.uart, "--pins", "sketch"];
            let say = &[(2_000_000, "identity"), (3_000_000, "motor 0 60")];
            let order = Run { mcu: make.mcu, table, say, words: &words };
            let out = folder.path().join("sketch.log");
            std::fs::write(&out, run(&program, 8.0, order)).expect("written");
            let opened = open(&out, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
            let session = opened.expect("it opens").session;
            let tracks = session.tracks(&Default::default());
            assert_eq!(tracks.stream.lost, Some(0), "{}", make.variant);
            assert_eq!(damaged_inside(&session), 0, "{}", make.variant);
            assert!((tracks.period_us - 4000.0).abs() < 5.0, "{}", tracks.period_us);
            assert!(session.rows() > 1900, "{}", session.rows());
            let said: Vec<_> =
                session.refusals().kept().filter(|r| r.why == Why::Foreign).collect();
            assert_eq!(said.len(), 3, "{said:?}");
            let duty = session.column(session.field_of(Role::Duty(0)).expect("duty0"));
            let driven = duty.iter().filter(|d| **d == 60).count();
            assert!((230..270).contains(&driven), "it stops a second later: {driven}");
            check_levels(&session, &tracks, header.is_some(), board);
        }
    }
}

/// At rest the sketch reads what the board's sensors give, and its outputs stay at 0.
fn check_levels(
    session: &trimbench::session::Session,
    tracks: &trimbench::session::Tracks,
    processed: bool,
    board: &pins::Board,
) {
    use trimbench::rig::AxisId;
    for axis in AxisId::ALL {
        let codes = tracks.axis(axis).expect("six axes");
        let late = &codes[250..];
        let mean = late.iter().map(|c| f64::from(*c)).sum::<f64>() / late.len() as f64;
        let rest = match board.board.truth().axis(axis) {
            Some(truth) => truth.rest / 64.0,
            None => board.board.truth().trigger(axis.half()).map_or(0.0, |t| t.rest / 64.0),
        };
        assert!((mean - rest).abs() < 12.0, "{}: {mean} {rest}", axis.key());
        if processed {
            let field = session.field_of(Role::OutAxis(axis)).expect("processed");
            assert!(session.column(field)[250..].iter().all(|v| *v == 0), "{}", axis.key());
        }
    }
}
