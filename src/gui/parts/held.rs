//! What is read stands still for a tenth of a second: figures and lines of a running stream.
//!
//! Nobody reads text that changes sixty times a second, and laying it out is what costs most in a
//! frame. What is seen moving (traces, dots, bars) is never held.
use std::time::Duration;

use egui::Context;

/// How long text stands before it follows what it says, s.
const STANDS_S: f64 = 0.1;

/// Text or figures made from something that moves, made anew at most ten times a second.
#[derive(Debug)]
pub struct Held<T> {
    made: Option<(f64, T)>,
}

impl<T> Default for Held<T> {
    fn default() -> Self {
        Held { made: None }
    }
}

impl<T> Held<T> {
    /// What was made less than a tenth of a second ago, else a new one.
    ///
    /// While the old one stands a frame is asked for at the end of its time, so that the last
    /// change is always shown; that frame asks for no further one.
    pub fn of(&mut self, ctx: &Context, make: impl FnOnce() -> T) -> &T {
        let now_s = ctx.input(|i| i.time);
        let age_s = self.made.as_ref().map(|(at_s, _)| now_s - at_s);
        match age_s.filter(|age| (0.0..STANDS_S).contains(age)) {
            Some(age) => ctx.request_repaint_after(Duration::from_secs_f64(STANDS_S - age)),
            None => self.made = None,
        }
        &self.made.get_or_insert_with(|| (now_s, make())).1
    }

    /// What was made last, however long ago.
    pub fn last(&self) -> Option<&T> {
        self.made.as_ref().map(|(_, value)| value)
    }

    /// Forgets it: the next one is made at once.
    pub fn forget(&mut self) {
        self.made = None;
    }
}

#[cfg(test)]
mod tests {
    use egui::RawInput;

    use super::*;

    #[test]
    fn it_follows_after_a_tenth_of_a_second_and_at_once_when_told() {
        let ctx = Context::default();
        let mut held = Held::default();
        let mut at = |time: f64, value: u32, forget: bool| {
            let mut shown = 0;
            let input = RawInput { time: Some(time), ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| {
                if forget {
                    held.forget();
                }
                shown = *held.of(ui.ctx(), || value);
            });
            // Nobody uploads textures here.
            output.textures_delta.clear();
            shown
        };
        assert_eq!(at(1.0, 1, false), 1);
        assert_eq!(at(1.05, 2, false), 1);
        assert_eq!(at(1.11, 2, false), 2);
        assert_eq!(at(1.12, 3, false), 2);
        assert_eq!(at(1.13, 3, true), 3);
    }
}
