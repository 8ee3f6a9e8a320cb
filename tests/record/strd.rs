//! NIST Statistical Reference Datasets: univariate summaries and linear regression.
use serde_json::Value;
use trimbench::measure::fit::line::{LinearFit, linear, polynomial, straight};
use trimbench::measure::moments::{autocorrelation, moments};

use crate::source::{alike, columns, json, near, number, numbers, text};

fn values(set: &Value) -> Vec<f64> {
    let pairs = |first: f64, low: f64, high: f64| {
        let mut all = vec![first];
        all.extend([low, high].repeat(500));
        all
    };
    match set["name"].as_str().unwrap() {
        "PiDigits" => {
            let digits = text("strd-pidigits.txt");
            digits.chars().filter_map(|c| c.to_digit(10)).map(f64::from).collect()
        }
        "NumAcc2" => pairs(1.2, 1.1, 1.3),
        "NumAcc3" => pairs(1_000_000.2, 1_000_000.1, 1_000_000.3),
        "NumAcc4" => pairs(10_000_000.2, 10_000_000.1, 10_000_000.3),
        _ => columns(set["data_file"].as_str().unwrap()).remove(0),
    }
}

#[test]
fn univariate_sets() {
    for set in json("strd.json")["univariate"].as_array().unwrap() {
        let name = set["name"].as_str().unwrap();
        let y = values(set);
        assert_eq!(y.len() as u64, set["n"].as_u64().unwrap(), "{name}");
        let m = moments(&y).unwrap();
        // The inputs of the last two sets cannot be written as doubles: their certified deviation
        // is met to 9.5 and 8.3 digits by exact arithmetic on the doubles.
        let share = match name {
            "NumAcc3" => 1e-9,
            "NumAcc4" => 1e-8,
            _ => 2e-13,
        };
        alike(m.mean, number(&set["mean"]), 1e-14);
        alike(m.sd(), number(&set["sd_n_minus_1"]), share);
        let slack = share.max(1e-12);
        near(autocorrelation(&y), number(&set["lag1_autocorrelation"]), slack);
    }
}

fn check(fit: &LinearFit, set: &Value, digits: f64) {
    let share = 10f64.powf(-digits);
    for (got, want) in fit.coefficients.iter().zip(numbers(&set["b"])) {
        alike(*got, want, share);
    }
    for (got, want) in fit.se.iter().zip(numbers(&set["se"])) {
        alike(*got, want, share);
    }
    alike(fit.residual_sd, number(&set["residual_sd"]), share);
    alike(fit.r_squared, number(&set["r_squared"]), share);
}

fn set<'a>(sets: &'a Value, name: &str) -> &'a Value {
    sets["regression"].as_array().unwrap().iter().find(|s| s["name"] == name).unwrap()
}

#[test]
fn norris_line() {
    let data = columns("strd-norris.csv");
    check(&straight(&data[1], &data[0]).unwrap(), set(&json("strd.json"), "Norris"), 11.0);
}

#[test]
fn pontius_parabola() {
    // The powers of x reach 1e13: ten digits is what column-scaled QR in doubles keeps.
    let data = columns("strd-pontius.csv");
    check(&polynomial(&data[1], &data[0], 2).unwrap(), set(&json("strd.json"), "Pontius"), 9.0);
}

#[test]
fn longley_with_six_regressors() {
    let data = columns("strd-longley.csv");
    let ones = vec![1.0; data[0].len()];
    let mut regressors: Vec<&[f64]> = vec![&ones];
    regressors.extend(data[1..].iter().map(Vec::as_slice));
    check(&linear(&regressors, &data[0]).unwrap(), set(&json("strd.json"), "Longley"), 9.0);
}
