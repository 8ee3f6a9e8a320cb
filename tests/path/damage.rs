//! Damaged recordings: only what was hit is lost, it is named with its place, nothing changes in silence.
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimbench::rig::Rig;
use trimbench::session::file::{Damage, DamageKind, Opened, Overrides, Writer, open};
use trimbench::work::Watch;

use super::session_file::{about, counter, dialect, opened, stream};

/// A session of `frames` lines with a parts list in its head, one line every 4 ms.
fn session(frames: u32) -> Vec<u8> {
    let rig = Rig { name: "Kiebitz".to_owned(), raw_bits: Some(10), ..Rig::default() };
    let about = trimbench::session::About { rig: Some(rig), ..about() };
    let mut writer = Writer::new(Vec::new(), &about, Some(&dialect())).expect("a writer");
    for i in 0..frames {
        let at = u64::from(i) * 4000;
        writer.append(at, stream(i..i + 1).as_bytes()).expect("written");
    }
    writer.finish().expect("finished")
}

/// Whether all of it is to be tried, or a share with a fixed seed.
fn at_length() -> bool {
    std::env::var("TRIMBENCH_LONG").is_ok_and(|v| v == "1")
}

/// Byte ranges of the blocks with their checkpoints; the first is the head.
fn blocks(file: &[u8]) -> Vec<std::ops::Range<usize>> {
    let (mut found, mut from, mut at) = (Vec::new(), 0, 0);
    for line in file.split_inclusive(|b| *b == b'\n') {
        at += line.len();
        if line.starts_with(b"# ") {
            found.push(from..at);
            from = at;
        }
    }
    assert_eq!(from, file.len(), "a whole session");
    found
}

/// Counters of the records in a piece of a file.
fn counters(piece: &[u8]) -> Vec<i32> {
    let lines = piece.split(|b| *b == b'\n').filter(|l| l.first().is_some_and(u8::is_ascii_digit));
    let number = |line: &[u8]| {
        let text = std::str::from_utf8(line).expect("ASCII");
        text.split([' ', ',']).nth(1).and_then(|n| n.parse().ok()).expect("a counter")
    };
    lines.map(number).collect()
}

/// A file that is hit in place and opened again and again.
struct Hit {
    _folder: tempfile::TempDir,
    path: PathBuf,
    file: std::fs::File,
    whole: Opened,
}

impl Hit {
    fn on(bytes: &[u8]) -> Hit {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("t.session");
        std::fs::write(&path, bytes).expect("written");
        let file = std::fs::OpenOptions::new().read(true).write(true).open(&path).expect("opened");
        Hit { _folder: folder, whole: opened(bytes), path, file }
    }

    fn open(&self) -> Opened {
        let watch = Watch::unwatched();
        open(&self.path, &Overrides::default(), &watch, &mut |_| ())
            .unwrap_or_else(|e| panic!("{e}"))
    }

    /// Opens it with one byte turned into another, and puts that back.
    fn flipped(&mut self, at: usize, mask: u8) -> Opened {
        let mut byte = [0];
        let place = SeekFrom::Start(at as u64);
        self.file.seek(place).expect("there");
        self.file.read_exact(&mut byte).expect("read");
        let mut put = |byte: u8| {
            self.file.seek(place).expect("there");
            self.file.write_all(&[byte]).expect("written");
        };
        put(byte[0] ^ mask);
        let found = open(&self.path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        put(byte[0]);
        found.unwrap_or_else(|e| panic!("byte {at}: {e}"))
    }
}

/// Everything that figures are made of is the same.
fn same(a: &Opened, b: &Opened) -> bool {
    let (a, b) = (&a.session, &b.session);
    let columns = |s: &trimbench::session::Session| {
        (0..s.roles().len()).map(|field| s.column(field)).collect::<Vec<_>>()
    };
    a.rows() == b.rows()
        && columns(a) == columns(b)
        && a.host_part(0..a.rows()) == b.host_part(0..b.rows())
        && a.about == b.about
        && a.dialect() == b.dialect()
        && a.marks() == b.marks()
        && a.refusals().total() == b.refusals().total()
}

fn lost(found: &Opened) -> u64 {
    found.damage.iter().map(|d| d.rows).sum()
}

/// A whole file, and what stands where in it.
struct Known {
    file: Vec<u8>,
    blocks: Vec<std::ops::Range<usize>>,
    /// Counters of all records, and of those of each block as a range of them.
    all: Vec<i32>,
    records: Vec<std::ops::Range<usize>>,
}

impl Known {
    fn of(file: Vec<u8>) -> Known {
        let blocks = blocks(&file);
        let mut reached = 0;
        let records = blocks.iter().map(|block| {
            let from = reached;
            reached += counters(&file[block.clone()]).len();
            from..reached
        });
        Known { records: records.collect(), all: counters(&file), blocks, file }
    }

