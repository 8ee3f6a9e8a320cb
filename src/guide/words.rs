//! The words of the prompts, and the order of the pushes.
use super::Parts;
use crate::rig::{Control, Half, Task};

/// The eight directions of a push, degrees counter-clockwise as the person sees it, 0 = right.
const DIRECTIONS: [i32; 8] = [0, 45, 90, 135, 180, 225, 270, 315];

/// A direction in words.
pub fn direction_words(deg: i32) -> &'static str {
    match deg.rem_euclid(360) {
        0 => "right",
        45 => "up and right",
        90 => "up",
        135 => "up and left",
        180 => "left",
        225 => "down and left",
        270 => "down",
        _ => "down and right",
    }
}

/// Three rounds of the eight directions, each in an order drawn from the seed.
pub(super) fn push_order(seed: u64) -> Vec<i32> {
    // A linear congruential generator (Knuth's MMIX constants, from memory) is plenty for an order.
    let mut state = seed;
    let mut draw = |below: usize| {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let mut order = Vec::with_capacity(24);
    for _ in 0..3 {
        let mut round = DIRECTIONS;
        for i in (1..round.len()).rev() {
            round.swap(i, draw(i + 1));
        }
        order.extend(round);
    }
    order
}

/// The prompt of a task, at most six words.
pub(super) fn title(task: Task, parts: &Parts, push_deg: i32) -> String {
    let sticks = match parts.sticks.as_slice() {
        [Half::Left] => "the left stick",
        [Half::Right] => "the right stick",
        _ => "both sticks",
    };
    let triggers = match parts.triggers.as_slice() {
        [Half::Left] => "the left trigger",
        [Half::Right] => "the right trigger",
        _ => "both triggers",
    };
    match task {
        Task::Rest => "Hands off".to_owned(),
        Task::RollCall => "Move each control when asked".to_owned(),
        Task::Roll => format!("Roll {sticks} round, slowly"),
        Task::Releases => format!("Push {}, let go", direction_words(push_deg)),
        Task::Triggers => format!("Pull {triggers}, let go"),
        Task::Buttons => "Press every button five times".to_owned(),
    }
}

/// The prompt of one call, at most six words.
pub(super) fn call_title(control: Control, name: &str) -> String {
    match control {
        Control::Axis(axis) if axis.is_trigger() => format!("Pull the {name}"),
        Control::Axis(_) => format!("Push the {name}"),
        Control::Button(_) => format!("Press {name}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_round_asks_for_each_direction_once() {
        for seed in 0..50 {
            let order = push_order(seed);
            for round in order.chunks(8) {
                let mut sorted = round.to_vec();
                sorted.sort_unstable();
                assert_eq!(sorted, DIRECTIONS);
            }
        }
        assert_ne!(push_order(1), push_order(2));
    }

    #[test]
    fn prompts_are_short() {
        let halves = Half::ALL.to_vec();
        let parts =
            Parts { sticks: halves.clone(), triggers: halves, buttons: 15, ..Parts::default() };
        for task in Task::ALL {
            for deg in DIRECTIONS {
                let title = title(task, &parts, deg);
                assert!(title.split_whitespace().count() <= 6, "{title}");
            }
        }
    }
}
