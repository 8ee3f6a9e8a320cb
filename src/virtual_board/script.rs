//! A whole guided run without a guide: which task is asked for at which board time.
use super::Hand;
use crate::rig::{Control, Mark, Rig, Task, Word};
use crate::wire::command::Command;

/// What happens at a point of a script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cue {
    /// A task is asked for.
    Begin(Task),
    /// A control is asked for during the roll-call.
    Call(Control),
    /// Three buttons at the corners of a rectangle of the matrix are held together.
    Chord([u8; 3]),
    /// Hands off, and the board is told to drive a motor or a light.
    Drive(Command),
    /// Hands off; the recording may end.
    End,
}

impl Cue {
    /// The mark that stands for it in a session.
    pub fn mark(self) -> Mark {
        match self {
            Cue::Begin(task) => Word::Task(task).into(),
            Cue::Call(control) => Mark::new(Word::Call, control.word()),
            Cue::Chord(buttons) => {
                Mark::new(Word::Chord, buttons.map(|b| format!("b{b}")).join(" "))
            }
            Cue::Drive(command) => Mark::new(Word::Drive, command.to_string()),
            Cue::End => Word::End.into(),
        }
    }

    /// Asks it of a hand.
    pub fn give(self, hand: &Hand) {
        hand.prompt(self.task());
        match self {
            Cue::Call(control) => hand.call(control),
            Cue::Chord(buttons) => buttons.into_iter().for_each(|b| hand.press(usize::from(b))),
            Cue::Begin(_) | Cue::Drive(_) | Cue::End => {}
        }
    }

    /// What to ask of the hand.
    pub fn task(self) -> Option<Task> {
        match self {
            Cue::Begin(task) => Some(task),
            Cue::Call(_) => Some(Task::RollCall),
            Cue::Chord(_) | Cue::Drive(_) | Cue::End => None,
        }
    }
}

/// When the first task is asked for, µs after power-on.
const FIRST_US: u64 = 1_000_000;

/// From one call to the next, µs: axes and buttons.
const CALL_US: [u64; 2] = [1_300_000, 700_000];

/// From one chord to the next, µs.
const CHORD_US: u64 = 900_000;

/// From one step of a motor or light to the next, µs.
const STEP_US: u64 = 700_000;

/// Motors and lights that can be told apart.
const PLACES: u8 = 4;

/// Rest, roll-call, roll, releases, triggers, buttons, chords of a matrix, motors and lights, end: µs after power-on, each task once, tasks for which
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
    for chord in chords(rig) {
        cues.push((at_us, Cue::Chord(chord)));
        at_us += CHORD_US;
    }
    for command in sweep(rig) {
        cues.push((at_us, Cue::Drive(command)));
        at_us += STEP_US;
    }
    cues.push((at_us, Cue::End));
    cues
}

/// Three corners of rectangles of the matrix, three times each, so that a phantom at the fourth can be told
/// from chance; none on a board whose buttons have pins of their own. One rectangle in each pair of
/// neighbouring rows that lie on one half.
fn chords(rig: &Rig) -> Vec<[u8; 3]> {
    let Some(columns) = rig.button_columns.filter(|c| *c >= 2) else { return Vec::new() };
    let buttons = rig.buttons.len().min(32) as u8;
    let of_left = buttons.div_ceil(2);
    let firsts = (0..buttons.saturating_sub(columns + 1)).step_by(2 * usize::from(columns));
    let whole = |first: &u8| {
        let last = first + columns + 1;
        last < buttons && (*first < of_left) == (last < of_left)
    };
    firsts.filter(whole).flat_map(|a| [[a, a + 1, a + columns]; 3]).collect()
}

/// Every motor and every light in turn: off and on, at half and at most, and off at the end.
///
/// A motor is never asked for more than its `most`. Steps are shorter than the second after which a
/// board that hears nothing stops its motors, and each begins with a command.
fn sweep(rig: &Rig) -> Vec<Command> {
    let motors = rig.motors.iter().take(usize::from(PLACES)).zip(0..);
    let motors = motors.map(|(part, motor)| {
        let levels = [part.most / 2, part.most];
        (levels, Box::new(move |duty| Command::Motor { motor, duty }) as Box<dyn Fn(u8) -> Command>)
    });
    let lights = (0..rig.lights.min(PLACES)).map(|light| {
        let make = move |level| Command::Light { light, level };
        ([128, 255], Box::new(make) as Box<dyn Fn(u8) -> Command>)
    });
    let of_one = |([half, most], make): ([u8; 2], Box<dyn Fn(u8) -> Command>)| {
        [0, most, 0, half, 0, most, 0, half, 0, most, 0].map(make)
    };
    motors.chain(lights).flat_map(of_one).collect()
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
        assert_eq!(
            cues.iter().map(|c| c.1).collect::<Vec<_>>(),
            [Cue::Begin(Task::Rest), Cue::End]
        );
    }
}
