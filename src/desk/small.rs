//! Small text files that people write: read whole, up to a bound, whatever their name leads to.
use std::io::Read;
use std::path::Path;

/// Largest parts list, dialect, record or file of edits that is read, bytes.
pub const SMALL_MOST: u64 = 4 << 20;

/// Reads a text of at most [`SMALL_MOST`] bytes; a device without an end is too long.
///
/// # Errors
/// In words, without the file's name: it cannot be read, is too long, or is no UTF-8.
pub fn small_text(path: &Path) -> Result<String, String> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(SMALL_MOST + 1).read_to_end(&mut bytes))
        .map_err(|e| format!("cannot be read ({e})"))?;
    if bytes.len() as u64 > SMALL_MOST {
        return Err("longer than 4 MB, which no such file is; name another".to_owned());
    }
    String::from_utf8(bytes).map_err(|e| {
        let place = e.utf8_error().valid_up_to();
        format!("no text in UTF-8 (byte {}); save it as UTF-8", place + 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_small_text_is_refused_in_words() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.ron");
        std::fs::write(&path, b"caf\xe9").expect("written");
        assert!(small_text(&path).expect_err("no UTF-8").contains("byte 4"));
        std::fs::write(&path, vec![b' '; SMALL_MOST as usize]).expect("written");
        assert!(small_text(&path).is_ok());
        assert!(small_text(folder.path()).expect_err("a folder").contains("cannot be read"));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_without_an_end_is_refused() {
        assert!(small_text(Path::new("/dev/zero")).expect_err("endless").contains("longer than"));
    }
}
