//! Allan deviations of the two test suites of NIST SP 1065.
use trimbench::measure::moments::{mean, sd};
use trimbench::measure::stability::{AllanSums, allan, hadamard};

use crate::source::{alike, json, number, numbers};

#[test]
fn both_suites() {
    let file = json("allan.json");
    let nbs14 = numbers(&file["nbs14_9"]);
    let mut n: u64 = 1_234_567_890;
    let lcg: Vec<f64> = (0..1000)
        .map(|_| {
            let y = n as f64 / 2_147_483_647.0;
            n = 16_807 * n % 2_147_483_647;
            y
        })
        .collect();
    let check = &file["lcg_1000"]["check_integers"];
    alike(lcg[1] * 2_147_483_647.0, number(&check["n1"]), 1e-15);
    alike(lcg[999] * 2_147_483_647.0, number(&check["n999"]), 1e-15);
    let mut seen = 0;
    for case in file["cases"].as_array().unwrap() {
        let samples = if case["set"] == "nbs14_9" { &nbs14 } else { &lcg };
        let m = case["tau"].as_u64().unwrap() as usize;
        let sums = AllanSums::of(samples);
        let got = match case["stat"].as_str().unwrap() {
            "adev" => allan(samples, m).unwrap(),
            "oadev" => sums.deviation(m).unwrap(),
            "mdev" => sums.modified(m).unwrap(),
            "tdev" => sums.time(m, 1.0).unwrap(),
            "hdev" => hadamard(samples, m).unwrap(),
            "ohdev" => sums.overlapping_hadamard(m).unwrap(),
            "totdev" => sums.total(m).unwrap(),
            "standard_deviation_n-1" => {
                sd(&samples.chunks_exact(m).map(mean).collect::<Vec<f64>>())
            }
            other => panic!("no estimator for {other}"),
        };
        // Published to seven digits.
        alike(got, number(&case["expected"]), 3e-7);
        seen += 1;
    }
    assert_eq!(seen, 38);
}
