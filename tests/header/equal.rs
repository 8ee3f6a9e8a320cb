//! C and C++ give what `trim::apply` gives: every code of every axis and trigger, dense grids of
//! every stick (all pairs for two 10-bit controllers), and drawn contacts of every button.
use std::fmt::Write;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimbench::emit::header::header;
use trimbench::trim::Trim;
use trimbench::trim::apply::{Axis, Debouncer, Guard, Motor, Smoother, Stick, Trigger};

use crate::compilers::{C99, CPP11, accepts, present, run};
use crate::drawn;

/// A grid of stick codes: from, to (included), step, for both axes.
pub(crate) type Grid = (u16, u16, u16);

/// Coarse over the whole field with both ends, and every code round the first stick's centre.
pub(crate) fn grids(trim: &Trim, step: u16) -> Vec<Grid> {
    let full = trim.full_scale();
    let around = trim.axes.first().map_or(full / 2, |a| a.centre);
    vec![(0, full, step), (full - 3, full, 1), (around - 20, around + 20, 1)]
}

/// The part of the program that exercises one header.
fn case_text(number: usize, trim: &Trim, grids: &[Grid], contacts: &str) -> String {
    let mut c = format!(
        "#include \"case{number}.h\"\n#include \"case{number}.h\"\n#include \"put.h\"\n\
         void case{number}(void);\nvoid case{number}(void)\n{{\n    uint32_t i, j;\n    int16_t x, y;\n    uint8_t was;\n    (void)x; (void)y; (void)was; (void)j;\n"
    );
    let full = trim.full_scale();
    let each = format!("for (i = 0; i <= {full}u; ++i)");
    for a in &trim.axes {
        let _ = writeln!(c, "    {each} put(tb_{}((uint16_t)i));", a.axis.key());
        let name = a.axis.key().to_uppercase();
        let _ = writeln!(
            c,
            "    {{ tb_axis a = TB_{name}_AXIS; {each} put(tb_axis_run(&a, (uint16_t)i)); }}"
        );
    }
    for t in &trim.triggers {
        let key = t.half.trigger().key();
        let _ = writeln!(c, "    {each} put(tb_{key}((uint16_t)i));");
        for before in [0, 1] {
            let _ = writeln!(c, "    {each} put(tb_{key}_pressed((uint16_t)i, {before}));");
        }
    }
    for s in &trim.sticks {
        for form in ["stick", "radial"] {
            for (from, to, step) in grids {
                let loops = |v: &str| format!("for ({v} = {from}u; {v} <= {to}u; {v} += {step}u)");
                let _ = writeln!(
                    c,
                    "    {} {} {{ tb_{}_{form}((uint16_t)i, (uint16_t)j, &x, &y); put(x); put(y); }}",
                    loops("i"),
                    loops("j"),
                    s.half.key()
                );
            }
        }
    }
    for b in &trim.buttons {
        let _ = writeln!(
            c,
            "    {{ tb_button b = {{0, 0, 0, 0}}; for (i = 0; i < {}u; ++i) put(tb_b{}(&b, (uint8_t)(\"{contacts}\"[i] - '0'), (uint16_t)(65000u + 3u * i))); }}",
            contacts.len(),
            b.index
        );
    }
    states_text(&mut c, trim, &each);
    c.push_str("}\n");
    c
}

/// Smoothing, guards and motors over a run of codes that wanders and jumps.
fn states_text(c: &mut String, trim: &Trim, each: &str) {
    for s in &trim.options.smoothing {
        let _ = writeln!(
            c,
            "    {{ tb_smooth s = {{0, 0}}; {each} put((int16_t)tb_{}_smooth(&s, (uint16_t)((i * 37u) & {}u))); }}",
            s.axis.key(),
            trim.full_scale()
        );
    }
    for g in &trim.options.guards {
        let _ = writeln!(
            c,
            "    {{ tb_guard g = {{0, 0, 0, 0}}; for (i = 0; i < 3000u; ++i) {{ put((int16_t)tb_{}_guard(&g, (uint16_t)(((i >> 5) * 40503u) & {}u), (uint16_t)(64000u + 7u * i))); put(g.fault); }} }}",
            g.axis.key(),
            trim.full_scale()
        );
    }
    for m in &trim.options.motors {
        let n = m.index;
        let _ = writeln!(
            c,
            "    {{ tb_motor m = {{0, 0, 0, 0, 0}}; for (i = 0; i < 3000u; ++i) {{ if ((i & 127u) == 0) tb_m{n}_ask(&m, (uint16_t)(((i >> 7) % 5u) * 16383u), (uint16_t)(64000u + 11u * i)); put(tb_m{n}_duty(&m, (uint16_t)(64000u + 11u * i))); }} }}"
        );
    }
}

