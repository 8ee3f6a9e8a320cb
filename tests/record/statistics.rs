//! Tolerance factors, quantiles and tests of the NIST/SEMATECH e-Handbook.
use serde_json::Value;
use trimbench::measure::compare::{
    Middle, Sides, anova, bartlett, grubbs, grubbs_critical, levene, welch,
};
use trimbench::measure::distribution::{
    chi2_quantile, f_quantile, noncentral_t_quantile, normal_quantile, t_quantile,
};
use trimbench::measure::interval::t_against;
use trimbench::measure::moments::{mean, sd};
use trimbench::measure::robust::{SIGMA_PER_MAD, mad, median, modified_z};
use trimbench::measure::tolerance::{
    howe, howe_guenther, natrella, one_sided, samples_below_largest, samples_between_extremes,
    two_sided,
};

use crate::source::{alike, case, columns, json, near, number, numbers};

fn cases() -> Value {
    json("statistics.json")["cases"].take()
}

fn with_prefix<'a>(cases: &'a Value, prefix: &str) -> Vec<&'a Value> {
    let found: Vec<&Value> = cases
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| c["id"].as_str().unwrap().starts_with(prefix))
        .collect();
    assert!(!found.is_empty(), "{prefix}");
    found
}

fn three(case: &Value) -> (usize, f64, f64) {
    let input = &case["input"];
    (number(&input["n"]) as usize, number(&input["p"]), number(&input["gamma"]))
}

/// Compares with the published value at its last printed digit and with the computed one closely.
fn both(got: f64, case: &Value, closely: f64) {
    if let Some(published) = case["expected"].as_f64() {
        let written = case["expected"].to_string();
        let decimals = written.split('.').nth(1).map_or(0, str::len) as i32;
        let slack = if case["caution"].is_string() { 1.2e-3 } else { 0.6 * 10f64.powi(-decimals) };
        near(got, published, slack.max(1e-4 * published.abs().min(1.0)));
    }
    alike(got, number(&case["computed"]), closely);
}

#[test]
fn tolerance_factors() {
    let cases = cases();
    let each = |prefix: &str, f: &dyn Fn(usize, f64, f64) -> f64| {
        for case in with_prefix(&cases, prefix) {
            let (n, p, gamma) = three(case);
            both(f(n, p, gamma), case, 1e-9);
        }
    };
    each("k2_howe", &howe);
    each("k2_guenther", &howe_guenther);
    each("k2_exact", &two_sided);
    each("k1_nct", &one_sided);
    each("k1_natrella", &natrella);
    let delta = normal_quantile(0.9) * 43f64.sqrt();
    both(delta, case(&cases, "nct_delta_43"), 1e-12);
    let t = noncentral_t_quantile(0.99, 42.0, delta);
    both(t, case(&cases, "nct_t_43"), 1e-9);
}

#[test]
fn table_of_tolerance_factors() {
    let cases = cases();
    for case in with_prefix(&cases, "k2_table") {
        let (n, p, gamma) = three(case);
        let want = |key: &str| number(&case["computed"][key]);
        near(two_sided(n, p, gamma), want("exact"), 6e-7);
        near(howe(n, p, gamma), want("howe"), 6e-7);
        near(howe_guenther(n, p, gamma), want("guenther"), 6e-7);
        near(one_sided(n, p, gamma), want("one_sided_nct"), 6e-7);
    }
}

#[test]
fn distribution_free_sample_sizes() {
    let cases = cases();
    for case in with_prefix(&cases, "n_free") {
        let (p, gamma) = (number(&case["input"]["p"]), number(&case["input"]["gamma"]));
        let want = |key: &str| case["expected"][key].as_u64();
        assert_eq!(samples_between_extremes(p, gamma), want("two_sided"));
        assert_eq!(samples_below_largest(p, gamma), want("one_sided"));
    }
}

#[test]
fn quantile_tables() {
    let cases = cases();
    let nu = |case: &Value| number(&case["input"]["nu"]);
    both(normal_quantile(0.05), case(&cases, "z_0.05"), 1e-13);
    both(chi2_quantile(0.01, 42.0), case(&cases, "chi2_lower_0.01_42"), 1e-12);
    for case in with_prefix(&cases, "chi2_upper_05") {
        both(chi2_quantile(0.95, nu(case)), case, 1e-12);
    }
    for case in with_prefix(&cases, "t_975") {
        both(t_quantile(0.975, nu(case)), case, 1e-12);
    }
    for case in with_prefix(&cases, "F_05") {
        let (a, b) = (number(&case["input"]["nu1"]), number(&case["input"]["nu2"]));
        both(f_quantile(0.95, a, b), case, 1e-12);
    }
}

