//! What a person's hand does for each task: strokes with natural timing, drawn anew each time.
use std::f64::consts::TAU;

use super::dice::Dice;
use crate::rig::{Control, Task};

/// Pressure of a hand against gate or stop, mean over a roll: target beyond the rim.
pub(super) const USUAL_PRESSURE: f64 = 0.10;

/// Presses of each button in the buttons task.
const PRESSES: usize = 5;

/// Turns each way in the roll task: three whole ones and a little more, as people do.
const TURNS: f64 = 3.12;

/// One stroke of a thumb.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Stroke {
    /// Off the stick.
    Off,
    /// From one place to another and staying there, smoothly (minimum jerk).
    Line { from: [f64; 2], to: [f64; 2] },
    /// Along the gate from one angle to another, pressing unevenly.
    Arc { from_rad: f64, to_rad: f64, uneven_rad: f64 },
}

/// One stroke of a trigger finger: from one pull to another, or off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Pull {
    /// Off the trigger.
    Off,
    /// Evenly from one travel to another.
    Ramp { from: f64, to: f64 },
}

/// Something that lasts until a time, counted from the start of the task, µs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Timed<S> {
    pub until_us: f64,
    pub what: S,
}

/// A press of a button, µs from the start of the task.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Press {
    pub from_us: f64,
    pub until_us: f64,
    pub button: usize,
}

/// All that the hand does for one run of a task.
#[derive(Clone, Debug, Default)]
pub(super) struct Programme {
    pub sticks: [Vec<Timed<Stroke>>; 2],
    pub triggers: [Vec<Timed<Pull>>; 2],
    pub presses: Vec<Press>,
    pub length_us: f64,
}

const SECOND: f64 = 1_000_000.0;

impl Programme {
    /// Draws one run of a task for a board with so many buttons.
    pub fn draw(task: Task, buttons: usize, dice: &mut Dice) -> Self {
        let mut programme = Programme::default();
        match task {
            Task::Rest => programme.length_us = 8.0 * SECOND,
            // Waits for the calls.
            Task::RollCall => programme.length_us = SECOND,
            Task::Roll => programme.roll(dice),
            Task::Releases => programme.releases(dice),
            Task::Triggers => programme.pulls(dice),
            Task::Buttons => programme.press_all(buttons, dice),
        }
        programme
    }

    /// Draws one movement of a control, there and back.
    pub fn call(control: Control, dice: &mut Dice) -> Self {
        let mut programme = Programme::default();
        let mut line = Line::new(dice.uniform(0.25, 0.35));
        let (there, hold) = (dice.uniform(0.16, 0.22), dice.uniform(0.15, 0.22));
        match control {
            Control::Axis(axis) if axis.is_trigger() => {
                let pulls = &mut programme.triggers[axis.half() as usize];
                let top = 1.0 + USUAL_PRESSURE;
                pulls.push(Timed { until_us: line.now_us, what: Pull::Off });
                line.pull(there, Pull::Ramp { from: 0.0, to: top }, pulls);
                line.pull(hold, Pull::Ramp { from: top, to: top }, pulls);
                line.pull(0.3, Pull::Off, pulls);
            }
            Control::Axis(axis) => {
                let strokes = &mut programme.sticks[axis.half() as usize];
                let up = axis == axis.half().stick()[1];
                let toward = if up { TAU / 4.0 } else { 0.0 } + dice.bounded(0.04, 0.1);
                let far = at_gate(toward);
                line.stroke(there, Stroke::Line { from: [0.0; 2], to: far }, strokes);
                line.stroke(hold, Stroke::Line { from: far, to: far }, strokes);
                line.stroke(0.3, Stroke::Off, strokes);
            }
            Control::Button(button) => {
                let from_us = line.now_us;
                line.now_us += SECOND * dice.uniform(0.08, 0.15);
                let (until_us, button) = (line.now_us, usize::from(button));
                programme.presses.push(Press { from_us, until_us, button });
            }
        }
        programme.length_us = line.now_us;
        programme
    }

    /// Three turns clockwise and three back, both thumbs at their own pace.
    fn roll(&mut self, dice: &mut Dice) {
        let start_rad = dice.uniform(0.0, TAU);
        for strokes in &mut self.sticks {
            let begin = start_rad + dice.uniform(-0.2, 0.2);
            let turn = TURNS * TAU;
            let uneven_rad = dice.uniform(0.0, TAU);
            let mut line = Line::new(0.3);
            line.stroke(0.45, Stroke::Line { from: [0.0; 2], to: at_gate(begin) }, strokes);
            for (from_rad, to_rad) in [(begin, begin - turn), (begin - turn, begin)] {
                let seconds = TURNS * dice.uniform(2.15, 2.55);
                line.stroke(seconds, Stroke::Arc { from_rad, to_rad, uneven_rad }, strokes);
                let here = at_gate(to_rad);
                let pause = dice.uniform(0.15, 0.35);
                line.stroke(pause, Stroke::Line { from: here, to: here }, strokes);
            }
            line.stroke(1.0, Stroke::Off, strokes);
            self.length_us = self.length_us.max(line.now_us);
        }
    }