/// What that part must print.
fn states_expected(out: &mut Vec<i16>, trim: &Trim) {
    let full = trim.full_scale();
    let o = &trim.options;
    for s in &o.smoothing {
        let mut smoother = Smoother::new(s);
        out.extend((0..=u32::from(full)).map(|i| smoother.sample((i * 37) as u16 & full) as i16));
    }
    for g in &o.guards {
        let rest = trim.axis(g.axis).map(|a| a.centre);
        let rest = rest.or(trim.trigger(g.axis.half()).map(|t| t.rest)).expect("drawn");
        let mut guard = Guard::new(g, rest, o.guard_ms);
        for i in 0..3000u32 {
            let code = ((i >> 5) * 40503) as u16 & full;
            out.push(guard.sample(code, (64000 + 7 * i) as u16) as i16);
            out.push(i16::from(guard.fault()));
        }
    }
    for m in &o.motors {
        let mut motor = Motor::new(m);
        for i in 0..3000u32 {
            let now = (64000 + 11 * i) as u16;
            if i & 127 == 0 {
                motor.ask((((i >> 7) % 5) * 16383) as u16, now);
            }
            out.push(i16::from(motor.duty(now)));
        }
    }
}

/// What the program must print, by the arithmetic here.
fn expected(trim: &Trim, grids: &[Grid], contacts: &str) -> Vec<i16> {
    let mut out = Vec::new();
    let full = trim.full_scale();
    for a in &trim.axes {
        let axis = Axis::of(trim, a.axis).expect("drawn");
        out.extend((0..=full).map(|raw| axis.axial(raw)));
        // With the constants in RAM there is no curve.
        let straight = Axis::new(a, trim.frac_bits);
        out.extend((0..=full).map(|raw| straight.axial(raw)));
    }
    for t in &trim.triggers {
        let trigger = Trigger::of(trim, t.half).expect("drawn");
        out.extend((0..=full).map(|raw| trigger.run(raw)));
        for before in [false, true] {
            out.extend((0..=full).map(|raw| i16::from(trigger.pressed(raw, before))));
        }
    }
    for s in &trim.sticks {
        let stick = Stick::of(trim, s.half).expect("drawn with both axes");
        for form in [Stick::run, Stick::radial] {
            for &(from, to, step) in grids {
                for x in (from..=to).step_by(usize::from(step)) {
                    for y in (from..=to).step_by(usize::from(step)) {
                        let (out_x, out_y) = form(&stick, x, y);
                        out.extend([out_x, out_y]);
                    }
                }
            }
        }
    }
    for b in &trim.buttons {
        let mut debouncer = Debouncer::new(b);
        for (i, level) in contacts.bytes().enumerate() {
            let closed = (level == b'1') != b.active_low;
            let now = 65_000u16.wrapping_add(3 * i as u16);
            out.push(i16::from(debouncer.sample(closed, now)));
        }
    }
    states_expected(&mut out, trim);
    out
}

/// A contact that bounces now and then, as 0 and 1.
fn contacts() -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut level = false;
    (0..2000)
        .map(|_| {
            level ^= rng.random_range(0..6) == 0;
            if level { '1' } else { '0' }
        })
        .collect()
}

