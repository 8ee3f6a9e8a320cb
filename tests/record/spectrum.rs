//! Windows, Welch's method, quantisation and sine fits.
use std::f64::consts::TAU;

use serde_json::Value;
use trimbench::measure::sine::{effective_bits, four_parameter, three_parameter};
use trimbench::measure::spectrum::{Density, Detrend, WelchPlan, Window, welch};

use crate::source::{alike, case, columns, json, near, number};

fn window(name: &str) -> Window {
    let named = Window::ALL.into_iter().find(|w| w.name() == name);
    named.unwrap_or_else(|| panic!("no window {name}"))
}

/// |Σ w e^{−2πi·bins·j/n}| over its value at zero.
fn response(weights: &[f64], bins: f64) -> f64 {
    let n = weights.len() as f64;
    let (mut re, mut im) = (0.0, 0.0);
    for (j, w) in weights.iter().enumerate() {
        let (sin, cos) = (TAU * bins * j as f64 / n).sin_cos();
        re += w * cos;
        im -= w * sin;
    }
    re.hypot(im) / weights.iter().sum::<f64>()
}

#[test]
fn figures_of_the_windows() {
    for row in json("spectrum.json")["windows"].as_array().unwrap() {
        let name = row["window"].as_str().unwrap();
        let weights = window(name).weights(4096);
        let (published, computed) = (&row["published"], &row["computed"]);
        let bandwidth = window(name).noise_bandwidth_bins(4096);
        near(bandwidth, number(&published["nenbw"]), 6e-5);
        near(bandwidth, number(&computed["nenbw_bins"]), 3e-7);
        let gain = weights.iter().sum::<f64>() / 4096.0;
        near(gain, number(&computed["coherent_gain"]), 3e-7);
        let decibels = |bins: f64| 20.0 * response(&weights, bins).log10();
        near(decibels(0.5), number(&computed["scalloping_db"]), 3e-5);
        // The largest departure within half a bin, to the last digit published.
        let flat = (0..=40).map(|k| decibels(f64::from(k) / 80.0)).fold(0.0, further);
        near(flat, number(&published["flat"]), 6e-5);
        let width = width_at(-3.0, decibels);
        near(width, number(&computed["bw_minus_3_00dB_bins"]), 2e-6);
        if published["bw3"].is_number() {
            // The printed widths depart from the definition by up to two in the fourth decimal.
            near(width, number(&published["bw3"]), 2e-4);
        }
        let shared = |k: usize| -> f64 {
            let products = weights[..4096 - k].iter().zip(&weights[k..]);
            let all: f64 = weights.iter().map(|w| w * w).sum();
            products.map(|(a, b)| a * b).sum::<f64>() / all
        };
        near(shared(2048), number(&computed["overlap_corr_50"]), 3e-7);
        near(shared(1024), number(&computed["overlap_corr_75"]), 3e-7);
        let highest = highest_lobe(window(name), number(&computed["first_null_bin"]));
        near(highest, number(&computed["psl_db"]), 0.05);
        near(highest, number(&published["psl"]), 0.11);
    }
}

/// The one further from zero.
fn further(a: f64, b: f64) -> f64 {
    if b.abs() > a.abs() { b } else { a }
}

/// Full width between the crossings of a level, bins.
fn width_at(level_db: f64, decibels: impl Fn(f64) -> f64) -> f64 {
    let (mut inside, mut outside) = (0.0, 4.0);
    for _ in 0..30 {
        let middle = 0.5 * (inside + outside);
        if decibels(middle) > level_db { inside = middle } else { outside = middle }
    }
    inside + outside
}

/// Highest side lobe over the twenty bins beyond the first null, dB; a short window has the same.
fn highest_lobe(window: Window, first_null: f64) -> f64 {
    let weights = window.weights(4096);
    let lobes = (0..320).map(|k| response(&weights, first_null + f64::from(k) / 16.0));
    20.0 * lobes.fold(0.0, f64::max).log10()
}

/// The sequence x ← 16807 x mod (2³¹ − 1) from the given seed, over 2³¹ − 1, less one half.
fn sequence() -> Vec<f64> {
    let mut x: u64 = 20_240_611;
    (0..1024)
        .map(|_| {
            x = 16_807 * x % 2_147_483_647;
            x as f64 / 2_147_483_647.0 - 0.5
        })
        .collect()
}

fn compare(got: &Density, want: &Value) {
    for (key, value) in want.as_object().unwrap() {
        let bin: usize = key.trim_start_matches('P').parse().unwrap();
        alike(got.density[bin], number(value), 1e-9);
    }
}

#[test]
fn welch_against_an_independent_program() {
    let file = json("spectrum.json");
    let samples = sequence_as_filed(&file);
    for (id, detrend) in [
        ("welch_hann256_constant", Detrend::Mean),
        ("welch_hann256_linear", Detrend::Line),
        ("welch_hann256_False", Detrend::Nothing),
    ] {
        let row = case(&file["welch"], id);
        let plan = WelchPlan { segment: 256, overlap: 128, window: Window::Hann, detrend };
        let got = welch(&samples, 1000.0, plan).unwrap();
        assert_eq!((got.segments, got.density.len()), (7, 129));
        compare(&got, &row["first_last"]);
        let total: f64 = got.density.iter().sum::<f64>() * 1000.0 / 256.0;
        alike(total, number(&row["sum_P_df"]), 1e-9);
    }
}