    /// Eight directions twice in random order, both sticks together.
    fn releases(&mut self, dice: &mut Dice) {
        let mut directions: Vec<usize> = (0..16).map(|k| k % 8).collect();
        dice.shuffle(&mut directions);
        let mut line = Line::new(0.3);
        for direction in directions {
            let begun = line;
            let push = dice.uniform(0.22, 0.32);
            let hold = dice.uniform(0.15, 0.30);
            let settle = dice.uniform(1.08, 1.22);
            for strokes in &mut self.sticks {
                line = begun;
                let toward = direction as f64 * TAU / 8.0 + dice.bounded(0.04, 0.1);
                let there = at_gate(toward);
                if strokes.is_empty() {
                    strokes.push(Timed { until_us: begun.now_us, what: Stroke::Off });
                }
                line.stroke(push, Stroke::Line { from: [0.0; 2], to: there }, strokes);
                let late = dice.uniform(0.0, 0.03);
                line.stroke(hold + late, Stroke::Line { from: there, to: there }, strokes);
                line.stroke(settle - late, Stroke::Off, strokes);
            }
        }
        self.length_us = line.now_us;
    }

    /// Four slow pulls, four fast ones, both triggers together.
    fn pulls(&mut self, dice: &mut Dice) {
        for pulls in &mut self.triggers {
            let top = 1.0 + USUAL_PRESSURE;
            let mut line = Line::new(0.4);
            pulls.push(Timed { until_us: line.now_us, what: Pull::Off });
            for _ in 0..4 {
                line.pull(dice.uniform(1.55, 1.70), Pull::Ramp { from: 0.0, to: top }, pulls);
                line.pull(0.25, Pull::Ramp { from: top, to: top }, pulls);
                line.pull(dice.uniform(1.55, 1.70), Pull::Ramp { from: top, to: -0.05 }, pulls);
                line.pull(dice.uniform(1.05, 1.20), Pull::Off, pulls);
            }
            for _ in 0..4 {
                line.pull(dice.uniform(0.12, 0.20), Pull::Ramp { from: 0.0, to: top }, pulls);
                line.pull(dice.uniform(0.25, 0.40), Pull::Ramp { from: top, to: top }, pulls);
                line.pull(dice.uniform(1.05, 1.20), Pull::Off, pulls);
            }
            self.length_us = self.length_us.max(line.now_us);
        }
    }

    /// Every button five times, one after the other.
    fn press_all(&mut self, buttons: usize, dice: &mut Dice) {
        let mut now = 0.4 * SECOND;
        for button in 0..buttons {
            for _ in 0..PRESSES {
                let until_us = now + SECOND * dice.uniform(0.08, 0.15);
                self.presses.push(Press { from_us: now, until_us, button });
                now = until_us + SECOND * dice.uniform(0.16, 0.24);
            }
            now += SECOND * dice.uniform(0.05, 0.15);
        }
        self.length_us = now.max(SECOND);
    }
}

/// Where a thumb aims to press a stick against the gate.
fn at_gate(angle_rad: f64) -> [f64; 2] {
    let reach = 1.0 + USUAL_PRESSURE;
    [reach * angle_rad.cos(), reach * angle_rad.sin()]
}

/// Lays strokes end to end.
#[derive(Clone, Copy)]
struct Line {
    now_us: f64,
}

impl Line {
    fn new(wait_s: f64) -> Self {
        Line { now_us: wait_s * SECOND }
    }

    fn stroke(&mut self, seconds: f64, what: Stroke, strokes: &mut Vec<Timed<Stroke>>) {
        if strokes.is_empty() {
            strokes.push(Timed { until_us: self.now_us, what: Stroke::Off });
        }
        self.now_us += seconds * SECOND;
        strokes.push(Timed { until_us: self.now_us, what });
    }

    fn pull(&mut self, seconds: f64, what: Pull, pulls: &mut Vec<Timed<Pull>>) {
        self.now_us += seconds * SECOND;
        pulls.push(Timed { until_us: self.now_us, what });
    }
}

/// Share of a smooth move done at a share of its time: `10 s³ − 15 s⁴ + 6 s⁵`.
pub(super) fn minimum_jerk(share: f64) -> f64 {
    let s = share.clamp(0.0, 1.0);
    s * s * s * (10.0 + s * (6.0 * s - 15.0))
}

