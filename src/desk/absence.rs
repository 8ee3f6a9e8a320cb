//! What a link that goes away and comes back has to say, and a port that another program holds.
use std::path::PathBuf;
use std::time::{Duration, Instant};

use crate::rig::{HostUs, Mark, Word};
use crate::source::{Address, Wishes};

use super::recording::Keep;
use super::{Desk, Weight};

/// How long a port that another program holds is tried: desktop services look at a new port for some
/// seconds (up to half a minute, from memory).
pub const BUSY_FOR: Duration = Duration::from_secs(30);
/// How often.
pub(super) const BUSY_AGAIN: Duration = Duration::from_millis(500);

/// A port that is waited for.
pub(super) struct Busy {
    address: Address,
    wishes: Wishes,
    folder: Option<PathBuf>,
    since: Instant,
    tried: Instant,
}

/// The news of a link, in words; `back` says how a port that was handed over is taken back.
pub(super) fn told(news: &Mark<HostUs>, name: &str, back: &str) -> String {
    match news.word {
        Word::Gone => format!(
            "{name} went away; it is opened again when the same board is back, not before 10 s have \
             passed (an upload may be under way)"
        ),
        Word::HandedOver => format!(
            "{name} is handed over: another program may have it. It is opened again when its board has \
             been away and is back, or at once when you say so ({back})"
        ),
        Word::Back => format!("{name} is back {}", news.text),
        _ => format!("{name}: {}", news.text),
    }
}

/// Whether a port stands handed over behind this news, `before` before it.
pub(super) fn is_handed_over(before: bool, news: &Word) -> bool {
    match news {
        Word::HandedOver => true,
        Word::Back | Word::Gone => false,
        _ => before,
    }
}

/// What to say of a busy port that is tried again.
pub(super) fn tried_again(why: &str) -> String {
    format!("{why}; it is tried again for {} s", BUSY_FOR.as_secs())
}

impl Desk {
    /// Waits for a port that another program holds.
    pub(super) fn wait_for_port(
        &mut self,
        address: &Address,
        wishes: &Wishes,
        keep: Keep<'_>,
        why: &str,
    ) {
        let folder = match keep {
            Keep::Nothing => None,
            Keep::Into(folder) => Some(folder.to_owned()),
        };
        let now = Instant::now();
        // One that waits already goes on from its own beginning.
        let since = self.busy.take().filter(|b| b.address == *address).map_or(now, |b| b.since);
        let (address, wishes) = (address.clone(), wishes.clone());
        if since == now {
            self.notify(Weight::Note, tried_again(why));
        }
        self.busy = Some(Busy { address, wishes, folder, since, tried: now });
    }

    /// Tries a port that was busy again.
    pub(super) fn try_busy(&mut self) {
        let due = |busy: &mut Busy| busy.tried.elapsed() >= BUSY_AGAIN;
        let Some(busy) = self.busy.take_if(due) else { return };
        let keep = busy.folder.as_deref().map_or(Keep::Nothing, Keep::Into);
        let late = busy.since.elapsed() >= BUSY_FOR;
        let since = busy.since;
        match self.try_connect(&busy.address, &busy.wishes, keep) {
            Ok(()) => self.notify(Weight::Done, format!("{} is open", busy.address)),
            Err(crate::link::LinkError::Busy(_)) if !late => {
                self.busy = Some(Busy { tried: Instant::now(), since, ..busy });
            }
            Err(why) => self.notify(Weight::Refused, why.to_string()),
        }
    }

    /// Closes the port for another program (an upload), until its board is back; asked again, opens
    /// it as soon as it is there.
    pub fn hand_over(&mut self) {
        match &self.feed {
            super::Feed::Live(live) if matches!(live.address, Address::Serial { .. }) => {
                live.recorder.hand_over();
            }
            _ => self.notify(Weight::Note, "Nothing to hand over: no serial port is open"),
        }
    }

    /// Says what the link has done, and offers the proof when a board is back that was handed over.
    pub(super) fn take_link_news(&mut self) {
        let super::Feed::Live(live) = &mut self.feed else { return };
        let name = live.address.to_string();
        let news: Vec<Mark<HostUs>> = live.recorder.news().collect();
        for mark in news {
            let handed = self.handed_over;
            self.handed_over = is_handed_over(handed, &mark.word);
            let text = told(&mark, &name, "Hand over the port in Link once more");
            self.notify(Weight::Note, text);
            if handed && mark.word == Word::Back {
                let offer = "If the board was flashed: Proof holds a fresh session of it against its \
                             constants; connect again for one";
                self.notify(Weight::Note, offer);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn news_say_what_happens_next() {
        let said =
            |word| told(&Mark::new(word, "why").set_at(HostUs(0)), "serial:/dev/a@9600", "key");
        assert!(said(Word::Gone).contains("opened again when the same board is back"));
        assert!(said(Word::HandedOver).contains("(key)"));
        assert_eq!(said(Word::Absent), "serial:/dev/a@9600: why");
        assert_eq!(said(Word::Back), "serial:/dev/a@9600 is back why");
    }
}
