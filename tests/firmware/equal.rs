//! The header on the emulated chip gives what `trim::apply` gives: checksums over codes, grids and
//! runs of drawn controllers, where `int` has 16 bits and tables stand in flash.
use std::fmt::Write;
use std::path::Path;

use trimbench::emit::header::header;
use trimbench::trim::apply::{Axis, Guard, Motor, Smoother, Stick, Trigger};
use trimbench::trim::{Trim, crc16};

use crate::drawn;
use crate::emulator::{Run, WARNINGS, compile, harness, run};

/// Head of the program: a checksum of outputs, and its printing on UART1.
const HEAD: &str = r#"
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <util/crc16.h>
#include "trim.h"

static uint16_t sum;

static void put(uint16_t value)
{
    sum = _crc_xmodem_update(sum, (uint8_t)(value & 255u));
    sum = _crc_xmodem_update(sum, (uint8_t)(value >> 8));
}

static void say(void)
{
    uint8_t k;
    for (k = 0; k < 5u; ++k) {
        uint8_t nibble = (uint8_t)(sum >> 12);
        while (!(UCSR1A & (1u << UDRE1))) {
        }
        UDR1 = (uint8_t)(k == 4u ? '\n' : nibble < 10u ? '0' + nibble : 'A' - 10 + nibble);
        sum = (uint16_t)(sum << 4);
    }
    sum = 0xFFFFu;
}

