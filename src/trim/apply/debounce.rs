//! A button's contact: eager press with lock-out, deferred release.
use crate::trim::ButtonTrim;

/// A debouncer and its state. Times are the firmware's milliseconds, 16 bits, wrapping.
///
/// A press is reported with the first closed sample; for `press_lockout_ms` nothing after it
/// counts. A release is reported once the contact has been open for `release_ms`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Debouncer {
    lockout_ms: u8,
    release_ms: u8,
    pressed: bool,
    locked: bool,
    pressed_at: u16,
    closed_at: u16,
}

impl Debouncer {
    /// An open contact with the windows of a button.
    pub fn new(button: &ButtonTrim) -> Debouncer {
        Debouncer {
            lockout_ms: button.press_lockout_ms,
            release_ms: button.release_ms,
            pressed: false,
            locked: false,
            pressed_at: 0,
            closed_at: 0,
        }
    }

    /// One sample: contact closed or open (polarity already applied), time of the sample.
    /// Gives whether the button counts as pressed. To be called at least every 65 s.
    pub fn sample(&mut self, closed: bool, now_ms: u16) -> bool {
        if !self.pressed {
            if closed {
                *self = Debouncer {
                    pressed: true,
                    locked: true,
                    pressed_at: now_ms,
                    closed_at: now_ms,
                    ..*self
                };
            }
            return self.pressed;
        }
        if closed {
            self.closed_at = now_ms;
        }
        if self.locked && now_ms.wrapping_sub(self.pressed_at) >= u16::from(self.lockout_ms) {
            self.locked = false;
        }
        let open_for = now_ms.wrapping_sub(self.closed_at);
        if !self.locked && !closed && open_for >= u16::from(self.release_ms) {
            self.pressed = false;
        }
        self.pressed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trim::ButtonSource;

    fn button(lockout: u8, release: u8) -> ButtonTrim {
        ButtonTrim {
            index: 0,
            name: String::new(),
            press_lockout_ms: lockout,
            release_ms: release,
            active_low: true,
            from: ButtonSource::default(),
        }
    }

    /// Runs a list of closed stretches over `len` ms, one sample a ms from `start`.
    fn events(b: &ButtonTrim, closed: &[(u16, u16)], len: u16, start: u16) -> Vec<u16> {
        let mut d = Debouncer::new(b);
        let mut before = false;
        (0..len)
            .filter(|t| {
                let now =
                    d.sample(closed.iter().any(|r| (r.0..r.1).contains(t)), start.wrapping_add(*t));
                std::mem::replace(&mut before, now) != now
            })
            .collect()
    }

    #[test]
    fn a_bouncing_press_is_reported_at_once_and_once() {
        let bouncing = [(10, 11), (12, 13), (15, 60), (61, 62), (64, 65)];
        assert_eq!(events(&button(8, 12), &bouncing, 200, 0), [10, 76]);
    }

    #[test]
    fn a_tap_shorter_than_the_lock_out_is_one_press_and_one_release() {
        assert_eq!(events(&button(20, 5), &[(10, 12)], 200, 0), [10, 30]);
    }

    #[test]
    fn the_clock_may_wrap_anywhere_and_a_button_may_be_held_past_a_wrap() {
        for start in [65_500u16, 65_530, 65_535] {
            assert_eq!(events(&button(8, 12), &[(10, 60)], 200, start), [10, 71]);
        }
        assert_eq!(events(&button(8, 12), &[(10, 65_520)], 65_535, 0).first(), Some(&10));
        let mut held = Debouncer::new(&button(50, 5));
        for t in 0..65_540u32 {
            held.sample(true, t as u16);
        }
        assert!(held.sample(false, 65_541u32 as u16));
        assert!(!held.sample(false, 65_544u32 as u16), "no lock-out left after a wrap");
    }
}
