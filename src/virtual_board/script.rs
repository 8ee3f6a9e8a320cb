//! A whole guided run without a guide: which task is asked for at which board time.
use super::Hand;
use crate::rig::{CALL_WORD, Control, Rig, Task};

/// What happens at a point of a script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cue {
    /// A task is asked for.
    Begin(Task),
    /// A control is asked for during the roll-call.
    Call(Control),
    /// Hands off; the recording may end.
    End,
}

impl Cue {
    /// The word that stands for it in a session's marks.
    pub fn word(self) -> &'static str {
        match self {
            Cue::Begin(task) => task.word(),
            Cue::Call(_) => CALL_WORD,
            Cue::End => "end",
        }
    }

    /// The text of that mark.
    pub fn text(self) -> String {
        match self {
            Cue::Call(control) => control.word(),
            Cue::Begin(_) | Cue::End => String::new(),
        }
    }

    /// Asks it of a hand.
    pub fn give(self, hand: &Hand) {
        hand.prompt(self.task());
        if let Cue::Call(control) = self {
            hand.call(control);
        }
    }

    /// What to ask of the hand.
    pub fn task(self) -> Option<Task> {
        match self {
            Cue::Begin(task) => Some(task),
            Cue::Call(_) => Some(Task::RollCall),
            Cue::End => None,
        }
    }
}

/// When the first task is asked for, µs after power-on.
const FIRST_US: u64 = 1_000_000;

/// From one call to the next, µs: axes and buttons.
const CALL_US: [u64; 2] = [1_300_000, 700_000];

/// Rest, roll-call, roll, releases, triggers, buttons, end: µs after power-on, each task once, tasks for which
/// the rig has no part left out. About 130 s for two sticks, two triggers and 15 buttons.
pub fn full_run(rig: &Rig) -> Vec<(u64, Cue)> {
    let mut at_us = FIRST_US;
    let mut cues = Vec::new();
    for task in Task::ALL {
        let length_us = match task {
            Task::Rest => 9_000_000,
            Task::RollCall if !rig.controls().is_empty() => {
                cues.push((at_us, Cue::Begin(task)));
                at_us += 200_000;
                for control in rig.controls() {
                    cues.push((at_us, Cue::Call(control)));
                    at_us += CALL_US[usize::from(matches!(control, Control::Button(_)))];
                }
                at_us += 300_000;
                continue;
            }
            Task::Roll if !rig.sticks.is_empty() => 18_600_000,
            Task::Releases if !rig.sticks.is_empty() => 28_500_000,
            Task::Triggers if !rig.triggers.is_empty() => 26_500_000,
            Task::Buttons if !rig.buttons.is_empty() => {
                1_500_000 + 1_700_000 * rig.buttons.len() as u64
            }
            _ => continue,
        };
        cues.push((at_us, Cue::Begin(task)));
        at_us += length_us;
    }
    cues.push((at_us, Cue::End));
    cues
}

#[cfg(test)]
mod tests {
    use super::super::dice::{Dice, Purpose};
    use super::super::options::bench_rig;
    use super::super::player::PAUSE_US;
    use super::super::strokes::Programme;
    use super::*;

    #[test]
    fn every_task_is_done_once_before_the_next_begins() {
        let cues = full_run(&bench_rig(10));
        for pair in cues.windows(2) {
            let Cue::Begin(task) = pair[0].1 else {
                assert!(matches!(pair[0].1, Cue::Call(_)), "only the last cue ends");
                continue;
            };
            if task == Task::RollCall {
                continue;
            }
            for seed in 0..200 {
                let drawn = Programme::draw(task, 15, &mut Dice::new(seed, Purpose::Hand));
                let room = (pair[1].0 - pair[0].0) as f64;
                assert!(drawn.length_us <= room, "{task:?} {seed}: {} > {room}", drawn.length_us);
                assert!(drawn.length_us + PAUSE_US > room, "{task:?} {seed}: begun anew");
            }
        }
        assert_eq!(cues[cues.len() - 1].1, Cue::End);
        assert!(cues[cues.len() - 1].0 < 140_000_000);
        for (k, control) in bench_rig(10).controls().into_iter().enumerate() {
            let at = cues.iter().position(|c| c.1 == Cue::Call(control)).expect("called");
            for seed in 0..50 {
                let mut dice = Dice::new(seed, Purpose::Hand);
                let length_us = Programme::call(control, &mut dice).length_us;
                assert!(length_us < (cues[at + 1].0 - cues[at].0) as f64, "{k}: {length_us}");
            }
        }
    }

    #[test]
    fn a_rig_without_parts_only_rests() {
        let cues = full_run(&Rig::default());
        assert_eq!(cues.iter().map(|c| c.1.word()).collect::<Vec<_>>(), ["rest", "end"]);
    }
}
