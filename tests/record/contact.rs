//! Contact bounce: a trace with figures by hand; J. Ganssle, A Guide to Debouncing (2004).
use serde_json::Value;
use trimbench::measure::contact::{self, Debounce, Edge, Transfer, debounced};

use crate::source::{json, near, number};

fn changes(list: &Value) -> Vec<(u64, bool)> {
    list.as_array().unwrap().iter().map(|e| (e[0].as_u64().unwrap(), e[1] == 1)).collect()
}

/// The trace as a mask column sampled every `period_us`.
fn column(changes: &[(u64, bool)], period_us: u64) -> (Vec<u32>, Vec<u64>) {
    let t_us: Vec<u64> = (0..100_000 / period_us).map(|k| k * period_us).collect();
    let level = |t: &u64| changes.iter().rfind(|c| c.0 <= *t).is_some_and(|c| c.1);
    (t_us.iter().map(|t| u32::from(level(t))).collect(), t_us)
}

#[test]
fn press_and_release_of_the_trace() {
    let file = json("contact.json");
    let trace = changes(&file["trace"]["edges_us"]);
    // Every change is a row: the figures of continuous time.
    let t_us: Vec<u64> = [0].into_iter().chain(trace.iter().map(|c| c.0)).collect();
    let edges: Vec<Edge> =
        trace.iter().enumerate().map(|(k, c)| Edge { row: k + 1, closed: c.1 }).collect();
    let log = contact::ContactLog::of(&edges, &t_us, 10.0, false);
    assert_eq!(log.episodes.len(), 2);
    for (episode, name) in log.episodes.iter().zip(["press", "release"]) {
        let want = &file["trace"]["expected"][name];
        assert_eq!(episode.first_us, want["first"].as_u64().unwrap());
        assert_eq!(episode.last_us, want["last"].as_u64().unwrap());
        assert_eq!(episode.bounce_us(), want["bounce_us"].as_u64().unwrap());
        assert_eq!(episode.edges as u64, want["edges"].as_u64().unwrap());
    }
}

#[test]
fn sampled_bounce_never_exceeds_the_true_one_by_more_than_an_interval() {
    let file = json("contact.json");
    let trace = changes(&file["trace"]["edges_us"]);
    for period_us in [20, 100, 250, 500, 1000, 4000] {
        let (masks, t_us) = column(&trace, period_us);
        let log = &contact::logs(&masks, &t_us, 1, period_us as f64)[0];
        for (transfer, name) in [(Transfer::Press, "press"), (Transfer::Release, "release")] {
            let want = file["trace"]["expected"][name]["bounce_us"].as_u64().unwrap();
            let seen = log.whole(transfer).next().unwrap().bounce_us();
            assert!(seen <= want + period_us, "{seen} {want}");
            // The shortest pulse lasts 30 µs: sampled faster than that, nothing is missed.
            if period_us <= 30 {
                assert!(want <= seen + 2 * period_us, "{seen} {want}");
            }
        }
    }
}

#[test]
fn debouncing_rules_of_the_trade() {
    let file = json("contact.json");
    let trace = changes(&file["trace"]["edges_us"]);
    let rules = [
        ("stable_interval_5ms", Debounce::StableInterval { us: 5000 }),
        ("stable_interval_1ms", Debounce::StableInterval { us: 1000 }),
        ("lockout_5ms", Debounce::LockOut { us: 5000 }),
        ("lockout_1ms", Debounce::LockOut { us: 1000 }),
        ("counter_1ms_x5", Debounce::Counter { every_us: 1000, samples: 5 }),
        ("history_1ms_x8", Debounce::Counter { every_us: 1000, samples: 8 }),
        ("integrator_500us_x4", Debounce::Integrator { every_us: 500, most: 4 }),
    ];
    let wanted = file["trace"]["debounced_edges_us"].as_object().unwrap();
    assert_eq!(wanted.len(), rules.len());
    for (name, rule) in rules {
        assert_eq!(debounced(rule, &trace, 100_000), changes(&wanted[name]), "{name}");
    }
}

#[test]
fn an_eager_press_comes_at_once_and_a_deferred_one_after_bounce_and_window() {
    let file = json("contact.json");
    let trace = changes(&file["trace"]["edges_us"]);
    let want = &file["trace"]["expected"]["press"];
    let (first, bounce) = (want["first"].as_u64().unwrap(), want["bounce_us"].as_u64().unwrap());
    let latency = |rule| debounced(rule, &trace, 100_000)[0].0 - first;
    assert_eq!(latency(Debounce::LockOut { us: 5000 }), 0);
    assert_eq!(latency(Debounce::StableInterval { us: 5000 }), bounce + 5000);
}

#[test]
fn the_survey_of_switches_asks_for_a_window_of_some_ten_milliseconds() {
    // 1.5 × the longest bounce of the survey + 2T at 1 kHz.
    let longest = number(&json("contact.json")["ganssle_us"]["max"]);
    let t_us: Vec<u64> = (0..400_000).map(|k| k * 100).collect();
    let rows = (longest / 100.0) as usize;
    let edges = [
        Edge { row: 1000, closed: true },
        Edge { row: 1001, closed: false },
        Edge { row: 1000 + rows, closed: true },
        Edge { row: 5000, closed: false },
    ];
    let f = contact::figures(&contact::ContactLog::of(&edges, &t_us, 100.0, false));
    near(f.press_window_ms.unwrap().value, 1.5 * 6.2 + 0.2, 1e-9);
}
