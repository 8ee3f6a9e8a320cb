//! Addresses to links, replay of a recording, and the recorder thread that owns a link.
mod address;
mod comeback;
mod counters;
mod pace;
mod keep_alive;
mod paced;
mod recorder;
mod replay;

#[cfg(unix)]
pub mod pty;

pub use address::{Address, BadAddress};
pub use comeback::{Attempt, Comeback, Loss, Patience};
pub use counters::{Counters, LinkState};
pub use pace::{BadPace, Pace};
pub use paced::Paced;
pub use recorder::{BACKLOG_ROWS, Delivery, DiskWriter, Plan, Recorder};
pub use replay::Replay;

use std::sync::Arc;

use crate::link::serial::{ControlLine, SerialOptions, SystemPorts};
use crate::link::{Link, LinkError};
use crate::rig::Rig;
use crate::session::Intake;
use crate::virtual_board::{Hand, Options, Scenario, VirtualBoard};
use crate::wire::{Dialect, SecondForm};

/// How an address is to be opened, beyond what it says itself.
#[derive(Clone, Debug)]
pub struct Wishes {
    /// Data terminal ready on open (serial).
    pub dtr: ControlLine,
    /// Request to send on open (serial).
    pub rts: ControlLine,
    /// Seed of the virtual board.
    pub seed: u64,
    /// How fast a recording or the virtual board goes.
    pub pace: Pace,
}

impl Default for Wishes {
    fn default() -> Wishes {
        let as_is = ControlLine::AsIs;
        Wishes { dtr: as_is, rts: as_is, seed: 1, pace: Pace::default() }
    }
}

/// A source that has been opened.
pub struct Source {
    /// The link.
    pub link: Box<dyn Link>,
    /// How to open it again after it went away; `None` = then it is over.
    pub reopen: Option<Comeback>,
    /// Which of several like boards it is.
    pub which: Option<String>,
    /// The parts list that comes with it (virtual board, recording).
    pub rig: Option<Rig>,
    /// The dialect that comes with it (virtual board, recording).
    pub dialect: Option<Dialect>,
    /// The scripted hand (virtual board); a real board never has one.
    pub hand: Option<Hand>,
    /// A recording that tells no time: its rows come at an even pace, and when they come means nothing.
    pub clockless: bool,
    /// It is a recording, with the second form of its lines if it has one; `None` = nobody knows yet what a
    /// board will print.
    pub recorded: Option<Option<SecondForm>>,
}

impl Source {
    /// What frames its bytes: without host times where those mean nothing; a second form of lines is that
    /// of the recording, or looked for. Who names a dialect wants that form alone.
    pub fn intake(&self, named: Option<Dialect>) -> Intake {
        let only = named.is_some();
        let dialect = named.or(self.dialect.clone());
        let mut intake = match self.clockless {
            true => Intake::untimed(dialect),
            false => Intake::new(dialect),
        };
        match &self.recorded {
            _ if only => {}
            Some(second) => second.iter().for_each(|second| intake.also_read(second.clone())),
            None => intake.look_for_second(),
        }
        intake
    }

    /// What is to be known of it: which of like boards it is, or that it tells no time.
    pub fn said(&self) -> Vec<String> {
        self.which.iter().cloned().chain(self.clockless_words()).collect()
    }

    fn clockless_words(&self) -> Option<String> {
        let name = self.link.name();
        self.clockless.then(|| {
            format!(
                "{name} tells no time: its rows are played at an even pace, and nothing is measured in \
                 time; state a rate, or print the board's clock"
            )
        })
    }
}

/// Opens an address.
///
/// # Errors
/// With the reason and what to do: [`LinkError::Busy`] for a port that another program holds, else
/// [`LinkError::Refused`].
pub fn open(address: &Address, wishes: &Wishes) -> Result<Source, LinkError> {
    match address {
        Address::Serial { .. } if wishes.pace != Pace::default() => {
            let text = format!("{address}: a board sets its own pace; leave the pace out");
            Err(LinkError::Refused(text))
        }
        Address::Serial { path, baud } => {
            let options =
                SerialOptions { path: path.clone(), baud: *baud, dtr: wishes.dtr, rts: wishes.rts };
            let ports = Arc::new(SystemPorts);
            let (comeback, link) = Comeback::begin(ports, options, Patience::default())?;
            Ok(Source { which: comeback.among_like(), reopen: Some(comeback), ..plain(link) })
        }
        Address::Virtual { scenario } => open_virtual(scenario, wishes),
        Address::File { path } => {
            let link = Replay::open(path, wishes.pace)?;
            let (rig, dialect) = (link.rig().cloned(), Some(link.dialect().clone()));
            let (clockless, recorded) = (link.is_clockless(), Some(link.second().cloned()));
            Ok(Source { rig, dialect, clockless, recorded, ..plain(Box::new(link)) })
        }
    }
}

fn open_virtual(scenario: &str, wishes: &Wishes) -> Result<Source, LinkError> {
    let refuse = |e: &dyn std::fmt::Display| LinkError::Refused(format!("virtual board: {e}"));
    let Pace::Times(speed) = wishes.pace else {
        let why =
            "in a link it lives in real time; `trimbench virtual --out FILE` plays it flat out";
        return Err(refuse(&why));
    };
    let scenario: Scenario = scenario.parse().map_err(|e| refuse(&e))?;
    let name = scenario.to_string();
    let options = Options { scenario, seed: wishes.seed, ..Options::default() };
    let board = VirtualBoard::new(&options).map_err(|e| refuse(&e))?;
    let (rig, dialect, hand) = (board.rig().clone(), board.dialect().clone(), board.hand());
    let link = Box::new(Paced::new(board, &name, speed));
    Ok(Source { rig: Some(rig), dialect: Some(dialect), hand: Some(hand), ..plain(link) })
}

fn plain(link: Box<dyn Link>) -> Source {
    Source {
        link,
        reopen: None,
        which: None,
        rig: None,
        dialect: None,
        hand: None,
        clockless: false,
        recorded: None,
    }
}
