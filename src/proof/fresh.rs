//! Fresh data only: the session that the constants were fitted to is known by its first rows.
use crate::rig::AxisId;
use crate::session::{Session, Tracks};
use crate::trim::Trim;

/// Rows that a fingerprint looks at.
const ROWS: usize = 2000;

const CRC: crc::Crc<u32> = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);

/// The session is the one that the constants were fitted to.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "these are the readings that the constants were fitted to ({how}), they prove nothing; record \
     the flashed board anew"
)]
pub struct NotFresh {
    /// How it was known.
    pub how: String,
}

/// What a session is known by: number of rows looked at and a checksum over their times, raw codes
/// and buttons. A copy that was cut or goes on further has the same one.
///
/// Cost: O(1), at most 2 000 rows.
pub fn fingerprint(tracks: &Tracks) -> String {
    let rows = tracks.rows().min(ROWS);
    let mut digest = CRC.digest();
    let first = tracks.t_us.first().copied().unwrap_or(0);
    for row in 0..rows {
        digest.update(&(tracks.t_us[row] - first).to_le_bytes());
        for axis in AxisId::ALL {
            if let Some(code) = tracks.axis(axis).and_then(|column| column.get(row)) {
                digest.update(&code.to_le_bytes());
            }
        }
        if let Some(mask) = tracks.buttons.as_ref().and_then(|column| column.get(row)) {
            digest.update(&mask.to_le_bytes());
        }
    }
    format!("first {rows} rows, CRC-32 {:08X}", digest.finalize())
}

/// Errors: [`NotFresh`].
pub(super) fn ensure(session: &Session, tracks: &Tracks, trim: &Trim) -> Result<(), NotFresh> {
    let have = fingerprint(tracks);
    if !trim.fitted_to.is_empty() {
        let how = format!("same {have}");
        return if trim.fitted_to == have { Err(NotFresh { how }) } else { Ok(()) };
    }
    let created = session.about.created.as_str();
    if !created.is_empty() && created == trim.session_date {
        return Err(NotFresh { how: format!("same date {created}") });
    }
    Ok(())
}
