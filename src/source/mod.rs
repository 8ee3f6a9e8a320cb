//! Addresses to links, replay of a recording, and the recorder thread that owns a link.
mod address;
mod paced;
mod recorder;

#[cfg(unix)]
pub mod pty;

pub use address::{Address, BadAddress};
pub use paced::Paced;
pub use recorder::{
    BACKLOG_ROWS, Counters, Delivery, DiskWriter, LinkState, Opener, Plan, Recorder,
};

use crate::link::serial::{ControlLine, SerialLink, SerialOptions};
use crate::link::{Link, LinkError};
use crate::rig::Rig;
use crate::virtual_board::{Hand, Options, Scenario, VirtualBoard};
use crate::wire::Dialect;

/// How an address is to be opened, beyond what it says itself.
#[derive(Clone, Debug)]
pub struct Wishes {
    /// Data terminal ready on open (serial).
    pub dtr: ControlLine,
    /// Request to send on open (serial).
    pub rts: ControlLine,
    /// Seed of the virtual board.
    pub seed: u64,
}

impl Default for Wishes {
    fn default() -> Wishes {
        let as_is = ControlLine::AsIs;
        Wishes { dtr: as_is, rts: as_is, seed: 1 }
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
    /// The scripted hand (virtual board); a real board never has one.
    pub hand: Option<Hand>,
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
            Ok(Source { link, reopen: Some(again), rig: None, dialect: None, hand: None })
        }
        Address::Virtual { scenario } => open_virtual(scenario, wishes),
        Address::File { .. } => Err(LinkError::Refused(format!("{address}: open it as a file"))),
    }
}

fn open_virtual(scenario: &str, wishes: &Wishes) -> Result<Source, LinkError> {
    let refuse = |e: &dyn std::fmt::Display| LinkError::Refused(format!("virtual board: {e}"));
    let scenario: Scenario = scenario.parse().map_err(|e| refuse(&e))?;
    let name = scenario.to_string();
    let options = Options { scenario, seed: wishes.seed, ..Options::default() };
    let board = VirtualBoard::new(&options).map_err(|e| refuse(&e))?;
    let (rig, dialect, hand) = (board.rig().clone(), board.dialect().clone(), board.hand());
    let link = Box::new(Paced::new(board, &name, 1.0));
    Ok(Source { link, reopen: None, rig: Some(rig), dialect: Some(dialect), hand: Some(hand) })
}
