//! Addresses to links, replay of a recording, and the recorder thread that owns a link.
mod address;
mod recorder;

#[cfg(unix)]
pub mod pty;

pub use address::{Address, BadAddress};
pub use recorder::{
    BACKLOG_ROWS, Counters, Delivery, DiskWriter, LinkState, Opener, Plan, Recorder,
};

use crate::link::serial::{ControlLine, SerialLink, SerialOptions};
use crate::link::{Link, LinkError};
use crate::rig::Rig;
use crate::wire::Dialect;

/// How an address is to be opened, beyond what it says itself.
#[derive(Clone, Debug)]
pub struct Wishes {
    /// Data terminal ready on open (serial).
    pub dtr: ControlLine,
    /// Request to send on open (serial).
    pub rts: ControlLine,
}

impl Default for Wishes {
    fn default() -> Wishes {
        Wishes { dtr: ControlLine::AsIs, rts: ControlLine::AsIs }
    }
}

/// A source that has been opened.
pub struct Source {
    /// The link.
    pub link: Box<dyn Link>,
    /// How to open it again after it went away; `None` = then it is over.
    pub reopen: Option<Opener>,
    /// The parts list that comes with it (virtual board).
    pub rig: Option<Rig>,
    /// The dialect that comes with it (virtual board).
    pub dialect: Option<Dialect>,
}

/// Opens an address.
///
/// # Errors
/// [`LinkError::Refused`] with the reason and what to do.
pub fn open(address: &Address, wishes: &Wishes) -> Result<Source, LinkError> {
    match address {
        Address::Serial { path, baud } => {
            let options =
                SerialOptions { path: path.clone(), baud: *baud, dtr: wishes.dtr, rts: wishes.rts };
            let link: Box<dyn Link> = Box::new(SerialLink::open(&options)?);
            let again: Opener =
                Box::new(move || Ok(Box::new(SerialLink::open(&options)?) as Box<dyn Link>));
            Ok(Source { link, reopen: Some(again), rig: None, dialect: None })
        }
        other => Err(LinkError::Refused(format!("{other}: not yet"))),
    }
}
