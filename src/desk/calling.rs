//! The roll-call over a link without a window: frames in, prompts and marks out.
use std::time::{Duration, Instant};

use crate::guide::{Guide, Out, Parts};
use crate::rig::Rig;
use crate::session::{About, Session};
use crate::source::Recorder;
use crate::virtual_board::Hand;

use super::capture::CaptureSays;
use super::guided::{control_fields, look};
use super::naming::{Naming, name_fields};

/// Time between two looks at what answered.
const LOOK: Duration = Duration::from_millis(100);
/// Rows by which the form of the stream is known.
const KNOWN_ROWS: usize = 64;

/// A roll-call under way.
pub(super) struct Caller {
    session: Session,
    rig: Rig,
    hand: Option<Hand>,
    guide: Option<Guide>,
    first_row: usize,
    looked: Instant,
    said: String,
    naming: Option<Naming>,
}

impl Caller {
    pub(super) fn new(about: About, hand: Option<Hand>) -> Caller {
        Caller {
            rig: about.rig.clone().unwrap_or_default(),
            session: Session::new(about),
            hand,
            guide: None,
            first_row: 0,
            looked: Instant::now(),
            said: String::new(),
            naming: None,
        }
    }

    /// Takes in what came and asks on; gives true when every control was asked for.
    pub(super) fn look(
        &mut self,
        recorder: &Recorder,
        report: &mut dyn FnMut(CaptureSays<'_>),
    ) -> bool {
        for delivery in recorder.drain() {
            self.session.append(&delivery.chunk);
            delivery.marks.into_iter().for_each(|mark| self.session.mark(mark));
        }
        if self.looked.elapsed() < LOOK || self.session.rows() < KNOWN_ROWS {
            return false;
        }
        self.looked = Instant::now();
        let rows = self.first_row..self.session.rows();
        let outs = match &mut self.guide {
            Some(guide) => look(guide, &self.session, rows, &self.rig, false),
            None => {
                let tracks = self.session.tracks_of(rows, &self.rig);
                let parts = Parts::of(&tracks, control_fields(&self.session), &self.rig);
                self.guide.insert(Guide::roll_call(parts)).start()
            }
        };
        let over = self.carry_out(outs, recorder);
        if let Some(guide) = &self.guide
            && !over
            && self.said != guide.prompt().title
        {
            self.said.clone_from(&guide.prompt().title);
            report(CaptureSays::Prompt(guide.prompt()));
        }
        over
    }

    fn carry_out(&mut self, outs: Vec<Out>, recorder: &Recorder) -> bool {
        let mut over = false;
        for out in outs {
            match out {
                Out::Mark(mark) => {
                    let call = mark.call().map(|(control, _)| control);
                    recorder.mark(mark);
                    if let (Some(hand), Some(control)) = (&self.hand, call) {
                        hand.call(control);
                    }
                }
                Out::Begin(task) => {
                    self.first_row = self.session.rows();
                    if let Some(hand) = &self.hand {
                        hand.prompt(Some(task));
                    }
                }
                Out::Heard => {
                    let heard = self.guide.as_ref().and_then(Guide::heard);
                    self.naming = heard.and_then(|h| name_fields(&self.session, &self.rig, h));
                    let outs = self.guide.as_mut().map(Guide::go_on).unwrap_or_default();
                    over |= self.carry_out(outs, recorder);
                }
                Out::Review => over = true,
            }
        }
        over
    }

    /// What was found, once every control was asked for.
    pub(super) fn naming(self) -> Option<Naming> {
        self.naming
    }
}
