//! Filters: the speed-adaptive low-pass of Casiez et al. (2012), the exponential and the moving mean,
//! polynomial weights of Savitzky & Golay (1964), median and Hampel.
use trimbench::measure::filter::{
    MovingMean, OnePole, SpeedAdaptive, hampel, polynomial_weights, running_median,
    weights_noise_gain,
};

use trimbench::rig::AxisId;
use trimbench::trim::SmoothTrim;
use trimbench::trim::apply::{Smoother, shift_for};

use crate::source::{alike, columns, json, near, number, numbers};

#[test]
fn speed_adaptive_low_pass_step_by_step() {
    let file = json("filters.json");
    let worked = &file["adaptive"]["worked"];
    let rate_hz = number(&worked["freq"]);
    let mut filter = SpeedAdaptive::new(
        number(&worked["mincutoff"]),
        number(&worked["beta"]),
        number(&worked["dcutoff"]),
    );
    for row in worked["trace"].as_array().unwrap() {
        near(filter.step(number(&row["x"]), rate_hz), number(&row["y"]), 1e-14);
    }
}

#[test]
fn speed_adaptive_low_pass_against_its_authors_output() {
    let file = json("filters.json");
    let params = &file["adaptive"]["params"];
    let data = columns(file["adaptive"]["csv"].as_str().unwrap());
    let mut filter = SpeedAdaptive::new(
        number(&params["mincutoff"]),
        number(&params["beta"]),
        number(&params["dcutoff"]),
    );
    let mut worst = 0.0f64;
    for (k, (x, want)) in data[1].iter().zip(&data[2]).enumerate() {
        // The published program takes a time of 0 for "not known", so that the rate stays the
        // nominal one until the third sample.
        let rate_hz =
            if k < 2 { number(&params["freq"]) } else { 1.0 / (data[0][k] - data[0][k - 1]) };
        worst = worst.max((filter.step(*x, rate_hz) - want).abs());
    }
    // An independent program is as far off by the six digits of the file; with the speed taken
    // against the last input instead it would be a thousand times further.
    let independent = number(&file["adaptive"]["max_abs_diff_of_an_independent_program"]);
    assert!(worst <= 1.5 * independent, "{worst}");
    assert!(
        number(&file["adaptive"]["max_abs_diff_with_speed_against_the_last_input"]) > 1e3 * worst
    );
    assert_eq!(data[1].len(), 120);
}

#[test]
fn exponential_filter() {
    let file = json("filters.json");
    let table = &file["exponential"];
    for row in table["table"].as_array().unwrap() {
        let filter = OnePole::new(number(&row["a"])).unwrap();
        alike(filter.noise_gain(), number(&row["noise_sd_ratio"]), 1e-14);
        alike(filter.noise_gain(), number(&row["noise_sd_ratio_numeric"]), 1e-12);
        near(filter.lag_samples(), number(&row["ramp_lag_samples"]), 1e-13);
        near(filter.step_samples(1.0 - (-1f64).exp()), number(&row["step_63pct_samples"]), 1e-10);
        match filter.corner_cycles() {
            Some(corner) => near(corner, number(&row["minus3dB_cycles_per_sample"]), 1e-14),
            None => assert!(row["minus3dB_cycles_per_sample"].is_null()),
        }
        // The lag as a ramp shows it.
        let behind = (0..4000).map(f64::from).fold(0.0, |y, x| filter.step(y, x));
        near(3999.0 - behind, number(&row["ramp_lag_numeric"]), 1e-9);
    }
    let quarter = OnePole::of_shift(2);
    let mut y = 0.0;
    for want in numbers(&table["step_response_a_0_25"]) {
        y = quarter.step(y, 1.0);
        near(y, want, 1e-15);
    }
}

/// The firmware's filter of a shift, filled with `code`.
fn smoother(shift: u8, code: u16) -> Smoother {
    let mut filter = Smoother::new(&SmoothTrim { axis: AxisId::Lx, shift, time_constant_us: 0 });
    assert_eq!(filter.sample(code), code);
    filter
}

