//! A sample of a file's lines, spread over the whole of it, for recognition.
use std::io::{self, Read, Seek, SeekFrom};

/// Bytes read from the beginning.
const HEAD: u64 = 65_536;
/// Bytes read at each further place.
const PIECE: u64 = 16_384;
/// Further places.
const PIECES: u64 = 60;

/// Whole lines from the beginning of `file` and from places all over it, about 1 MB.
///
/// A mask may idle and a trigger may rest for long, so the first lines alone do not tell the type
/// of a column. `line` hands on what of a line belongs to the sample, with its LF.
pub(super) fn spread<F: Read + Seek>(
    file: &mut F,
    bytes: u64,
    mut line: impl FnMut(&[u8], &mut Vec<u8>),
) -> io::Result<Vec<u8>> {
    let mut sample = Vec::new();
    let whole = bytes <= HEAD + PIECES * PIECE;
    let mut piece = read_at(file, 0, if whole { bytes } else { HEAD })?;
    if whole && piece.last().is_some_and(|b| *b != b'\n') {
        piece.push(b'\n');
    }
    take(&piece, &mut line, &mut sample);
    if !whole {
        for k in 0..PIECES {
            let at = HEAD + (bytes - HEAD - PIECE) * k / (PIECES - 1);
            let piece = read_at(file, at, PIECE)?;
            if let Some(first) = memchr::memchr(b'\n', &piece) {
                take(&piece[first + 1..], &mut line, &mut sample);
            }
        }
    }
    file.seek(SeekFrom::Start(0))?;
    Ok(sample)
}

fn read_at<F: Read + Seek>(file: &mut F, at: u64, bytes: u64) -> io::Result<Vec<u8>> {
    let mut piece = Vec::new();
    file.seek(SeekFrom::Start(at))?;
    file.take(bytes).read_to_end(&mut piece)?;
    Ok(piece)
}

fn take(piece: &[u8], line: &mut impl FnMut(&[u8], &mut Vec<u8>), sample: &mut Vec<u8>) {
    let Some(last) = memchr::memrchr(b'\n', piece) else {
        // One endless line: recognition has to see it to say so.
        return sample.extend_from_slice(piece);
    };
    for text in piece[..=last].split_inclusive(|b| *b == b'\n') {
        line(text, sample);
    }
}
