//! The emitter and the receiver of the companion, compiled for the host, against the tool's own.
use std::io::Write;
use std::path::Path;
use std::process::{Command as Process, Stdio};

use proptest::prelude::*;
use trimbench::virtual_board::{bench_dialect, bench_rig};
use trimbench::wire::command::Command;
use trimbench::wire::edge;
use trimbench::wire::{EdgeLine, Framer, Grammar, Place, Remark, Role, Sink, Why, recognise};

use crate::emulator::{companion, compile};

/// Frames that the program sends.
const FRAMES: usize = 400;

fn built(folder: &Path) -> std::path::PathBuf {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/firmware/host.c");
    let program = folder.join("host");
    let include = format!("-I{}", companion().display());
    let link = companion().join("bench_link.c");
    let sources = [&source, &link].map(|p| p.display().to_string());
    let out = program.display().to_string();
    let sane = "-fsanitize=undefined,address";
    let rest = [&include, "-O1", sane, "-fno-sanitize-recover=all", "-o", &out];
    let rest: Vec<&str> = rest.into_iter().chain(sources.iter().map(String::as_str)).collect();
    compile(&["cc", "-std=c99", "-Wall", "-Wextra", "-Werror"], &rest);
    program
}

fn said(program: &Path, what: usize, input: &[u8]) -> Vec<u8> {
    let mut child = Process::new(program)
        .arg(what.to_string())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut into = child.stdin.take().expect("its input");
    let input = input.to_vec();
    let feeder = std::thread::Builder::new()
        .name("feeder".to_owned())
        .spawn(move || into.write_all(&input))
        .expect("a thread");
    let out = child.wait_with_output().expect("it ends");
    feeder.join().expect("fed").expect("fed");
    assert!(out.status.success(), "{what}");
    out.stdout
}

/// Frames and words of a stream.
#[derive(Default)]
struct Taken {
    edges: Vec<EdgeLine>,
    frames: Vec<Vec<i32>>,
    words: Vec<String>,
    odd: Vec<Why>,
}

impl Sink for Taken {
    fn frame(&mut self, _: Place, cells: &[i32]) {
        self.frames.push(cells.to_vec());
    }
    fn refused(&mut self, _: Place, why: Why, bytes: &[u8]) {
        match why {
            Why::Foreign => self.words.push(String::from_utf8_lossy(bytes).into_owned()),
            why => self.odd.push(why),
        }
    }
    fn remark(&mut self, _: Place, what: Remark, _: &[u8]) {
        if let Remark::Edge(edge) = what {
            self.edges.push(edge);
        }
    }
}

/// What the program draws for one frame, in the order of the fields that the options ask for.
struct Draw(u32);

impl Draw {
    fn next(&mut self) -> u32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        match self.0 % 5 {
            0 => 0,
            1 => u32::MAX,
            _ => self.0,
        }
    }

    fn frame(&mut self, i: usize, options: usize) -> Vec<i32> {
        let mut cells = vec![i as i32, 4000 * i as i32];
        let word = |draw: &mut Draw| i32::from(draw.next() as u16);
        (0..8).for_each(|_| cells.push(word(self)));
        (0..4).for_each(|_| cells.push(i32::from(self.next() as u8)));
        let remote = [word(self), self.next() as i32];
        let mut outputs: Vec<i32> =
            (0..6).map(|_| (self.next() % 65_535) as i32 - 32_767).collect();
        outputs.extend([word(self), word(self)]);
        if options & 4 != 0 {
            cells.extend(remote);
        }
        if options & 2 != 0 {
            cells.extend(outputs);
        }
        cells
    }
}

#[test]
fn every_form_of_frame_is_recognised_and_read_to_the_bit() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = built(folder.path());
    for options in 0..8 {
        let bytes = said(&program, options, b"");
        let dialect = recognise(&bytes).unwrap_or_else(|e| panic!("{options}: {e}"));
        assert_eq!(dialect.grammar == Grammar::Packed, options & 1 == 1);
        assert!(dialect.fields.iter().all(|f| f.role != Role::Ignore), "{:?}", dialect.fields);
        let mut taken = Taken::default();
        let mut framer = Framer::new(&dialect);
        framer.push(&bytes, &mut taken);
        framer.finish(&mut taken);
        assert_eq!(taken.odd, [], "{options}");
        assert_eq!(taken.words, ["# hello"], "{options}");
        let mut draw = Draw(12_345);
        let expected: Vec<Vec<i32>> = (0..FRAMES).map(|i| draw.frame(i, options)).collect();
        assert_eq!(taken.frames, expected, "options {options}");
    }
}

