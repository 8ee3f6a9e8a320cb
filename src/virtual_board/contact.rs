//! Button contacts: bounce in continuous time, read at each scan, and what the scans saw of it.
use std::collections::VecDeque;

use super::dice::Dice;
use super::truth::{ButtonTruth, EdgeTruth};

/// How a contact behaves. Milliseconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ContactCauses {
    /// Shortest and longest bounce when it closes.
    pub press_ms: [f64; 2],
    /// Shortest and longest bounce when it opens.
    pub release_ms: [f64; 2],
    /// Most extra openings or closings within a bounce.
    pub most_pulses: usize,
    /// Share of releases after which the finger's rebound closes it once more.
    pub rebound_share: f64,
    /// Bridged to the supply or ground so that it always reads pressed.
    pub stuck: bool,
    /// The line has its pull-up; without it an open line picks up the mains.
    pub pulled_up: bool,
}

/// Most edges waiting to happen; further presses are refused until some have.
const MOST_WAITING: usize = 512;

/// How long after a transfer a scan may first see it (a second half asked seldom), µs.
const LATEST_SEEN_US: f64 = 30_000.0;

/// Most press and release episodes remembered for a button.
const MOST_REMEMBERED: usize = 4096;

/// A contact at work.
#[derive(Clone, Debug)]
pub(super) struct Contact {
    causes: ContactCauses,
    edges: VecDeque<(f64, bool)>,
    planned: VecDeque<Planned>,
    closed: bool,
    level: bool,
    episode: Option<[f64; 2]>,
    burst_until_us: f64,
    next_burst_us: f64,
    dice: Dice,
}

/// A press or release on its way, in continuous time.
#[derive(Clone, Copy, Debug)]
struct Planned {
    pressed: bool,
    first_us: f64,
    last_us: f64,
}

impl Contact {
    /// An open contact.
    pub fn new(causes: ContactCauses, mut dice: Dice) -> Self {
        let next_burst_us =
            if causes.pulled_up { f64::INFINITY } else { dice.waiting(BURST_EVERY_US) };
        Contact {
            causes,
            edges: VecDeque::new(),
            planned: VecDeque::new(),
            closed: false,
            level: false,
            episode: None,
            burst_until_us: 0.0,
            next_burst_us,
            dice,
        }
    }

    /// The finger closes (`pressed`) or opens the contact at `t_us`, bounce and all.
    pub fn transfer(&mut self, pressed: bool, t_us: f64) {
        if self.edges.len() >= MOST_WAITING {
            return;
        }
        let start = self.edges.back().map_or(t_us, |&(last, _)| t_us.max(last + 1.0));
        let [low, high] = if pressed { self.causes.press_ms } else { self.causes.release_ms };
        let length_us = 1000.0 * self.dice.uniform(low, high);
        self.bounce(pressed, start, length_us);
        if !pressed && self.dice.chance(self.causes.rebound_share) {
            let closes = start + length_us + 1000.0 * self.dice.uniform(25.0, 60.0);
            let opens = closes + 1000.0 * self.dice.uniform(8.0, 20.0);
            self.plan(true, &[closes]);
            self.plan(false, &[opens]);
        }
    }

    /// Edges from first transfer to settled: a first, pairs of opposite ones, the last at the end.
    fn bounce(&mut self, pressed: bool, start_us: f64, length_us: f64) {
        let pairs = 1 + self.dice.below(self.causes.most_pulses.max(1));
        let mut inner: Vec<f64> = (0..2 * pairs - 1)
            .map(|_| start_us + length_us * self.dice.uniform(0.02, 0.98))
            .collect();
        inner.sort_by(f64::total_cmp);
        let mut times = vec![start_us];
        times.append(&mut inner);
        times.push(start_us + length_us);
        self.plan(pressed, &times);
    }

    /// Queues alternating edges, the first to `pressed`.
    fn plan(&mut self, pressed: bool, times: &[f64]) {
        let mut state = pressed;
        for &t in times {
            self.edges.push_back((t, state));
            state = !state;
        }
        if let (Some(&first_us), Some(&last_us)) = (times.first(), times.last()) {
            if self.planned.len() >= MOST_WAITING {
                self.planned.pop_front();
            }
            self.planned.push_back(Planned { pressed, first_us, last_us });
        }
    }

    /// Whether the firmware reads the contact as closed at `t_us`.
    pub fn read(&mut self, t_us: f64, mains_hz: f64) -> bool {
        while let Some(&(at, closed)) = self.edges.front() {
            if at > t_us {
                break;
            }
            self.closed = closed;
            self.edges.pop_front();
        }
        self.closed || self.causes.stuck || self.picked_up(t_us, mains_hz)
    }

    /// An open line without a pull-up follows the mains in bursts.
    fn picked_up(&mut self, t_us: f64, mains_hz: f64) -> bool {
        if t_us >= self.next_burst_us {
            self.burst_until_us = t_us + 1000.0 * self.dice.uniform(60.0, 250.0);
            self.next_burst_us = self.burst_until_us + self.dice.waiting(BURST_EVERY_US);
        }
        t_us < self.burst_until_us && (std::f64::consts::TAU * mains_hz * t_us * 1e-6).sin() > 0.4
    }

