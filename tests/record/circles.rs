//! Circles, ellipses and the reference circles of roundness.
use std::f64::consts::PI;

use trimbench::measure::fit::{circle, ellipse};
use trimbench::measure::roundness;

use crate::source::{alike, case, json, near, number, numbers, points};

#[test]
fn gander_1994() {
    let file = json("circles.json");
    let set = case(&file["circles"], "gander6");
    let fit = circle::geometric(&points(&set["points"])).unwrap().circle;
    let published = &set["published"]["geometric"];
    near(fit.x, number(&published["cx"]), 5e-5);
    near(fit.y, number(&published["cy"]), 5e-5);
    near(fit.r, number(&published["r"]), 5e-5);
}

#[test]
fn circle_fits() {
    for set in json("circles.json")["circles"].as_array().unwrap() {
        let points = points(&set["points"]);
        let start = circle::algebraic(&points).unwrap();
        let taubin = numbers(&set["taubin"]);
        let scale = taubin[2];
        near(start.x, taubin[0], 1e-9 * scale);
        near(start.y, taubin[1], 1e-9 * scale);
        near(start.r, taubin[2], 1e-9 * scale);
        let fit = circle::geometric(&points).unwrap();
        let lsci = numbers(&set["lsci"]);
        near(fit.circle.x, lsci[0], 1e-8 * scale);
        near(fit.circle.y, lsci[1], 1e-8 * scale);
        near(fit.circle.r, lsci[2], 1e-8 * scale);
        let spare = points.len() as f64 - 3.0;
        near(fit.residual_sd * spare.sqrt(), number(&set["residual_norm"]), 1e-9 * scale);
        let form = roundness::least_squares(&points).unwrap();
        near(form.ront(), number(&set["roundness_peak_to_valley_LSCI"]), 1e-7 * scale);
    }
}

#[test]
fn reference_circles() {
    for set in json("circles.json")["circles"].as_array().unwrap() {
        let id = set["id"].as_str().unwrap();
        let points = points(&set["points"]);
        let same = |got: circle::Circle, key: &str| {
            let want = numbers(&set[key]);
            near(got.r, want[2], 1e-9 * want[2]);
            // The largest inscribed circle of this set has two centres, left and right.
            let x = if id == "ellipse4" { got.x.abs() } else { got.x };
            near(x, want[0], 1e-8 * want[2]);
            near(got.y, want[1], 1e-8 * want[2]);
        };
        same(roundness::minimum_circumscribed(&points).unwrap().circle, "mcci");
        same(roundness::maximum_inscribed(&points).unwrap().circle, "mici");
        let zone = roundness::minimum_zone(&points);
        if set["mzci"].is_null() {
            assert!(zone.is_err(), "{id}: an arc has no minimum zone");
            continue;
        }
        let (zone, want) = (zone.unwrap(), &set["mzci"]);
        let scale = number(&want["r_out"]);
        near(zone.width(), number(&want["width"]), 1e-10 * scale);
        near(zone.x, number(&want["cx"]), 1e-7 * scale);
        near(zone.y, number(&want["cy"]), 1e-7 * scale);
        near(zone.outer, number(&want["r_out"]), 1e-7 * scale);
        near(zone.inner, number(&want["r_in"]), 1e-7 * scale);
    }
}

#[test]
fn enclosing_circles() {
    for set in json("circles.json")["min_enclosing_circle"].as_array().unwrap() {
        let got = roundness::enclosing_circle(&points(&set["points"])).unwrap();
        let want = numbers(&set["exact"]);
        near(got.x, want[0], 1e-12);
        near(got.y, want[1], 1e-12);
        near(got.r, want[2], 1e-12);
    }
}

#[test]
fn ellipse_of_gander_1994() {
    let file = json("circles.json");
    let set = case(&file["ellipses"], "gander_ellipse8");
    let data = points(&set["points"]);
    let fit = ellipse::geometric(&data).unwrap();
    let check = |key: &str, within: f64| {
        let want = &set[key];
        near(fit.ellipse.x, number(&want["cx"]), within);
        near(fit.ellipse.y, number(&want["cy"]), within);
        near(fit.ellipse.a, number(&want["a"]), within);
        near(fit.ellipse.b, number(&want["b"]), within);
        near(fit.ellipse.angle, number(&want["alpha"]), within);
    };
    check("geometric_published", 1e-4);
    check("geometric_computed", 1e-6);
    alike(fit.residual_norm, number(&set["residual_norm"]), 1e-9);
    let (start, want) = (ellipse::direct(&data).unwrap(), &set["halir_flusser_direct"]);
    near(start.x, number(&want["cx"]), 1e-9);
    near(start.y, number(&want["cy"]), 1e-9);
    near(start.a, number(&want["a"]), 1e-9);
    near(start.b, number(&want["b"]), 1e-9);
    near(start.angle, number(&want["alpha"]), 1e-9);
}

#[test]
fn exact_ellipse() {
    let file = json("circles.json");
    let set = case(&file["ellipses"], "exact_ellipse12");
    let data = points(&set["points"]);
    let want = &set["exact"];
    for fit in [ellipse::direct(&data).unwrap(), ellipse::geometric(&data).unwrap().ellipse] {
        near(fit.x, number(&want["cx"]), 1e-8);
        near(fit.y, number(&want["cy"]), 1e-8);
        near(fit.a, number(&want["a"]), 1e-8);
        near(fit.b, number(&want["b"]), 1e-8);
        near(fit.angle.rem_euclid(PI), number(&want["alpha"]).rem_euclid(PI), 1e-9);
    }
}
