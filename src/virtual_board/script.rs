//! A whole guided run without a guide: which task is asked for at which board time.
use crate::rig::{Rig, Task};

/// What happens at a point of a script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cue {
    /// A task is asked for.
    Begin(Task),
    /// Hands off; the recording may end.
    End,
}

impl Cue {
    /// The word that stands for it in a session's marks.
    pub fn word(self) -> &'static str {
        match self {
            Cue::Begin(task) => task.word(),
            Cue::End => "end",
        }
    }

    /// What to ask of the hand.
    pub fn task(self) -> Option<Task> {
        match self {
            Cue::Begin(task) => Some(task),
            Cue::End => None,
        }
    }
}

/// When the first task is asked for, µs after power-on.
const FIRST_US: u64 = 1_000_000;

/// Rest, roll, releases, triggers, buttons, end: µs after power-on, each task once, tasks for which
/// the rig has no part left out. About 111 s for two sticks, two triggers and 15 buttons.
pub fn full_run(rig: &Rig) -> Vec<(u64, Cue)> {
    let mut at_us = FIRST_US;
    let mut cues = Vec::new();
    for task in Task::ALL {
        let length_us = match task {
            Task::Rest => 9_000_000,
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
            let Cue::Begin(task) = pair[0].1 else { panic!("only the last cue ends") };
            for seed in 0..200 {
                let drawn = Programme::draw(task, 15, &mut Dice::new(seed, Purpose::Hand));
                let room = (pair[1].0 - pair[0].0) as f64;
                assert!(drawn.length_us <= room, "{task:?} {seed}: {} > {room}", drawn.length_us);
                assert!(drawn.length_us + PAUSE_US > room, "{task:?} {seed}: begun anew");
            }
        }
        assert_eq!(cues[cues.len() - 1].1, Cue::End);
        assert!(cues[cues.len() - 1].0 < 120_000_000);
    }

    #[test]
    fn a_rig_without_parts_only_rests() {
        let cues = full_run(&Rig::default());
        assert_eq!(cues.iter().map(|c| c.1.word()).collect::<Vec<_>>(), ["rest", "end"]);
    }
}