#[test]
fn the_integer_filter_follows_the_step_response_of_its_share() {
    let file = json("filters.json");
    let mut filter = smoother(2, 0);
    for want in numbers(&file["exponential"]["step_response_a_0_25"]) {
        // Whole counts: the sum drops less than a count.
        near(f64::from(filter.sample(1000)), 1000.0 * want, 1.0);
    }
}

#[test]
fn the_integer_filter_converges_and_the_plain_shift_does_not() {
    for k in 1..=4u8 {
        for from in [0, 1023] {
            let mut filter = smoother(k, from);
            let last = (0..2000).map(|_| filter.sample(500)).last();
            assert_eq!(last, Some(500), "k {k} from {from}");
            // y += (x − y) >> k stops 2^k − 1 short from below and not at all from above.
            let plain = (0..2000).fold(i32::from(from), |y, _| y + ((500 - y) >> k));
            assert_eq!(500 - plain, if from == 0 { (1 << k) - 1 } else { 0 });
        }
    }
}

#[test]
fn a_shift_keeps_its_time_constant_at_the_deployed_rate() {
    for k in 1..=8u8 {
        for rate_hz in [250.0, 1000.0] {
            let tau_s = 1e-6 * OnePole::of_shift(k).time_constant_us(rate_hz);
            assert_eq!(shift_for(tau_s, rate_hz), Some(k));
        }
    }
    // Chosen while printing at 250 Hz, a shift is four times as fast at 1 kHz.
    let chosen = OnePole::of_shift(2);
    alike(chosen.time_constant_us(250.0), 4.0 * chosen.time_constant_us(1000.0), 1e-12);
    assert_eq!(shift_for(1e-6 * chosen.time_constant_us(250.0), 1000.0), Some(4));
}

#[test]
fn moving_mean() {
    for row in json("filters.json")["moving_mean"].as_array().unwrap() {
        let mean = MovingMean { n: number(&row["n"]) as usize };
        alike(mean.noise_gain(), number(&row["noise_sd_ratio"]), 1e-14);
        near(mean.lag_samples(), number(&row["lag"]), 0.0);
        alike(mean.like_one_pole(), number(&row["equivalent_ema_a"]), 1e-14);
        let same = OnePole::new(mean.like_one_pole()).unwrap();
        alike(same.noise_gain(), mean.noise_gain(), 1e-12);
        near(same.lag_samples(), mean.lag_samples(), 1e-12);
    }
}

#[test]
fn polynomial_weights_of_the_tables() {
    let file = json("filters.json");
    let table = &file["polynomial"];
    let rows = table["smoothing"].as_array().unwrap().iter();
    for row in rows.chain(table["first_derivative"].as_array().unwrap()) {
        let whole = |key: &str| row[key].as_u64().map(|v| v as usize);
        let derivative = whole("deriv").unwrap_or(0);
        let (window, order) = (whole("window").unwrap(), whole("order").unwrap());
        let got = polynomial_weights(window, order, derivative).unwrap();
        let norm = number(&row["norm"]);
        for (got, want) in got.iter().zip(numbers(&row["coefficients"])) {
            near(*got, want / norm, 1e-13);
        }
        assert_eq!(got.len(), window);
        if row["noise_sd_ratio"].is_number() {
            alike(weights_noise_gain(&got), number(&row["noise_sd_ratio"]), 1e-12);
        }
    }
}

#[test]
fn medians_and_wild_samples() {
    let file = json("filters.json");
    let set = &file["median"];
    let x = numbers(&set["x"]);
    let three = running_median(&x, 1);
    assert_eq!(three, numbers(&set["median3_nearest"]));
    assert_eq!(three[1..x.len() - 1], numbers(&set["median3_interior"]));
    assert_eq!(running_median(&x, 2)[2..x.len() - 2], numbers(&set["median5_interior"]));

    let set = &file["hampel"];
    let half = number(&set["half_window"]) as usize;
    let (kept, wild) = hampel(&numbers(&set["x"]), half, number(&set["n_sigma"]));
    assert_eq!(kept, numbers(&set["filtered"]));
    assert_eq!(
        wild.iter().map(|&k| k as f64).collect::<Vec<_>>(),
        numbers(&set["outlier_indices"])
    );
}
