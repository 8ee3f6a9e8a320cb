//! How fast bytes become columns: framer, recognition, session, session file.
use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use trimbench::session::file::{Overrides, Writer, open};
use trimbench::session::{About, Intake, Session};
use trimbench::wire::{Dialect, Framer, Place, Sink, Why, recognise};
use trimbench::work::Watch;

fn main() {
    divan::main();
}

const FRAMES: u32 = 100_000;

/// Frames of a 10-bit board at 1 kHz, about 46 bytes each.
fn log(frames: u32) -> Vec<u8> {
    use std::io::Write;
    let mut text = Vec::new();
    for i in 0..frames {
        let noise = |k: u32| i.wrapping_mul(2_654_435_761).rotate_left(k * 5) >> 30;
        let axis = |k| 510 + noise(k);
        let time = u64::from(i) * 1000 + 12_345_678;
        writeln!(
            text,
            "{},{time},{},{},{},{},{},{},{:04X}",
            i & 0xFFFF,
            axis(0),
            axis(1),
            axis(2),
            axis(3),
            20 + noise(4),
            22 + noise(5),
            (i / 300) & 1
        )
        .expect("a vector takes all");
    }
    text
}

fn dialect(text: &[u8]) -> Dialect {
    recognise(&text[..65_536]).expect("a dialect")
}

#[derive(Default)]
struct Count {
    frames: u32,
    sum: i64,
}

impl Sink for Count {
    fn frame(&mut self, _place: Place, cells: &[i32]) {
        self.frames += 1;
        self.sum += i64::from(cells[2]);
    }
    fn refused(&mut self, _place: Place, _why: Why, _bytes: &[u8]) {}
}

#[divan::bench(args = [64, 4096, 1 << 20])]
fn frame_in_pieces_of(bencher: Bencher, piece: usize) {
    let text = log(FRAMES);
    let dialect = dialect(&text);
    bencher.counter(BytesCount::new(text.len())).counter(ItemsCount::new(FRAMES)).bench(|| {
        let (mut framer, mut count) = (Framer::new(&dialect), Count::default());
        text.chunks(piece).for_each(|p| framer.push(p, &mut count));
        assert_eq!(count.frames, FRAMES);
        black_box(count.sum)
    });
}

#[divan::bench]
fn recognise_64_kb(bencher: Bencher) {
    let text = log(2000);
    let sample = &text[..65_536];
    bencher.counter(BytesCount::new(sample.len())).bench(|| recognise(black_box(sample)));
}

/// The longest sample of a usual log, in columns and as text round the numbers.
#[divan::bench(args = ["columns", "between text", "nothing alike"])]
fn recognise_5000_lines(bencher: Bencher, style: &str) {
    let text = String::from_utf8(log(5_000)).expect("ASCII");
    let dressed = |(k, line): (usize, &str)| match style {
        "columns" => format!("{line}\n"),
        "between text" => format!("[note] poll <{}>\n", line.replace(',', " / ")),
        _ => format!("{} {}\n", "word ".repeat(k % 7), &line[..k % 20]),
    };
    let text: String = text.lines().enumerate().map(dressed).collect();
    assert_eq!(recognise(text.as_bytes()).is_ok(), style != "nothing alike");
    bencher
        .counter(ItemsCount::new(5_000_u32))
        .bench(|| recognise(black_box(text.as_bytes())).is_ok());
}

fn loaded(text: &[u8], dialect: &Dialect) -> Session {
    let mut intake = Intake::untimed(Some(dialect.clone()));
    let mut session = Session::new(About::default());
    for piece in text.chunks(1 << 20) {
        intake.push(0, piece);
        session.append(&intake.take());
    }
    intake.finish();
    session.append(&intake.take());
    session
}

#[divan::bench]
fn bytes_to_columns(bencher: Bencher) {
    let text = log(FRAMES);
    let dialect = dialect(&text);
    bencher.counter(BytesCount::new(text.len())).counter(ItemsCount::new(FRAMES)).bench(|| {
        let session = loaded(&text, &dialect);
        assert_eq!(session.rows(), FRAMES as usize);
        session
    });
}

#[divan::bench]
fn columns_to_tracks(bencher: Bencher) {
    let text = log(FRAMES);
    let session = loaded(&text, &dialect(&text));
    bencher.counter(ItemsCount::new(FRAMES)).bench(|| {
        let tracks = session.tracks(&Default::default());
        assert_eq!(tracks.stream.lost, Some(0));
        tracks
    });
}

#[divan::bench]
fn picture_of_1000_pixels(bencher: Bencher) {
    let text = log(FRAMES);
    let session = loaded(&text, &dialect(&text));
    bencher.bench(|| session.min_max(2, 37..session.rows() - 41, 1000));
}

#[divan::bench]
fn session_file_to_columns(bencher: Bencher) {
    let text = log(FRAMES);
    let mut writer =
        Writer::new(Vec::new(), &About::default(), Some(&dialect(&text))).expect("a writer");
    for (i, line) in text.split_inclusive(|b| *b == b'\n').enumerate() {
        writer.append(i as u64 * 1000, line).expect("a vector takes all");
    }
    let bytes = writer.finish().expect("a vector takes all");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("t.session");
    std::fs::write(&path, &bytes).expect("written");
    bencher.counter(BytesCount::new(bytes.len())).counter(ItemsCount::new(FRAMES)).bench(|| {
        let opened = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        let opened = opened.expect("opens");
        assert_eq!((opened.session.rows(), opened.damage.len()), (FRAMES as usize, 0));
        opened
    });
}