/// Builds one program of all the trims, once a compiler, and compares all that it prints.
pub(crate) fn compare(trims: &[(Trim, Vec<Grid>)], compilers: &[(&[&str], &str)]) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a file in it");
    };
    write("put.h", "#include <stdint.h>\nvoid put(int16_t value);\n");
    let contacts = contacts();
    let (mut calls, mut declarations, mut names) = (String::new(), String::new(), Vec::new());
    for (number, (trim, grids)) in trims.iter().enumerate() {
        write(&format!("case{number}.h"), &header(trim).expect("a consistent trim"));
        write(&format!("case{number}.c"), &case_text(number, trim, grids, &contacts));
        let _ = writeln!(calls, "    case{number}();");
        let _ = writeln!(declarations, "void case{number}(void);");
        names.push(format!("case{number}.c"));
    }
    write(
        "main.c",
        &format!(
            "#include <stdio.h>\n#include \"put.h\"\n{declarations}\
             void put(int16_t value)\n{{\n    uint16_t bits = (uint16_t)value;\n    putchar(bits & 255);\n    putchar(bits >> 8);\n}}\n\
             int main(void)\n{{\n{calls}    return 0;\n}}\n"
        ),
    );
    names.push("main.c".to_owned());
    for (compiler, language) in compilers {
        let mut rest = vec!["-O2", "-o", "program", "-x", language];
        rest.extend(names.iter().map(String::as_str));
        accepts(folder.path(), compiler, &rest);
        let bytes = run(&folder.path().join("program"));
        let mut printed = bytes.chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]]));
        for (number, (trim, grids)) in trims.iter().enumerate() {
            for (place, want) in expected(trim, grids, &contacts).into_iter().enumerate() {
                let have = printed.next();
                assert_eq!(
                    have,
                    Some(want),
                    "{compiler:?}, case {number} ({} bits), value {place}",
                    trim.raw_bits
                );
            }
        }
        assert_eq!(printed.next(), None, "{compiler:?} prints as many values as asked for");
    }
}

#[test]
fn every_code_and_a_dense_grid_at_every_width_in_c_and_cpp() {
    let mut trims = Vec::new();
    for bits in drawn::WIDTHS {
        let step = [1u16, 3, 11, 41, 163][usize::from(bits - 8) / 2];
        for seed in 0..4 {
            let plain = drawn::trim(bits, seed);
            trims.push((plain.clone(), grids(&plain, step)));
            let shaped = drawn::with_options(bits, seed + 4);
            trims.push((shaped.clone(), grids(&shaped, 2 * step + 1)));
        }
    }
    compare(&trims, &[(&C99, "c"), (&CPP11, "c++")]);
}

#[test]
fn all_pairs_of_two_ten_bit_controllers() {
    let all = |trim| (trim, vec![(0, 1023, 1)]);
    let trims = [all(drawn::trim(10, 11)), all(drawn::with_options(10, 12))];
    compare(&trims, &[(&C99, "c")]);
}

/// True when the long proofs are asked for.
fn at_length() -> bool {
    std::env::var("TRIMBENCH_LONG").is_ok_and(|v| v == "1")
}

/// Plain for even seeds, with every option for odd ones.
fn either(bits: u8, seed: u64) -> Trim {
    if seed.is_multiple_of(2) { drawn::trim(bits, seed) } else { drawn::with_options(bits, seed) }
}

/// Compares few at a time, so that neither the programs nor what they print grow large.
fn compare_in_parts(trims: impl Iterator<Item = (Trim, Vec<Grid>)>, at_once: usize) {
    let clang = ["clang", "-std=c99"];
    let mut compilers: Vec<(&[&str], &str)> = vec![(&C99, "c"), (&CPP11, "c++")];
    if present("clang") {
        compilers.push((&clang, "c"));
    }
    let trims: Vec<_> = trims.collect();
    trims.chunks(at_once).for_each(|part| compare(part, &compilers));
}

/// The controllers of the long proof, by their seeds.
const AT_LENGTH: std::ops::Range<u64> = 100..300;

#[test]
fn every_controller_of_the_long_proof_has_a_header() {
    for (bits, seed) in drawn::WIDTHS.into_iter().flat_map(|b| AT_LENGTH.map(move |s| (b, s))) {
        let refused = header(&either(bits, seed)).err();
        assert!(refused.is_none(), "{bits} bits, seed {seed}: {refused:?}");
    }
}

#[test]
fn every_code_of_two_hundred_controllers_a_width_at_length() {
    let seeds = if at_length() { AT_LENGTH } else { 100..102 };
    for bits in drawn::WIDTHS {
        compare_in_parts(seeds.clone().map(|seed| (either(bits, seed), Vec::new())), 10);
    }
}

#[test]
fn all_pairs_of_twenty_controllers_and_a_million_of_wider_ones_at_length() {
    if !at_length() {
        return;
    }
    let all = (400..420).map(|seed| (either(10, seed), vec![(0, 1023, 1)]));
    compare_in_parts(all, 1);
    for bits in [12u8, 14, 16] {
        // A thousand codes each way, begun at another one for each controller.
        let million = (420..424).map(|seed| {
            let trim = either(bits, seed);
            let step = trim.full_scale() / 1000;
            let from = (seed % u64::from(step.max(1))) as u16;
            let to = trim.full_scale();
            (trim, vec![(from, to, step)])
        });
        compare_in_parts(million, 1);
    }
}