    /// What a flip may cost: the rows of its block and no other, told to the row.
    fn check_flip(&self, whole: &Opened, found: &Opened, at: usize) {
        if found.damage.is_empty() {
            assert!(same(whole, found), "byte {at}: something changed in silence");
            return;
        }
        let k = self.blocks.iter().position(|block| block.contains(&at)).expect("a block");
        let (left, gone) = (counter(&found.session), self.records[k].clone());
        if left.len() == self.all.len() {
            assert_eq!(left, self.all, "byte {at}");
            assert_eq!(lost(found), 0, "byte {at}: {:?}", found.damage);
        } else {
            let kept = [&self.all[..gone.start], &self.all[gone.end..]].concat();
            assert!(left == kept, "byte {at}: {:?}", found.damage);
            assert_eq!(lost(found), gone.len() as u64, "byte {at}: {:?}", found.damage);
            // Behind the last row the counter cannot tell, and with it in each of 16 places.
            if at.is_multiple_of(16) && k + 1 < self.blocks.len() {
                let told = found.session.tracks(&Rig::default()).stream;
                assert_eq!(told.lost, Some(gone.len() as u64), "byte {at}");
            }
        }
        let first = &found.damage[0];
        assert!(self.blocks[k].contains(&(first.byte as usize)), "byte {at}: {:?}", found.damage);
    }