int main(void)
{
    uint32_t i, j;
    int16_t x, y;
    UCSR1A = 1u << U2X1;
    UBRR1 = 0;
    UCSR1B = 1u << TXEN1;
    sum = 0xFFFFu;
"#;

const TAIL: &str = r"
    while (!(UCSR1A & (1u << TXC1))) {
    }
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
";

/// Steps over the codes of one input and over the grid of a stick.
fn steps(bits: u8) -> (u16, u16) {
    match bits {
        ..=8 => (1, 5),
        9..=10 => (1, 17),
        11..=12 => (3, 67),
        _ => (37, 1061),
    }
}

fn program(trim: &Trim) -> String {
    let full = trim.full_scale();
    let (step, grid) = steps(trim.raw_bits);
    let each = format!("for (i = 0; i <= {full}u; i += {step}u)");
    let mut c = HEAD.to_owned();
    for a in &trim.axes {
        let (key, name) = (a.axis.key(), a.axis.key().to_uppercase());
        let _ = writeln!(c, "    {each} put((uint16_t)tb_{key}((uint16_t)i));\n    say();");
        let _ = writeln!(
            c,
            "    {{ static tb_axis a = TB_{name}_AXIS; {each} put((uint16_t)tb_axis_run(&a, (uint16_t)i)); say(); }}"
        );
    }
    for t in &trim.triggers {
        let key = t.half.trigger().key();
        let _ = writeln!(c, "    {each} put((uint16_t)tb_{key}((uint16_t)i));\n    say();");
    }
    for s in &trim.sticks {
        let both = |v: &str| format!("for ({v} = 0; {v} <= {full}u; {v} += {grid}u)");
        let _ = writeln!(
            c,
            "    {} {} {{ tb_{}_stick((uint16_t)i, (uint16_t)j, &x, &y); put((uint16_t)x); put((uint16_t)y); }}\n    say();",
            both("i"),
            both("j"),
            s.half.key()
        );
    }
    states(&mut c, trim);
    c + TAIL
}

/// Smoothing, guards and motors over runs of codes.
fn states(c: &mut String, trim: &Trim) {
    let full = trim.full_scale();
    for s in &trim.options.smoothing {
        let _ = writeln!(
            c,
            "    {{ static tb_smooth s; for (i = 0; i < 2000u; ++i) put(tb_{}_smooth(&s, (uint16_t)((i * 37u) & {full}u))); say(); }}",
            s.axis.key()
        );
    }
    for g in &trim.options.guards {
        let _ = writeln!(
            c,
            "    {{ static tb_guard g; for (i = 0; i < 2000u; ++i) {{ put(tb_{}_guard(&g, (uint16_t)(((i >> 5) * 40503u) & {full}u), (uint16_t)(64000u + 7u * i))); put(g.fault); }} say(); }}",
            g.axis.key()
        );
    }
    for m in &trim.options.motors {
        let n = m.index;
        let _ = writeln!(
            c,
            "    {{ static tb_motor m; for (i = 0; i < 2000u; ++i) {{ if ((i & 127u) == 0) tb_m{n}_ask(&m, (uint16_t)(((i >> 7) % 5u) * 16383u), (uint16_t)(64000u + 11u * i)); put(tb_m{n}_duty(&m, (uint16_t)(64000u + 11u * i))); }} say(); }}"
        );
    }
}

fn sum(values: impl IntoIterator<Item = i32>) -> u16 {
    let bytes: Vec<u8> = values.into_iter().flat_map(|v| (v as u16).to_le_bytes()).collect();
    crc16(&bytes)
}

fn expected(trim: &Trim) -> Vec<u16> {
    let full = trim.full_scale();
    let (step, grid) = steps(trim.raw_bits);
    let codes = || (0..=full).step_by(usize::from(step));
    let mut sums = Vec::new();
    for a in &trim.axes {
        let axis = Axis::of(trim, a.axis).expect("drawn");
        sums.push(sum(codes().map(|raw| i32::from(axis.axial(raw)))));
        let straight = Axis::new(a, trim.frac_bits);
        sums.push(sum(codes().map(|raw| i32::from(straight.axial(raw)))));
    }
    for t in &trim.triggers {
        let trigger = Trigger::of(trim, t.half).expect("drawn");
        sums.push(sum(codes().map(|raw| i32::from(trigger.run(raw)))));
    }
    for s in &trim.sticks {
        let stick = Stick::of(trim, s.half).expect("drawn");
        let along = || (0..=full).step_by(usize::from(grid));
        let pairs = along().flat_map(|x| along().map(move |y| (x, y)));
        sums.push(sum(pairs.flat_map(|(x, y)| {
            let out = stick.run(x, y);
            [i32::from(out.0), i32::from(out.1)]
        })));
    }
    states_expected(&mut sums, trim);
    sums
}

/// Checksums of what [`states`] asks for.
fn states_expected(sums: &mut Vec<u16>, trim: &Trim) {
    let (full, o) = (trim.full_scale(), &trim.options);
    for s in &o.smoothing {
        let mut smoother = Smoother::new(s);
        let codes = (0..2000u32).map(|i| (i * 37) as u16 & full);
        sums.push(sum(codes.map(|code| i32::from(smoother.sample(code)))));
    }
    for g in &o.guards {
        let rest = trim.axis(g.axis).map(|a| a.centre);
        let rest = rest.or(trim.trigger(g.axis.half()).map(|t| t.rest)).expect("drawn");
        let mut guard = Guard::new(g, rest, o.guard_ms);
        sums.push(sum((0..2000u32).flat_map(|i| {
            let code = ((i >> 5) * 40503) as u16 & full;
            let out = guard.sample(code, (64000 + 7 * i) as u16);
            [i32::from(out), i32::from(guard.fault())]
        })));
    }
    for m in &o.motors {
        let mut motor = Motor::new(m);
        sums.push(sum((0..2000u32).map(|i| {
            let now = (64000 + 11 * i) as u16;
            if i & 127 == 0 {
                motor.ask((((i >> 7) % 5) * 16383) as u16, now);
            }
            i32::from(motor.duty(now))
        })));
    }
}

fn on_chip(folder: &Path, trim: &Trim) -> Vec<u16> {
    std::fs::write(folder.join("trim.h"), header(trim).expect("consistent")).expect("written");
    std::fs::write(folder.join("equal.c"), program(trim)).expect("written");
    let (source, elf) = (folder.join("equal.c"), folder.join("equal.elf"));
    let (source, out) = (source.display().to_string(), elf.display().to_string());
    let mut rest = WARNINGS.to_vec();
    rest.extend(["-o", &out, &source]);
    compile(&["avr-gcc", "-std=c99", "-Os", "-mmcu=atmega32u4"], &rest);
    let said = String::from_utf8(run(&elf, 120.0, Run::default())).expect("text");
    said.lines().map(|l| u16::from_str_radix(l, 16).expect("hexadecimal")).collect()
}

#[test]
fn the_emulated_chip_computes_what_the_arithmetic_here_does() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    for (bits, seed) in [(8, 31), (10, 32), (10, 33), (12, 34), (14, 35), (16, 36)] {
        let trim = drawn::with_options(bits, seed);
        let (have, want) = (on_chip(folder.path(), &trim), expected(&trim));
        assert_eq!(have, want, "{bits} bits, seed {seed}");
        assert!(want.len() >= 24, "{}", want.len());
    }
}