#[test]
fn means_compared() {
    let cases = cases();
    let assembly = case(&cases, "welch_assembly");
    let (old, new) = (numbers(&assembly["input"]["old"]), numbers(&assembly["input"]["new"]));
    let test = welch(&old, &new).unwrap();
    both(test.t, assembly, 1e-12);
    alike(test.freedom, number(&assembly["also"]["df_computed"]), 1e-12);
    alike(test.p, number(&assembly["also"]["p_two_sided"]), 1e-10);
    near(mean(&old), number(&assembly["also"]["mean_old"]), 5e-5);
    near(sd(&new), number(&assembly["also"]["sd_new"]), 5e-5);

    let wafer = case(&cases, "t1_wafer");
    both(t_against(&numbers(&wafer["input"]["x"]), 50.0).unwrap(), wafer, 1e-12);

    let three = case(&cases, "anova_3");
    let groups: Vec<Vec<f64>> =
        three["input"]["groups"].as_array().unwrap().iter().map(numbers).collect();
    let views: Vec<&[f64]> = groups.iter().map(Vec::as_slice).collect();
    let test = anova(&views).unwrap();
    both(test.f, three, 1e-12);
    alike(test.p, number(&three["also"]["p"]), 1e-10);
}

#[test]
fn spreads_compared_on_the_gear_data() {
    let data = columns("gear.csv");
    let group = |k: usize| -> Vec<f64> {
        let rows = data[0].iter().zip(&data[1]);
        rows.filter(|(_, batch)| **batch == k as f64).map(|(x, _)| *x).collect()
    };
    let groups: Vec<Vec<f64>> = (1..=10).map(group).collect();
    let views: Vec<&[f64]> = groups.iter().map(Vec::as_slice).collect();
    let cases = cases();
    let gear = case(&cases, "gear_brown_forsythe");
    let test = levene(&views, Middle::Median).unwrap();
    near(test.f, number(&gear["expected"]), 1e-5);
    alike(test.f, number(&gear["computed"]), 1e-10);
    alike(test.p, number(&gear["also"]["p"]), 1e-9);
    let test = levene(&views, Middle::Mean).unwrap();
    alike(test.f, number(&gear["also"]["levene_mean_W"]), 1e-10);
    let (t, p) = bartlett(&views).unwrap();
    alike(t, number(&gear["also"]["bartlett_T"]), 1e-9);
    alike(p, number(&gear["also"]["bartlett_p"]), 1e-8);
}

#[test]
fn outliers() {
    let cases = cases();
    let uranium = case(&cases, "grubbs_uranium");
    let x = numbers(&uranium["input"]["x"]);
    let test = grubbs(&x).unwrap();
    near(test.g, number(&uranium["expected"]), 1e-4);
    alike(test.g, number(&uranium["computed"]), 1e-12);
    assert!(test.index == 7 && test.is_outlier());
    let spring = case(&cases, "grubbs_spring");
    alike(grubbs(&numbers(&spring["input"]["x"])).unwrap().g, number(&spring["expected"]), 1e-12);
    both(grubbs_critical(8, 0.05, Sides::One), case(&cases, "grubbs_crit_8_one"), 1e-10);
    both(grubbs_critical(8, 0.05, Sides::Two), case(&cases, "grubbs_crit_8_two"), 1e-10);
    for case in with_prefix(&cases, "grubbs_crit_38") {
        both(grubbs_critical(38, number(&case["input"]["alpha"]), Sides::Two), case, 1e-10);
    }
    let robust = &case(&cases, "mad_uranium")["computed"];
    near(median(&x), number(&robust["median"]), 1e-12);
    near(mad(&x), number(&robust["mad"]), 1e-12);
    near(SIGMA_PER_MAD * mad(&x), number(&robust["sigma"]), 1e-12);
    // The filed score uses the constant rounded to 0.6745.
    alike(modified_z(x[7], median(&x), mad(&x)), number(&robust["mod_z_last"]), 2e-5);
    alike(SIGMA_PER_MAD, number(&case(&cases, "mad_const")["computed"]), 1e-15);
    alike(1.0 / SIGMA_PER_MAD, number(&case(&cases, "mod_z_const")["computed"]), 1e-15);
}