    /// Hits each of the places once, on all processors.
    fn hit(&self, places: &[usize]) {
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        let share = places.len().div_ceil(threads).max(1);
        std::thread::scope(|scope| {
            for places in places.chunks(share) {
                scope.spawn(move || {
                    let mut hit = Hit::on(&self.file);
                    assert_eq!(hit.whole.damage, []);
                    for &at in places {
                        let mask = 1 << (((at * 2_654_435_761) >> 7) & 7);
                        let found = hit.flipped(at, mask);
                        self.check_flip(&hit.whole, &found, at);
                    }
                });
            }
        });
    }
}

#[test]
fn a_flipped_byte_costs_its_block_at_most() {
    let known = Known::of(session(if at_length() { 29_000 } else { 2_600 }));
    let (bytes, blocks) = (known.file.len(), &known.blocks);
    if at_length() {
        // Goes on where TRIMBENCH_FROM says, as it was last printed.
        let from = std::env::var("TRIMBENCH_FROM").ok().and_then(|n| n.parse().ok()).unwrap_or(0);
        for from in (from..bytes).step_by(20_000) {
            println!("TRIMBENCH_FROM={from} of {bytes} bytes");
            known.hit(&(from..bytes.min(from + 20_000)).collect::<Vec<_>>());
        }
        return;
    }
    // Every third byte of the head, some checkpoints, and a share of all others.
    let mut places: Vec<usize> = (0..bytes).collect();
    places.shuffle(&mut ChaCha8Rng::seed_from_u64(15));
    places.truncate(900);
    places.extend((0..blocks[0].end).step_by(3));
    places.extend(blocks[1..4].iter().flat_map(|b| b.end - 20..b.end + 4));
    places.extend(bytes - 24..bytes);
    known.hit(&places);
}

#[test]
fn every_bit_of_the_head_comes_back() {
    let file = session(600);
    let head = blocks(&file)[0].clone();
    let mut hit = Hit::on(&file);
    let every = if at_length() { 1 } else { 7 };
    for bit in (0..8 * head.end).step_by(every) {
        let found = hit.flipped(bit / 8, 1 << (bit % 8));
        assert!(same(&hit.whole, &found), "bit {bit}: {:?}", found.damage);
        // A small letter in a checksum is the same digit.
        assert!(found.damage.len() <= 1, "bit {bit}: {:?}", found.damage);
        assert_eq!(lost(&found), 0);
    }
}

#[test]
fn a_head_that_cannot_be_read_is_set_aside_and_later_lines_repair_it() {
    let rig = Rig { name: "Later".to_owned(), raw_bits: Some(10), ..Rig::default() };
    let mut writer = Writer::new(Vec::new(), &about(), Some(&dialect())).expect("a writer");
    for i in 0..1400_u32 {
        let at = u64::from(i) * 4000;
        writer.append(at, stream(i..i + 1).as_bytes()).expect("written");
        if i == 700 {
            writer.rig(at, &rig).expect("written");
        }
    }
    let file = writer.finish().expect("finished");
    let end = blocks(&file)[0].end;
    for wiped in [0..end / 2, 40..44, 0..end - 20] {
        let mut hit = file.clone();
        hit[wiped.clone()].fill(b'U');
        let found = opened(&hit);
        assert_eq!(counter(&found.session), (0..1400).collect::<Vec<i32>>(), "{wiped:?}");
        assert_eq!(found.session.about.rig.as_ref().map(|r| r.name.as_str()), Some("Later"));
        let [head] = &found.damage[..] else { panic!("{:?}", found.damage) };
        assert_eq!(head.kind, DamageKind::Header);
    }
    // The head is gone altogether: the dialect is recognised, and what is unknown is said.
    let found = opened(&file[end..]);
    assert_eq!(found.damage[0].kind, DamageKind::Header);
    assert!(found.damage[0].words.contains("head is missing"), "{}", found.damage[0].words);
    assert_eq!((found.session.rows(), lost(&found)), (1400, 0));
    // So is a part of the first block.
    let first = counters(&file[blocks(&file)[1].clone()]).len();
    let found = opened(&file[end + 20..]);
    assert_eq!((found.session.rows(), found.damage.len()), (1400 - first, 2), "{:?}", found.damage);
    assert!(lost(&found).abs_diff(first as u64) <= 1, "{:?}", found.damage);
}

#[test]
fn a_cut_anywhere_in_the_last_8_kib_keeps_every_whole_line() {
    let file = session(if at_length() { 29_000 } else { 900 });
    let hit = Hit::on(&file);
    let step = if at_length() { 1 } else { 13 };
    let lengths = (0..=8 << 10).step_by(step).map(|gone| file.len() - gone);
    for length in lengths {
        hit.file.set_len(length as u64).expect("cut");
        let found = hit.open();
        let whole = &file[..file[..length].iter().rposition(|b| *b == b'\n').expect("a line") + 1];
        assert_eq!(counter(&found.session), counters(whole), "{length}");
        // The line feed alone may be missing behind the last checkpoint.
        assert_eq!(found.damage.is_empty(), length + 1 >= file.len(), "{length}");
        if let Some(last) = found.damage.last() {
            assert!(last.byte as usize <= length, "{last:?}");
        }
    }
}

#[test]
fn a_recording_whose_first_line_was_hit_is_still_no_place_for_an_output() {
    let mut file = session(600);
    file[3] ^= 1;
    file[9] ^= 2;
    let hit = Hit::on(&session(600));
    std::fs::write(&hit.path, &file).expect("written");
    assert!(trimbench::session::file::is_recording(&hit.path).expect("read"));
    assert!(same(&hit.whole, &hit.open()), "{:?}", hit.open().damage);
}

fn kinds(found: &Opened) -> Vec<DamageKind> {
    found.damage.iter().map(|d: &Damage| d.kind).collect()
}

#[test]
fn blocks_that_were_moved_doubled_or_dropped_are_known_by_their_numbers() {
    let file = session(3000);
    let blocks = blocks(&file);
    let whole = opened(&file);
    let put = |order: &[usize]| -> Vec<u8> {
        order.iter().flat_map(|k| file[blocks[*k].clone()].iter().copied()).collect()
    };
    let all: Vec<usize> = (0..blocks.len()).collect();
    let mut random = ChaCha8Rng::seed_from_u64(4);
    for _ in 0..30 {
        let (a, b) = (random.random_range(1..blocks.len()), random.random_range(1..blocks.len()));
        let mut swapped = all.clone();
        swapped.swap(a, b);
        let found = opened(&put(&swapped));
        assert!(same(&whole, &found), "{a} {b}: {:?}", found.damage);
        assert_eq!(found.damage.is_empty(), a == b, "{a} {b}");
        assert!(kinds(&found).iter().all(|k| *k == DamageKind::Moved), "{:?}", found.damage);

        let mut doubled = all.clone();
        doubled.insert(b, a);
        let found = opened(&put(&doubled));
        assert!(same(&whole, &found), "{a} {b}: {:?}", found.damage);
        assert!(!found.damage.is_empty() && lost(&found) == 0, "{a} {b}: {:?}", found.damage);

        let dropped: Vec<usize> = all.iter().copied().filter(|k| *k != a).collect();
        let found = opened(&put(&dropped));
        let gone = counters(&file[blocks[a].clone()]);
        let kept = (0..3000).filter(|n| !gone.contains(n)).collect::<Vec<i32>>();
        assert_eq!(counter(&found.session), kept, "{a}");
        if a + 1 == blocks.len() {
            assert_eq!(kinds(&found), [DamageKind::Unended]);
            continue;
        }
        assert_eq!(kinds(&found), [DamageKind::Lines], "{a}: {:?}", found.damage);
        assert_eq!(lost(&found), gone.len() as u64);
        assert_eq!(found.damage[0].byte as usize, blocks[a].start);
        let told = found.session.tracks(&Rig::default()).stream;
        assert_eq!((told.lost, told.resets.len()), (Some(gone.len() as u64), 0));
    }
}

#[test]
fn a_session_joined_behind_another_is_left_out_and_its_place_is_said() {
    let (first, second) = (session(1000), session(600));
    for cut in [0, 7, 1500] {
        let kept = &first[..first.len() - cut];
        let alone = opened(kept);
        let found = opened(&[kept, &second].concat());
        assert!(same(&alone, &found), "{cut}: {:?}", found.damage);
        let joined = found.damage.iter().find(|d| d.kind == DamageKind::Joined).expect("said");
        assert_eq!(joined.byte as usize, kept.len());
        assert!(joined.words.contains("600 records"), "{}", joined.words);
    }
}

#[test]
fn line_ends_that_a_transfer_changed_are_undone() {
    let file = session(1200);
    let text = String::from_utf8(file.clone()).expect("ASCII");
    let whole = opened(&file);
    let found = opened(text.replace('\n', "\r\n").as_bytes());
    assert!(same(&whole, &found), "{:?}", found.damage);
    assert_eq!(kinds(&found), [DamageKind::LineEnds]);
    assert!(found.damage[0].is_undone());
    // A block of such a file that is hit is lost alone.
    let mut bytes = text.replace('\n', "\r\n").into_bytes();
    let range = blocks(&bytes)[2].clone();
    bytes[range.start + 50] ^= 4;
    let found = opened(&bytes);
    assert_eq!(lost(&found), counters(&bytes[range.clone()]).len() as u64);
    let hit = found.damage.iter().find(|d| d.kind == DamageKind::Block).expect("named");
    assert_eq!(hit.byte as usize, range.start);
}

#[test]
fn an_undone_mark_stays_undone_where_lines_are_missing_before_it() {
    let mut writer = Writer::new(Vec::new(), &about(), Some(&dialect())).expect("a writer");
    let mut slip = 0;
    for i in 0..1500_u32 {
        let at = u64::from(i) * 4000;
        writer.append(at, stream(i..i + 1).as_bytes()).expect("written");
        let mark =
            |word: &str| trimbench::rig::Mark::new(word, "").set_at(trimbench::rig::HostUs(at));
        match i {
            1000 => slip = writer.mark(&mark("slip")).expect("written"),
            1001 => drop(writer.mark(&mark("rest")).expect("written")),
            1100 => drop(writer.undo(at, slip).expect("written")),
            _ => {}
        }
    }
    let file = writer.finish().expect("finished");
    let gone = blocks(&file)[2].clone();
    let cut = [&file[..gone.start], &file[gone.end..]].concat();
    let words = |found: &Opened| {
        found.session.marks().iter().map(|m| m.word.as_str().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(words(&opened(&file)), ["rest"]);
    assert_eq!(words(&opened(&cut)), ["damaged", "rest"]);
}

#[test]
fn a_recording_is_known_by_the_sum_of_its_bytes() {
    let folder = tempfile::tempdir().expect("a folder");
    let of = |name: &str, bytes: &[u8]| {
        let path: PathBuf = folder.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        let found = open(Path::new(&path), &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        let identity = found.expect("opened").session.identity().expect("known").clone();
        assert_eq!(identity.bytes, bytes.len() as u64);
        (identity.sha256, path)
    };
    let log = format!("\u{feff}{}", stream(0..700));
    let wide: Vec<u8> = stream(0..700).encode_utf16().flat_map(u16::to_le_bytes).collect();
    for (name, bytes) in [("a", session(600)), ("b", log.into_bytes()), ("c", wide)] {
        let (sum, path) = of(name, &bytes);
        let Ok(said) = std::process::Command::new("sha256sum").arg(&path).output() else { return };
        let said = String::from_utf8(said.stdout).expect("ASCII");
        assert_eq!(said.split(' ').next(), Some(sum.as_str()), "{name}");
    }
}
