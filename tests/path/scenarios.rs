//! Planted faults show in the bytes as they would on a bench, with the sizes that were planted.
use trimbench::rig::{AxisId, Half, Task};
use trimbench::virtual_board::{Options, VirtualBoard};
use trimbench::wire::{Framer, Place, Sink, Why};

/// Rows of the default line.
#[derive(Default)]
struct Rows(Vec<Vec<i32>>);

impl Sink for Rows {
    fn frame(&mut self, _: Place, cells: &[i32]) {
        self.0.push(cells.to_vec());
    }
    fn refused(&mut self, _: Place, _: Why, _: &[u8]) {}
}

/// A board with a fault under a hand that does what a test says.
struct Bench {
    board: VirtualBoard,
}

const SEED: u64 = 17;

impl Bench {
    fn new(scenario: &str) -> Self {
        Bench::with(Options {
            seed: SEED,
            scenario: scenario.parse().expect("a scenario"),
            ..Options::default()
        })
    }

    fn with(options: Options) -> Self {
        let mut bench = Bench { board: VirtualBoard::new(&options).expect("a board") };
        bench.watch(0.5);
        bench
    }

    /// Lets time pass; gives the rows printed.
    fn watch(&mut self, seconds: f64) -> Vec<Vec<i32>> {
        let mut out = Vec::new();
        self.board.advance(self.board.now_us() + (seconds * 1e6) as u64, &mut out);
        let mut rows = Rows::default();
        let mut framer = Framer::new(self.board.dialect());
        framer.push(&out, &mut rows);
        rows.0
    }

    fn perform(&mut self, task: Task, seconds: f64) -> Vec<Vec<i32>> {
        self.board.hand().prompt(Some(task));
        let rows = self.watch(seconds);
        self.board.hand().prompt(None);
        rows
    }

    /// Mean reading of an axis with a stick held at a place.
    fn held(&mut self, half: Half, to: (f64, f64), axis: AxisId) -> f64 {
        self.board.hand().drag(half, Some(to));
        self.watch(0.4);
        let mean = mean(&column(&self.watch(0.8), axis));
        self.board.hand().drag(half, None);
        self.watch(0.5);
        mean
    }

    /// How far an axis goes from stick held left (or low) to held right (or high).
    fn swing(&mut self, half: Half, way: (f64, f64), axis: AxisId) -> f64 {
        self.held(half, way, axis) - self.held(half, (-way.0, -way.1), axis)
    }
}

fn column(rows: &[Vec<i32>], axis: AxisId) -> Vec<f64> {
    rows.iter().map(|row| f64::from(row[2 + axis.index()])).collect()
}