    /// Books what a scan at `t_us` saw; `quiet_us` without a change ends an episode.
    pub fn book(&mut self, seen: bool, t_us: f64, quiet_us: f64, truth: &mut ButtonTruth) {
        if let Some([first, last]) = self.episode
            && t_us - last > quiet_us
        {
            self.episode = None;
            self.close_episode(first, last, truth);
        }
        if seen == self.level {
            return;
        }
        self.level = seen;
        self.episode = Some(self.episode.map_or([t_us, t_us], |[first, _]| [first, t_us]));
    }

    /// Joins a seen episode with the transfers that caused it.
    fn close_episode(&mut self, first: f64, last: f64, truth: &mut ButtonTruth) {
        let mut cause: Option<Planned> = None;
        while let Some(&next) = self.planned.front() {
            if next.first_us > last {
                break;
            }
            self.planned.pop_front();
            if next.last_us + LATEST_SEEN_US < first {
                continue; // too short for any scan to see
            }
            cause = Some(cause.map_or(next, |c| Planned { last_us: next.last_us, ..c }));
        }
        if truth.edges.len() >= MOST_REMEMBERED {
            truth.forgotten += 1;
            return;
        }
        truth.edges.push(EdgeTruth {
            pressed: cause.map_or(self.level, |c| c.pressed),
            first_us: cause.map(|c| c.first_us),
            last_us: cause.map(|c| c.last_us),
            seen_first_us: first,
            seen_last_us: last,
        });
    }
}

/// Mean wait between bursts on a line without its pull-up, µs.
const BURST_EVERY_US: f64 = 900_000.0;

#[cfg(test)]
mod tests {
    use super::super::dice::Purpose;
    use super::*;

    fn contact(causes: ContactCauses) -> Contact {
        Contact::new(causes, Dice::new(11, Purpose::Contact(0)))
    }

    fn causes() -> ContactCauses {
        ContactCauses {
            press_ms: [1.0, 3.0],
            release_ms: [1.0, 3.0],
            most_pulses: 3,
            rebound_share: 0.0,
            stuck: false,
            pulled_up: true,
        }
    }

    /// Reads every `step_us` up to `until_us`; gives the times of changes.
    fn scan(
        contact: &mut Contact,
        step_us: f64,
        until_us: f64,
        truth: &mut ButtonTruth,
    ) -> Vec<f64> {
        let mut changes = Vec::new();
        let (mut level, mut t) = (false, 0.0);
        while t <= until_us {
            let seen = contact.read(t, 50.0);
            contact.book(seen, t, 10_000.0_f64.max(2.0 * step_us), truth);
            if seen != level {
                changes.push(t);
                level = seen;
            }
            t += step_us;
        }
        changes
    }

    #[test]
    fn a_fine_scan_sees_the_whole_bounce_and_ends_settled() {
        let mut c = contact(causes());
        c.transfer(true, 50_000.0);
        c.transfer(false, 150_000.0);
        let mut truth = ButtonTruth::default();
        let changes = scan(&mut c, 1.0, 300_000.0, &mut truth);
        assert_eq!(changes.len() % 2, 0, "closed and open again");
        assert_eq!(truth.edges.len(), 2);
        for edge in &truth.edges {
            let (first, last) = (edge.first_us.unwrap(), edge.last_us.unwrap());
            assert!((1_000.0..=3_000.0).contains(&(last - first)));
            assert!((edge.seen_first_us - first).abs() <= 1.0);
            assert!((edge.seen_last_us - last).abs() <= 1.0);
        }
        assert!(truth.edges[0].pressed && !truth.edges[1].pressed);
    }

    #[test]
    fn a_coarse_scan_sees_less_and_says_so() {
        let mut c = contact(causes());
        for k in 0..20 {
            c.transfer(true, 50_000.0 + 300_000.0 * f64::from(k));
            c.transfer(false, 150_000.0 + 300_000.0 * f64::from(k));
            let mut truth = ButtonTruth::default();
            let mut t = 300_000.0 * f64::from(k);
            while t < 300_000.0 * f64::from(k + 1) {
                let seen = c.read(t, 50.0);
                c.book(seen, t, 10_000.0, &mut truth);
                t += 4_000.0;
            }
            assert_eq!(truth.edges.len(), 2);
            for e in &truth.edges {
                assert!(e.seen_last_us - e.seen_first_us <= 4_000.0);
                assert!(e.seen_first_us >= e.first_us.unwrap());
            }
        }
    }

    #[test]
    fn a_rebound_closes_once_more_within_eighty_milliseconds() {
        let mut c = contact(ContactCauses { rebound_share: 1.0, ..causes() });
        c.transfer(true, 50_000.0);
        c.transfer(false, 150_000.0);
        let mut truth = ButtonTruth::default();
        scan(&mut c, 250.0, 400_000.0, &mut truth);
        assert_eq!(truth.edges.iter().filter(|e| e.pressed).count(), 2);
        let gap = truth.edges[2].seen_first_us - truth.edges[1].seen_last_us;
        assert!((20_000.0..80_000.0).contains(&gap), "{gap}");
    }

    #[test]
    fn a_line_without_pull_up_toggles_when_nobody_touches_it() {
        let mut c = contact(ContactCauses { pulled_up: false, ..causes() });
        let mut truth = ButtonTruth::default();
        let changes = scan(&mut c, 4_000.0, 20_000_000.0, &mut truth);
        assert!(changes.len() > 20, "{}", changes.len());
        let mut sound = contact(causes());
        assert!(scan(&mut sound, 4_000.0, 20_000_000.0, &mut truth).is_empty());
    }
}