#[test]
fn edges_keep_their_time_and_losses_are_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = built(folder.path());
    let text = String::from_utf8(said(&program, 8, b"")).expect("text");
    let lines: Vec<&str> = text.lines().collect();
    // The tool reads every line of both forms: where the log begins, thirty changes, and one more
    // after ten that found no room, whose numbers are missing.
    let mut expected = vec![EdgeLine { count: 1, mask: 0, t_us: 1_000_000_000, span_us: None }];
    expected.extend((1..=30).map(|k| EdgeLine {
        count: k as u8 + 1,
        mask: k,
        t_us: 1_000_000_000 + u32::from(k),
        span_us: Some(1),
    }));
    expected.push(EdgeLine { count: 42, mask: 0, t_us: 9, span_us: Some(2) });
    let read = |line: &[u8]| edge::read(line).map(|edge| edge.expect("proved"));
    let found: Vec<EdgeLine> = lines.iter().filter_map(|line| read(line.as_bytes())).collect();
    assert_eq!(found, expected);
    assert_eq!(lines.len(), expected.len() + 1);
    assert!(lines[31].starts_with("# edges lost"), "{lines:?}");
    let mut packed = Taken::default();
    let dialect = bench_dialect(&bench_rig(10)).packed();
    Framer::new(&dialect).push(&said(&program, 9, b""), &mut packed);
    assert_eq!((packed.edges, packed.words.len()), (expected, 1));
}

#[test]
fn records_of_the_second_half_prove_themselves() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = built(folder.path());
    assert_eq!(said(&program, 11, b""), b"0\n");
}

#[test]
fn commands_are_obeyed_to_the_letter_and_nothing_else() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = built(folder.path());
    let mut input = Vec::new();
    let mut expected = Vec::new();
    for command in [
        Command::Motor { motor: 1, duty: 255 },
        Command::Strength { motor: 0, strength: 7 },
        Command::Light { light: 0, level: 0 },
        Command::Rate { hz: 4000 },
        Command::Packed(true),
        Command::Outputs(false),
        Command::Edges(true),
        Command::Identity,
        Command::Heading,
    ] {
        input.extend(command.line());
        expected.push(format!("# done {command}"));
        input.extend(format!("{command}\r\n").bytes());
        expected.push(format!("# done {command}"));
    }
    let refused = [
        "motor 2 1",
        "motor 0 256",
        "motor 0",
        "motor 0 1 2",
        "motor 0 1*00",
        "motor  0 1",
        "rate 0",
        "rate 4001",
        "rate 99999",
        "rates 5",
        "packed 2",
        "identity 1",
        "motor 0 -1",
        "motor 0 1*",
        "*",
        "MOTOR 0 1",
        &"x".repeat(5000),
    ];
    for line in refused {
        input.extend(format!("{line}\n").bytes());
        expected.push("# refused: no such command, or numbers out of range".to_owned());
    }
    let text = String::from_utf8(said(&program, 10, &input)).expect("text");
    assert_eq!(text.lines().collect::<Vec<_>>(), expected);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_bytes_upset_the_receiver(
        input in proptest::collection::vec(
            prop_oneof![proptest::sample::select(b"motor light 0129*\n\r".to_vec()), any::<u8>()],
            0..2000,
        ),
    ) {
        static PROGRAM_ONCE: std::sync::OnceLock<(tempfile::TempDir, std::path::PathBuf)> =
            std::sync::OnceLock::new();
        let (_, program) = PROGRAM_ONCE.get_or_init(|| {
            let folder = tempfile::tempdir().expect("a folder");
            let program = built(folder.path());
            (folder, program)
        });
        // The sanitizers end the program at the first slip.
        let answers = said(program, 10, &input);
        let lines = input.iter().filter(|b| **b == b'\n').count();
        prop_assert!(answers.iter().filter(|b| **b == b'\n').count() <= lines);
    }
}