fn buttons(rows: &[Vec<i32>]) -> Vec<i32> {
    rows.iter().map(|row| row[8]).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn covariance(a: &[f64], b: &[f64]) -> f64 {
    let (ma, mb) = (mean(a), mean(b));
    a.iter().zip(b).map(|(x, y)| (x - ma) * (y - mb)).sum::<f64>() / a.len() as f64
}

fn sd(values: &[f64]) -> f64 {
    covariance(values, values).sqrt()
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    covariance(a, b) / (sd(a) * sd(b))
}

#[test]
fn a_floating_pin_follows_the_channel_before_it_and_not_its_stick() {
    for (raw_bits, scale) in [(10, 1.0), (12, 4.0)] {
        let scenario = "floating-input".parse().unwrap();
        let options =
            Options { seed: SEED, scenario, raw_bits: Some(raw_bits), ..Options::default() };
        let mut bench = Bench::with(options);
        assert!(bench.swing(Half::Left, (1.1, 0.0), AxisId::Lx).abs() < 60.0 * scale);
        let rows = bench.perform(Task::Triggers, 20.0);
        let (lx, lt) = (column(&rows, AxisId::Lx), column(&rows, AxisId::Lt));
        let ry = column(&rows, AxisId::Ry);
        assert!(correlation(&lx, &lt) > 0.6, "{}", correlation(&lx, &lt));
        assert!(sd(&ry) < 2.0 * scale);
        let quiet = column(&bench.watch(8.0), AxisId::Lx);
        assert!(sd(&quiet) > 8.0 * scale, "{}", sd(&quiet));
    }
}

#[test]
fn rails_are_rails() {
    let mut bench = Bench::new("stuck-rail+grounded-trigger");
    let rows = bench.watch(5.0);
    assert!(column(&rows, AxisId::Ry).iter().all(|&v| v >= 1020.0));
    assert!(column(&rows, AxisId::Rt).iter().all(|&v| v <= 3.0));
}

#[test]
fn wires_that_are_exchanged_answer_for_each_other() {
    let mut healthy = Bench::new("healthy");
    assert!(healthy.swing(Half::Left, (1.1, 0.0), AxisId::Lx) > 700.0);
    assert!(healthy.swing(Half::Right, (0.0, 1.1), AxisId::Ry) > 700.0);
    let mut swapped = Bench::new("swapped-axes");
    assert!(swapped.swing(Half::Left, (1.1, 0.0), AxisId::Lx).abs() < 100.0);
    assert!(swapped.swing(Half::Left, (1.1, 0.0), AxisId::Ly) > 700.0);
    assert!(Bench::new("inverted-axis").swing(Half::Right, (0.0, 1.1), AxisId::Ry) < -700.0);
    let mut exchanged = Bench::new("halves-exchanged");
    assert!(exchanged.swing(Half::Left, (1.1, 0.0), AxisId::Lx).abs() < 60.0);
    assert!(exchanged.swing(Half::Left, (1.1, 0.0), AxisId::Rx) > 700.0);
    let mut mirrored = Bench::new("mirrored-half");
    assert!(mirrored.swing(Half::Right, (1.1, 0.0), AxisId::Rx) < -700.0);
    mirrored.board.hand().press(8);
    let seen = buttons(&mirrored.watch(1.0)).into_iter().fold(0, |all, mask| all | mask);
    assert_eq!(seen, 1 << 14, "the first button of the right half answers as the last");
}

#[test]
fn sensors_on_a_lower_rail_rest_a_third_lower() {
    let mut bench = Bench::new("reference-mismatch");
    let healthy = *Bench::new("healthy").board.truth().axis(AxisId::Lx).unwrap();
    let rest = mean(&column(&bench.watch(4.0), AxisId::Lx));
    assert!((rest / healthy.rest - 0.66).abs() < 0.01, "{rest}");
    let high = bench.held(Half::Left, (1.1, 0.0), AxisId::Lx);
    assert!((high / healthy.high - 0.66).abs() < 0.01, "{high}");
}

#[test]
fn reference_noise_moves_all_channels_of_its_half_in_proportion() {
    let rows = Bench::new("reference-noise").watch(20.0);
    let [lx, ly, rx] = [AxisId::Lx, AxisId::Ly, AxisId::Rx].map(|a| column(&rows, a));
    assert!(correlation(&lx, &ly) > 0.9);
    assert!(correlation(&lx, &rx).abs() < 0.1);
    assert!((sd(&lx) / (0.006 * mean(&lx)) - 1.0).abs() < 0.1, "{}", sd(&lx));
}

#[test]
fn hum_has_its_frequency_and_noise_its_size() {
    let mut bench = Bench::new("mains-hum+noisy-input");
    let rows = bench.watch(20.0);
    let lx = column(&rows, AxisId::Lx);
    let times: Vec<f64> = rows.iter().map(|r| f64::from(r[1]) * 1e-6).collect();
    let level = mean(&lx);
    let project = |hz: f64| {
        let (mut c, mut s) = (0.0, 0.0);
        for (t, v) in times.iter().zip(&lx) {
            let (sin, cos) = (std::f64::consts::TAU * hz * t).sin_cos();
            c += (v - level) * cos;
            s += (v - level) * sin;
        }
        2.0 * c.hypot(s) / lx.len() as f64
    };
    assert!((project(50.0) - 6.0).abs() < 0.3, "{}", project(50.0));
    assert!(project(37.0) < 0.3);
    let rx = bench.board.truth().axis(AxisId::Rx).unwrap().noise_sigma;
    let healthy = Bench::new("healthy").board.truth().axis(AxisId::Rx).unwrap().noise_sigma;
    assert!((rx / healthy - 4.0).abs() < 1e-9);
    assert!((sd(&column(&rows, AxisId::Rx)) / rx - 1.0).abs() < 0.05);
}

#[test]
fn crosstalk_goes_one_way_by_six_per_cent() {
    for raw_bits in [10, 12] {
        let options = |scenario: &str| Options {
            seed: SEED,
            scenario: scenario.parse().unwrap(),
            raw_bits: Some(raw_bits),
            ..Options::default()
        };
        let mut healthy = Bench::with(options("healthy"));
        let mut faulty = Bench::with(options("mux-crosstalk"));
        let way = (1.1, 0.0);
        let driven = healthy.swing(Half::Left, way, AxisId::Lx);
        let follows = faulty.swing(Half::Left, way, AxisId::Ly)
            - 0.94 * healthy.swing(Half::Left, way, AxisId::Ly);
        assert!((follows / driven - 0.06).abs() < 0.004, "{}", follows / driven);
        let back = faulty.swing(Half::Left, (0.0, 1.1), AxisId::Lx)
            - healthy.swing(Half::Left, (0.0, 1.1), AxisId::Lx);
        assert!((back / driven).abs() < 0.004, "{back}");
    }
}

#[test]
fn a_sticky_stick_rests_on_the_side_it_came_from() {
    let mut bench = Bench::new("sticky-return");
    for _ in 0..4 {
        bench.perform(Task::Releases, 32.0);
    }
    let stick = bench.board.truth().stick(Half::Left).unwrap();
    let side = |toward: f64| {
        let mut from: Vec<f64> = stick
            .rests
            .iter()
            .filter(|r| ((r.from_deg - toward + 180.0).rem_euclid(360.0) - 180.0).abs() < 15.0)
            .map(|r| r.at[0] - stick.centre[0])
            .collect();
        assert!(from.len() >= 6, "{} releases toward {toward}", from.len());
        from.sort_by(f64::total_cmp);
        from[from.len() / 2]
    };
    let hysteresis = side(0.0) - side(180.0);
    assert!((45.0..70.0).contains(&hysteresis), "{hysteresis}");
}

#[test]
fn a_weakly_damped_stick_swings_through_by_a_third() {
    let mut bench = Bench::new("release-overshoot");
    let truth = *bench.board.truth().axis(AxisId::Lx).unwrap();
    bench.board.hand().drag(Half::Left, Some((1.1, 0.0)));
    bench.watch(1.0);
    bench.board.hand().drag(Half::Left, None);
    let least = column(&bench.watch(0.6), AxisId::Lx).into_iter().fold(f64::INFINITY, f64::min);
    let share = (truth.rest - least) / (truth.high - truth.rest);
    // 37 % by the damping ratio of 0.3; a frame each 4 ms misses a little of the peak.
    assert!((0.30..0.40).contains(&share), "{share}");
}

#[test]
fn drift_follows_its_time_constant() {
    let mut bench = Bench::new("warm-up-drift");
    let early = mean(&column(&bench.watch(2.0), AxisId::Rx));
    bench.watch(176.5);
    let later = mean(&column(&bench.watch(2.0), AxisId::Rx));
    let expected = 12.0 * ((-1.5_f64 / 180.0).exp() - (-180.0_f64 / 180.0).exp());
    assert!((later - early - expected).abs() < 0.3, "{} {expected}", later - early);
}

#[test]
fn uneven_travel_ends_at_the_rail_on_one_side() {
    let mut bench = Bench::new("uneven-travel");
    let truth = *bench.board.truth().axis(AxisId::Lx).unwrap();
    assert!((truth.rest - 545.0).abs() < 0.1 && (truth.high - 962.0).abs() < 0.1);
    assert!((truth.rest - truth.low - 300.0).abs() < 10.0, "{truth:?}");
    let rows = bench.perform(Task::Roll, 18.0);
    let lx = column(&rows, AxisId::Lx);
    let at_rail = lx.iter().filter(|&&v| v >= 959.0).count() as f64 / lx.len() as f64;
    assert!((0.12..0.25).contains(&at_rail), "{at_rail}");
}

/// Lean of a ring by the least-squares conic `a·u² + b·uv + c·v² = 1`, which does not ask how long
/// the hand dwelt where: `asin(−b / (2·√(a·c)))`.
fn lean_of(ring: &[[f64; 2]]) -> f64 {
    let (mut m, mut r) = ([[0.0; 3]; 3], [0.0; 3]);
    for &[u, v] in ring {
        let terms = [u * u, u * v, v * v];
        for i in 0..3 {
            r[i] += terms[i];
            (0..3).for_each(|j| m[i][j] += terms[i] * terms[j]);
        }
    }
    let det = |m: &[[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
            - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let [a, b, c] = [0, 1, 2].map(|k| {
        let mut replaced = m;
        (0..3).for_each(|i| replaced[i][k] = r[i]);
        det(&replaced) / det(&m)
    });
    (-b / (2.0 * (a * c).sqrt())).asin()
}

#[test]
fn lean_and_turn_of_a_stick_are_in_its_roll() {
    for (scenario, lean, turn) in [
        ("skewed-axes", Some(10.0), None),
        ("rotated-stick", None, Some(8.0)),
        ("healthy", None, None),
    ] {
        let mut bench = Bench::new(scenario);
        let rows = bench.perform(Task::Roll, 18.0);
        for half in Half::ALL {
            let stick = bench.board.truth().stick(half).unwrap();
            let [x, y] = half.stick();
            let scale = |v: f64, axis: AxisId| {
                let t = bench.board.truth().axis(axis).unwrap();
                let d = v - t.rest;
                d / if d < 0.0 { t.rest - t.low } else { t.high - t.rest }
            };
            let ring: Vec<[f64; 2]> = column(&rows, x)
                .into_iter()
                .zip(column(&rows, y))
                .map(|(a, b)| [scale(a, x), scale(b, y)])
                .filter(|p| p[0].hypot(p[1]) > 0.85)
                .collect();
            let found = lean_of(&ring).to_degrees();
            assert!((found - stick.orthogonality_deg).abs() < 0.4, "{scenario} {half:?} {found}");
        }
        let left = bench.board.truth().stick(Half::Left).unwrap();
        assert!(lean.is_none_or(|deg| (left.orthogonality_deg - deg).abs() < 1e-9));
        assert!(turn.is_none_or(|deg: f64| (left.rotation_deg - deg).abs() < 1e-9));
    }
    // A turned module answers a push to the right with sin 8° on the other axis.
    let mut bench = Bench::new("rotated-stick");
    let cross = bench.swing(Half::Left, (1.1, 0.0), AxisId::Ly);
    let along = bench.swing(Half::Left, (1.1, 0.0), AxisId::Lx);
    assert!((0.09..0.2).contains(&(-cross / along)), "{cross} {along}");
}

#[test]
fn a_defective_gate_lacks_its_corner() {
    let bench = Bench::new("gate-defect");
    let profile = bench.board.truth().stick(Half::Right).unwrap().profile;
    let most = profile.iter().copied().fold(0.0_f64, f64::max);
    let short = profile.iter().filter(|r| **r < 0.86 * most).count();
    assert!((2..=6).contains(&short), "{short} sectors of 5°: {profile:?}");
}

#[test]
fn a_worn_track_spikes_at_its_place_only() {
    let mut bench = Bench::new("worn-track");
    let truth = *bench.board.truth().axis(AxisId::Rx).unwrap();
    let place = (604.0 - truth.rest) / (truth.high - truth.rest);
    let mut spikes = |x: f64| {
        bench.board.hand().drag(Half::Right, Some((x, 0.0)));
        bench.watch(0.5);
        let rx = column(&bench.watch(10.0), AxisId::Rx);
        rx.iter().filter(|v| **v < 312.0).count() as f64 / rx.len() as f64
    };
    // One lift in five readings, each lasting two on average: 0.4 of 1.4.
    let at_place = spikes(place);
    assert!((0.2..0.37).contains(&at_place), "{at_place}");
    assert_eq!(spikes(place + 0.1), 0.0);
}

#[test]
fn triggers_stand_still_or_run_backward() {
    let bench = Bench::new("trigger-plateau+non-monotonic");
    let left = bench.board.truth().trigger(Half::Left).unwrap();
    let right = bench.board.truth().trigger(Half::Right).unwrap();
    assert!((left.reversal - 25.0).abs() < 2.5, "{left:?}");
    assert_eq!((right.end_plateau, right.reversal), (0.20, 0.0));
}

#[test]
fn contacts_chatter_and_close_twice() {
    let mut bench = Bench::new("chatter+double-fire");
    bench.perform(Task::Buttons, 27.0);
    let buttons = &bench.board.truth().buttons;
    let bounce: Vec<f64> = buttons[1].edges.iter().filter_map(|e| e.bounce_ms()).collect();
    let longest = bounce.iter().copied().fold(0.0_f64, f64::max);
    assert!(bounce.iter().all(|b| *b >= 8.0) && longest > 14.0 && longest <= 18.0, "{bounce:?}");
    let closures = |k: usize| buttons[k].edges.iter().filter(|e| e.pressed).count();
    assert_eq!(closures(0), 5);
    assert!(closures(4) > 5, "{}", closures(4));
}

#[test]
fn lines_without_pull_up_toggle_and_bridged_ones_move_together() {
    let mut bench = Bench::new("missing-pull-up+bridged-buttons+stuck-button");
    let idle = buttons(&bench.watch(20.0));
    let changes = |masks: &[i32], bit: i32| {
        masks.windows(2).filter(|w| (w[0] ^ w[1]) >> bit & 1 == 1).count()
    };
    assert!(changes(&idle, 3) > 20 && changes(&idle, 0) == 0);
    assert!(idle.iter().all(|m| m >> 2 & 1 == 1));
    let pressed = buttons(&bench.perform(Task::Buttons, 27.0));
    assert!(pressed.iter().all(|m| (m >> 5 & 1) == (m >> 6 & 1)));
    assert!(changes(&pressed, 5) >= 20);
}

#[test]
fn a_hanging_bus_ages_the_second_half_and_stalls_the_loop() {
    let mut bench = Bench::new("half-hang");
    let rows = bench.watch(600.0);
    let oldest_us = bench.board.truth().stream.oldest_us;
    assert!((370_000..430_000).contains(&oldest_us), "{oldest_us}");
    let longest = rows.windows(2).map(|w| w[1][1] - w[0][1]).max().unwrap();
    assert!((25_000..30_000).contains(&longest), "{longest}");
}

#[test]
fn a_loop_that_prints_slowly_runs_at_the_rate_of_its_port() {
    let mut bench = Bench::new("slow-loop");
    let rows = bench.watch(20.0);
    let interval = f64::from(rows[3000 / 2][1] - rows[1000][1]) / 500.0;
    // About 40 bytes of ten bits each, behind a scan of about 1 ms.
    assert!((6_000.0..10_500.0).contains(&interval), "{interval}");
}

#[test]
fn strength_scales_a_fault() {
    let noise = |scenario| Bench::new(scenario).board.truth().axis(AxisId::Rx).unwrap().noise_sigma;
    let healthy = noise("healthy");
    assert!((noise("noisy-input@0.5") / healthy - 2.5).abs() < 1e-9);
}
