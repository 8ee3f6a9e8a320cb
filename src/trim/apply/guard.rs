//! Plausible codes: a broken wire or a short gives the rest level and a fault, not a full push.
use crate::trim::GuardTrim;

/// A guard and its state. Times are the firmware's milliseconds, 16 bits, wrapping.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Guard {
    least: u16,
    most: u16,
    rest: u16,
    wait_ms: u16,
    since: u16,
    last: u16,
    begun: bool,
    fault: bool,
}

impl Guard {
    /// A guard that has seen nothing; `rest` is what a fault gives.
    pub fn new(guard: &GuardTrim, rest: u16, wait_ms: u16) -> Guard {
        let (least, most) = (guard.least, guard.most);
        Guard { least, most, rest, wait_ms, since: 0, last: 0, begun: false, fault: false }
    }

    /// One code a scan in; the code to use out. An implausible code gives the last plausible one,
    /// and the rest level once that has gone on for the wait; a fault ends the same way. To be
    /// called at least every 65 s.
    pub fn sample(&mut self, raw: u16, now_ms: u16) -> u16 {
        let plausible = raw >= self.least && raw <= self.most;
        if !self.begun {
            (self.begun, self.last, self.since) = (true, self.rest, now_ms);
        }
        if plausible != self.fault {
            self.since = now_ms;
        } else if now_ms.wrapping_sub(self.since) >= self.wait_ms {
            self.fault = !self.fault;
            self.since = now_ms;
        }
        if self.fault {
            self.last = self.rest;
        } else if plausible {
            self.last = raw;
        }
        self.last
    }

    /// True while the input counts as broken.
    pub fn fault(&self) -> bool {
        self.fault
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::AxisId;

    #[test]
    fn a_broken_wire_gives_the_rest_level_and_a_fault_after_the_wait_and_heals_likewise() {
        let limits = GuardTrim { axis: AxisId::Lx, least: 40, most: 980 };
        let mut guard = Guard::new(&limits, 512, 100);
        assert_eq!(guard.sample(1023, 65_400), 512, "nothing plausible was seen yet");
        assert_eq!(guard.sample(700, 65_410), 700);
        assert_eq!(guard.sample(1023, 65_420), 700, "held");
        assert_eq!(guard.sample(1023, 65_500), 700);
        assert!(!guard.fault());
        assert_eq!(guard.sample(1023, 65_510), 512, "100 ms after the last plausible code");
        assert!(guard.fault());
        assert_eq!(guard.sample(600, 65_520), 512);
        assert_eq!(guard.sample(0, 4), 512, "not plausible without a break");
        assert_eq!(guard.sample(600, 10), 512);
        assert_eq!(guard.sample(600, 104), 600, "100 ms after the last implausible code");
        assert!(!guard.fault());
    }
}
