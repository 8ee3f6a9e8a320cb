//! Converter linearity by code histogram: exercises of Burns, Roberts & Taenzler, An Introduction to
//! Mixed-Signal IC Test and Measurement (2011), definitions of IEEE Std 1241.
use serde_json::Value;
use trimbench::measure::curve::{Linearity, ramp_linearity, sine_linearity, sine_transitions};

use crate::source::{case, json, near, number, numbers};

fn hits(case: &Value) -> Vec<u64> {
    numbers(&case["hits"]).iter().map(|&h| h as u64).collect()
}

fn agree(got: &[f64], want: &Value, within: f64) {
    let want = numbers(want);
    assert_eq!(got.len(), want.len());
    got.iter().zip(&want).for_each(|(g, w)| near(*g, *w, within));
}

fn ramp(id: &str) -> Linearity {
    let file = json("histogram.json");
    let case = case(&file["cases"], id);
    let found = ramp_linearity(&hits(case)).unwrap();
    let want = &case["result"];
    agree(&found.dnl, &want["dnl_lsb"], 1e-6);
    agree(&found.inl, &want["inl_endpoint_lsb"], 1e-6);
    agree(&found.inl_best_fit, &want["inl_bestfit_lsb"], 1e-6);
    near(found.gain, number(&want["gain_bestfit"]), 1e-12);
    near(found.worst_dnl(), number(&want["max_abs_dnl"]), 1e-12);
    near(found.worst_inl(), number(&want["max_abs_inl_endpoint"]), 1e-12);
    found
}

#[test]
fn ramps_of_the_textbook() {
    assert!(ramp("ramp_4bit").missing.is_empty());
    assert!(ramp("ramp_3bit").missing.is_empty());
    assert!(ramp("ramp_ideal").missing.is_empty());
    assert_eq!(ramp("ramp_missing_code").missing, [3]);
}

#[test]
fn a_sine_gives_back_the_transitions() {
    let file = json("histogram.json");
    let case = case(&file["cases"], "sine_3bit");
    let (amplitude, offset) = (number(&case["amplitude"]), number(&case["offset"]));
    let found = sine_transitions(&hits(case), amplitude, offset);
    agree(&found, &case["recovered"], 1e-6);
    agree(&found, &case["true_transitions"], 1e-5);
    let found = sine_linearity(&hits(case), amplitude, offset).unwrap();
    agree(&found.dnl, &case["dnl_lsb"], 1e-6);
    agree(&found.inl, &case["inl_endpoint_lsb"], 1e-6);
    agree(&found.dnl, &case["true_dnl"], 1e-4);
}