impl Stroke {
    /// Where the thumb leads the stick at a share of the stroke; `None` = nowhere.
    pub fn at(&self, share: f64) -> Option<[f64; 2]> {
        match *self {
            Stroke::Off => None,
            Stroke::Line { from, to } => {
                let done = minimum_jerk(share);
                Some([0, 1].map(|i| from[i] + (to[i] - from[i]) * done))
            }
            Stroke::Arc { from_rad, to_rad, uneven_rad } => {
                let turned = even_with_soft_ends(share);
                let angle =
                    from_rad + (to_rad - from_rad) * turned + 0.06 * (9.0 * angle_of(turned)).sin();
                let press = USUAL_PRESSURE
                    + 0.035 * (angle - uneven_rad).sin()
                    + 0.015 * (3.3 * angle + uneven_rad).sin();
                Some([(1.0 + press) * angle.cos(), (1.0 + press) * angle.sin()])
            }
        }
    }
}

/// Turns of a stroke as an angle, for the unevenness of its pace.
fn angle_of(turned: f64) -> f64 {
    turned * TAU
}

/// Even speed with a tenth of the time spent speeding up and slowing down.
fn even_with_soft_ends(share: f64) -> f64 {
    const SOFT: f64 = 0.05;
    let s = share.clamp(0.0, 1.0);
    let speed = 1.0 / (1.0 - SOFT);
    if s < SOFT {
        0.5 * speed * s * s / SOFT
    } else if s > 1.0 - SOFT {
        1.0 - 0.5 * speed * (1.0 - s) * (1.0 - s) / SOFT
    } else {
        speed * (s - 0.5 * SOFT)
    }
}

impl Pull {
    /// Where the finger leads the lever at a share of the stroke; `None` = nowhere.
    pub fn at(&self, share: f64) -> Option<f64> {
        match *self {
            Pull::Off => None,
            Pull::Ramp { from, to } => Some(from + (to - from) * share.clamp(0.0, 1.0)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::dice::Purpose;
    use super::*;

    fn draw(task: Task, seed: u64) -> Programme {
        Programme::draw(task, 15, &mut Dice::new(seed, Purpose::Hand))
    }

    #[test]
    fn releases_take_every_direction_twice_on_both_sticks() {
        for seed in 0..20 {
            let programme = draw(Task::Releases, seed);
            for strokes in &programme.sticks {
                let mut seen = [0; 8];
                for pair in strokes.windows(2) {
                    if let (Stroke::Line { to, .. }, Stroke::Off) = (pair[0].what, pair[1].what) {
                        let turn = to[1].atan2(to[0]).rem_euclid(TAU) / TAU * 8.0;
                        seen[turn.round() as usize % 8] += 1;
                        assert!(pair[1].until_us - pair[0].until_us >= SECOND);
                    }
                }
                assert_eq!(seen, [2; 8]);
            }
        }
    }

    #[test]
    fn a_roll_turns_three_times_each_way_at_two_to_three_seconds_a_turn() {
        for seed in 0..20 {
            for strokes in &draw(Task::Roll, seed).sticks {
                let mut begun = 0.0;
                let mut ways = Vec::new();
                for timed in strokes {
                    if let Stroke::Arc { from_rad, to_rad, .. } = timed.what {
                        let turns = (to_rad - from_rad) / TAU;
                        let per_turn = (timed.until_us - begun) / SECOND / turns.abs();
                        assert!((2.0..3.0).contains(&per_turn));
                        ways.push(turns);
                    }
                    begun = timed.until_us;
                }
                let [out, back] = ways[..] else { panic!("two ways, not {ways:?}") };
                assert!((out + TURNS).abs() < 1e-9 && (back - TURNS).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn an_arc_never_runs_backward_and_never_leaves_the_gate() {
        let arc = Stroke::Arc { from_rad: 0.0, to_rad: TURNS * TAU, uneven_rad: 1.0 };
        let mut last = 0.0;
        for k in 0..=10_000 {
            let [x, y] = arc.at(f64::from(k) / 10_000.0).unwrap();
            assert!(x.hypot(y) > 1.03);
            let step = (y.atan2(x) - last + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
            assert!(step > -1e-9, "{k}: {step}");
            last = y.atan2(x);
        }
    }

    #[test]
    fn slow_pulls_last_at_least_a_second_and_a_half() {
        let programme = draw(Task::Triggers, 4);
        let mut begun = 0.0;
        let mut slow = 0;
        for timed in &programme.triggers[0] {
            if let Pull::Ramp { from: 0.0, .. } = timed.what {
                slow += usize::from(timed.until_us - begun >= 1.5 * SECOND);
            }
            begun = timed.until_us;
        }
        assert_eq!(slow, 4);
    }

    #[test]
    fn every_button_is_pressed_five_times() {
        let presses = draw(Task::Buttons, 9).presses;
        for button in 0..15 {
            assert_eq!(presses.iter().filter(|p| p.button == button).count(), PRESSES);
        }
        assert!(presses.windows(2).all(|p| p[1].from_us > p[0].until_us + 100_000.0));
    }
}
