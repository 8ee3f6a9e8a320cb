//! A port that went away or was handed over: when it is opened again, and that it is the same board.
//!
//! Whoever opens a port too soon, or one that only has the old name, breaks somebody's upload: so a
//! board that vanished is left alone for a while, and nothing but its own id is ever opened.
use std::sync::Arc;
use std::time::Duration;

use crate::link::board::{Board, Ports, Whereabouts};
use crate::link::serial::SerialOptions;
use crate::link::{Link, LinkError};

/// How long is waited for what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// After a sudden loss nothing is opened: an upload may be under way.
    pub vanished: Duration,
    /// A board that was handed over has to stand so long before it counts as back.
    pub settled: Duration,
    /// How often is looked.
    pub look: Duration,
}

impl Default for Patience {
    fn default() -> Patience {
        Patience {
            vanished: Duration::from_secs(10),
            settled: Duration::from_secs(2),
            look: Duration::from_millis(200),
        }
    }
}

/// How a port was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// It went away.
    Vanished,
    /// It was closed for another program.
    HandedOver,
}

/// What came of looking.
pub enum Attempt {
    /// Nothing new.
    Nothing,
    /// It is not to be had: a new reason.
    Absent(String),
    /// It is open again; in words, after how long and where.
    Back(Box<dyn Link>, String),
}

/// Opens one board's port, and opens it again. Times are since any one moment.
pub struct Comeback {
    ports: Arc<dyn Ports>,
    board: Board,
    options: SerialOptions,
    patience: Patience,
    away: Option<Away>,
}

struct Away {
    since: Duration,
    loss: Loss,
    looked: Duration,
    /// It was seen to be away since.
    was_away: bool,
    here_since: Option<Duration>,
    taken_back: bool,
    /// The last reason, which is said once.
    said: String,
}

impl Comeback {
    /// Opens the port.
    ///
    /// # Errors
    /// As [`Ports::open`].
    pub fn begin(
        ports: Arc<dyn Ports>,
        options: SerialOptions,
        patience: Patience,
    ) -> Result<(Comeback, Box<dyn Link>), LinkError> {
        let link = ports.open(&options)?;
        let board = Board::at(&options.path, ports.as_ref());
        Ok((Comeback { ports, board, options, patience, away: None }, link))
    }

    /// Which board it is, where others like it stand beside it.
    pub fn among_like(&self) -> Option<String> {
        self.board.among_like(self.ports.as_ref())
    }

    /// The port was lost.
    pub fn lost(&mut self, at: Duration, loss: Loss) {
        self.away = Some(Away {
            since: at,
            loss,
            looked: at,
            was_away: false,
            here_since: None,
            taken_back: false,
            said: String::new(),
        });
    }

    /// A person says that the other program has done: the port is opened as soon as it is there.
    pub fn take_back(&mut self) {
        if let Some(away) = &mut self.away {
            away.taken_back = true;
        }
    }

    /// Looks, when it is time to.
    pub fn attempt(&mut self, at: Duration) -> Attempt {
        let Some(away) = &mut self.away else { return Attempt::Nothing };
        if at < away.looked + self.patience.look {
            return Attempt::Nothing;
        }
        away.looked = at;
        let path = match self.board.find(self.ports.as_ref()) {
            Whereabouts::Here(path) => path,
            Whereabouts::Away(why) => {
                away.was_away = true;
                away.here_since = None;
                return away.say(why);
            }
        };
        let here_since = *away.here_since.get_or_insert(at);
        if !away.is_due(at, here_since, self.patience) {
            return Attempt::Nothing;
        }
        match self.ports.open(&SerialOptions { path: path.clone(), ..self.options.clone() }) {
            Ok(link) => {
                let after_s = (at - away.since).as_secs_f64();
                let words = format!("after {after_s:.1} s as {path} ({})", self.board);
                self.away = None;
                Attempt::Back(link, words)
            }
            Err(e) => away.say(e.to_string()),
        }
    }
}

impl Away {
    fn is_due(&self, at: Duration, here_since: Duration, patience: Patience) -> bool {
        match self.loss {
            _ if self.taken_back => true,
            Loss::Vanished => at >= self.since + patience.vanished,
            // A converter's port stays while the chip behind it is written: then a person says so.
            Loss::HandedOver => self.was_away && at >= here_since + patience.settled,
        }
    }

    fn say(&mut self, why: String) -> Attempt {
        if self.said == why {
            return Attempt::Nothing;
        }
        self.said.clone_from(&why);
        Attempt::Absent(why)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::board::PortEntry;

    /// A machine whose one port is always there and opens.
    struct Standing;

    struct Mute;

    impl Link for Mute {
        fn name(&self) -> &str {
            "mute"
        }

        fn read(&mut self, _: &mut [u8], _: Duration) -> Result<usize, LinkError> {
            Ok(0)
        }

        fn write(&mut self, _: &[u8]) -> Result<(), LinkError> {
            Ok(())
        }
    }

    impl Ports for Standing {
        fn list(&self) -> Result<Vec<PortEntry>, LinkError> {
            Ok(Vec::new())
        }

        fn open(&self, _: &SerialOptions) -> Result<Box<dyn Link>, LinkError> {
            Ok(Box::new(Mute))
        }

        fn device(&self, path: &str) -> Option<String> {
            Some(path.to_owned())
        }
    }

    fn begun() -> Comeback {
        let options = SerialOptions::new("/dev/a", 115_200);
        let begun = Comeback::begin(Arc::new(Standing), options, Patience::default());
        begun.expect("opened").0
    }

    /// The first tenth of a second at which it is open again, within a minute.
    fn back_after(comeback: &mut Comeback) -> Option<u64> {
        let at = |tenths: u64| Duration::from_secs(100) + Duration::from_millis(100 * tenths);
        (1..600).find(|&tenths| matches!(comeback.attempt(at(tenths)), Attempt::Back(..)))
    }

    #[test]
    fn nothing_is_opened_for_ten_seconds_after_a_sudden_loss() {
        let mut comeback = begun();
        comeback.lost(Duration::from_secs(100), Loss::Vanished);
        assert_eq!(back_after(&mut comeback), Some(100));
    }

    #[test]
    fn a_port_that_stays_is_taken_back_only_when_somebody_says_so() {
        let mut comeback = begun();
        comeback.lost(Duration::from_secs(100), Loss::HandedOver);
        assert_eq!(back_after(&mut comeback), None);
        comeback.lost(Duration::from_secs(100), Loss::HandedOver);
        comeback.take_back();
        assert_eq!(back_after(&mut comeback), Some(2));
    }
}
