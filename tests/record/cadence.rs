//! Jitter (RFC 3550), clock skew (Moon, Skelly & Towsley 1999), serial and USB arithmetic.
use trimbench::measure::cadence::{
    Frame, Uart, full_speed_bulk, interrupt_bytes_per_s, jitter, jitter_scaled, lower_hull_line,
    uart_divisor,
};

use crate::source::{alike, columns, json, near, number, numbers};

#[test]
fn jitter_of_the_worked_example() {
    let file = json("timing.json");
    let case = &file["rfc3550"];
    let clock = number(&case["clock_hz"]);
    let send: Vec<f64> = numbers(&case["rtp_timestamps"]).iter().map(|t| t / clock).collect();
    let arrival = numbers(&case["arrival_s"]);
    let got: Vec<f64> = jitter(&send, &arrival).collect();
    let want = case["expected"].as_array().unwrap();
    assert_eq!(got.len(), want.len());
    for (got, want) in got.iter().zip(want) {
        alike(*got, number(&want["J"]), 1e-9);
    }
}

#[test]
fn jitter_in_the_integers_of_the_appendix() {
    let file = json("timing.json");
    let case = &file["rfc3550_integer"];
    let transit: Vec<u32> = numbers(&case["transit"]).iter().map(|&t| t as u32).collect();
    let got: Vec<u32> = jitter_scaled(&transit).collect();
    for (got, want) in got.iter().zip(case["scaled_and_reported"].as_array().unwrap()) {
        assert_eq!(u64::from(*got), want[0].as_u64().unwrap());
        assert_eq!(u64::from(got >> 4), want[1].as_u64().unwrap());
    }
    assert_eq!(got.len(), transit.len());
}

#[test]
fn skew_is_the_edge_of_the_lower_hull_under_the_mean() {
    let file = json("timing.json");
    for name in ["case1", "case2"] {
        let case = &file["skew"][name];
        let data = columns(case["csv"].as_str().unwrap());
        let points = data[0].iter().copied().zip(data[1].iter().copied());
        let line = lower_hull_line(points).unwrap();
        near(line.slope, number(&case["hull"]["skew"]), 1e-12);
        near(line.intercept, number(&case["hull"]["intercept"]), 1e-7);
        near(line.slope, number(&case["linprog"][0]), 1e-11);
        // The line lies under every point, which least squares does not.
        let below = data[0]
            .iter()
            .zip(&data[1])
            .filter(|(t, d)| **d < line.slope * **t + line.intercept - 1e-6);
        assert_eq!(below.count(), 0);
    }
    let exact = 933.0 / 27_800_000.0;
    near(number(&file["skew"]["case2"]["hull"]["skew"]), -exact, 1e-15);
}

#[test]
fn delay_variation_of_the_first_packets() {
    let data = columns("skew.csv");
    let steps: Vec<f64> = data[1].windows(2).map(|p| p[1] - p[0]).collect();
    let want = numbers(&json("timing.json")["ipdv"]["of_skew_csv_us"]);
    steps.iter().zip(&want).for_each(|(got, want)| near(*got, *want, 1e-9));
    // With even sending the jitter filter runs on just these.
    let arrival: Vec<f64> = data[0].iter().zip(&data[1]).map(|(t, d)| t + d).collect();
    let first = jitter(&data[0], &arrival).next().unwrap();
    near(first, want[0].abs() / 16.0, 1e-9);
}

#[test]
fn serial_lines_carry_a_tenth_of_their_baud() {
    let file = json("serial.json");
    for row in file["serial"]["table"].as_array().unwrap() {
        let baud = row["baud"].as_u64().unwrap() as u32;
        let line = Uart::n81(baud);
        alike(line.byte_us(), number(&row["char_us_8N1"]), 1e-12);
        alike(line.bytes_per_s(), number(&row["bytes_per_s_8N1"]), 1e-12);
        alike(line.lines_per_s(40), number(&row["lines_per_s_40_byte_line"]), 1e-12);
        alike(line.lines_per_s(64), number(&row["max_line_rate_hz_64_byte"]), 1e-12);
        let parity = Uart { baud, frame: Frame { parity: true, ..Frame::N81 } };
        alike(parity.bytes_per_s(), number(&row["bytes_per_s_8E1_or_8N2"]), 1e-12);
    }
    for (baud, ms) in file["latency"]["values"].as_object().unwrap() {
        let line = Uart::n81(baud.parse().unwrap());
        alike(64.0 * line.byte_us() * 1e-3, number(ms), 1e-12);
    }
}

#[test]
fn uart_divisors_of_common_clocks() {
    let file = json("serial.json");
    for row in file["uart_divisor"]["table"].as_array().unwrap() {
        let clock = row["f_cpu"].as_u64().unwrap() as u32;
        let baud = row["baud"].as_u64().unwrap() as u32;
        for (double, name) in [(false, "u2x0"), (true, "u2x1")] {
            let (register, rate, error) = uart_divisor(clock, baud, double).unwrap();
            let want = &row[name];
            assert_eq!(u64::from(register), want["ubrr"].as_u64().unwrap(), "{clock} {baud}");
            alike(rate, number(&want["actual"]), 1e-12);
            near(100.0 * error, number(&want["error_pct"]), 1e-9);
        }
    }
}

#[test]
fn full_speed_transactions_of_a_frame() {
    let file = json("serial.json");
    let usb = &file["usb_full_speed"];
    for table in [&usb["bulk"], &usb["interrupt"]["table_limits"]] {
        for row in table.as_array().unwrap() {
            let (transactions, bytes) = full_speed_bulk(row["payload"].as_u64().unwrap() as u32);
            assert_eq!(u64::from(transactions), row["max_transfers_per_frame"].as_u64().unwrap());
            assert_eq!(u64::from(bytes), row["bytes_per_s"].as_u64().unwrap());
        }
    }
    near(
        interrupt_bytes_per_s(64, 1),
        number(&usb["interrupt"]["one_endpoint_bytes_per_s_at_1ms"]),
        0.0,
    );
}