/// The sequence starts with its seed or with the first step; the filed variance tells which.
fn sequence_as_filed(file: &Value) -> Vec<f64> {
    let want = number(&case(&file["welch"], "welch_hann256_constant")["variance"]);
    let stepped = sequence();
    let mut seeded = vec![20_240_611.0 / 2_147_483_647.0 - 0.5];
    seeded.extend(&stepped[..1023]);
    let variance = |x: &[f64]| {
        let mean = x.iter().sum::<f64>() / x.len() as f64;
        x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / x.len() as f64
    };
    let found = [stepped, seeded].into_iter().find(|x| (variance(x) - want).abs() < 1e-12);
    found.expect("one of the two starts has the filed variance")
}

#[test]
fn parseval_holds_for_the_periodogram() {
    let file = json("spectrum.json");
    let samples = sequence_as_filed(&file);
    let row = case(&file["welch"], "periodogram_boxcar");
    let plan = WelchPlan {
        segment: 1024,
        overlap: 0,
        window: Window::Rectangular,
        detrend: Detrend::Nothing,
    };
    let got = welch(&samples, 1000.0, plan).unwrap();
    let total: f64 = got.density.iter().sum::<f64>() * 1000.0 / 1024.0;
    alike(total, number(&row["mean_square"]), 1e-12);
    for bin in [1, 100, 512] {
        alike(got.density[bin], number(&row[format!("P{bin}").as_str()]), 1e-9);
    }
}

#[test]
fn sines_on_and_between_bins() {
    let file = json("spectrum.json");
    for id in ["sine_on_bin", "sine_half_bin"] {
        let row = case(&file["welch"], id);
        let f0 = number(&row["f0"]);
        let wave: Vec<f64> =
            (0..1000).map(|n| 2.0 * (TAU * f0 * f64::from(n) / 1000.0 + 0.3).sin()).collect();
        for (name, window) in [("boxcar", Window::Rectangular), ("hann", Window::Hann)] {
            let plan = WelchPlan { segment: 1000, overlap: 0, window, detrend: Detrend::Nothing };
            let power = welch(&wave, 1000.0, plan).unwrap().power();
            let peak = power.iter().copied().fold(0.0, f64::max);
            alike(peak, number(&row["periodogram_spectrum"][name]["peak_power"]), 1e-9);
        }
    }
}

#[test]
fn ideal_converters() {
    let quantisation = &json("spectrum.json")["quantisation"];
    near(number(&quantisation["rms_lsb_exact"]), 1.0 / 12f64.sqrt(), 1e-15);
    for row in quantisation["table"].as_array().unwrap() {
        // The filed bits come from the rounded (SINAD − 1.76)/6.02; ours from exact logarithms.
        let sinad = number(&row["ideal_sinad_db_exact"]);
        near(effective_bits(sinad), number(&row["bits"]), 1e-9);
        near(effective_bits(sinad), number(&row["enob_of_exact"]), 2e-3);
    }
}

#[test]
fn sine_fits() {
    let file = json("spectrum.json");
    let data = columns("sine.csv");
    let three = case(&file["sine_fit"], "three_param_10bit");
    let fit = three_parameter(&data[0], &data[1], number(&three["f"])).unwrap();
    near(fit.cosine, number(&three["A0"]), 1e-8);
    near(fit.sine, number(&three["B0"]), 1e-8);
    near(fit.offset, number(&three["C0"]), 1e-8);
    near(fit.amplitude(), number(&three["amplitude"]), 1e-8);
    near(fit.phase(), number(&three["phase_sin"]), 1e-10);
    near(fit.rms, number(&three["rms_residual"]), 1e-9);
    near(fit.sinad_db(), number(&three["sinad_db"]), 1e-7);

    let four = case(&file["sine_fit"], "four_param_10bit");
    let fit = four_parameter(&data[0], &data[1], number(&four["start_f"])).unwrap();
    near(fit.hz, number(&four["f"]), 1e-10);
    near(fit.cosine, number(&four["A0"]), 1e-6);
    near(fit.sine, number(&four["B0"]), 1e-6);
    near(fit.offset, number(&four["C0"]), 1e-7);
    near(fit.rms, number(&four["rms_residual"]), 1e-9);
}

#[test]
fn sine_fit_example_of_a_public_toolbox() {
    let t: Vec<f64> = (0..10_000).map(|i| f64::from(i) * 1e-4).collect();
    let y: Vec<f64> = t.iter().map(|t| 0.2 + 2.0 * (TAU * 100.0 * t + 1.0).sin()).collect();
    let file = json("spectrum.json");
    let want = &case(&file["sine_fit"], "qwtb_fpnlsf_example")["expected"];
    let fit = four_parameter(&t, &y, 100.2).unwrap();
    near(fit.hz, number(&want["f"]), 1e-9);
    near(fit.amplitude(), number(&want["A"]), 1e-9);
    near(fit.phase(), number(&want["ph"]), 1e-9);
    near(fit.offset, number(&want["O"]), 1e-9);
}
