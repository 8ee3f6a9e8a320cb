//! No warning: every C and C++ standard at hand, used, unused, included twice, no optimisation and
//! size optimisation, and the small targets where their compilers are installed.
use std::path::Path;

use trimbench::emit::header::{constants, header};
use trimbench::rig::{Half, ZoneForm};
use trimbench::trim::{CurveOf, CurveTrim, Matrix2, REACH_NODES, ReachTrim, Trim, curve_points};

use crate::compilers::{accepts, present};
use crate::drawn;

const UNUSED: &str = "#include \"trim.h\"\nint main(void);\nint main(void) { return 0; }\n";

/// Uses every function, so that every line is compiled for good.
fn used(trim: &Trim) -> String {
    let mut c = "#include \"trim.h\"\n#include \"trim.h\"\nextern volatile uint16_t raw;\nextern volatile int16_t out;\nvolatile uint16_t raw; volatile int16_t out;\nint main(void);\nint main(void)\n{\n    int16_t x, y;\n    static tb_button b;\n".to_owned();
    for a in &trim.axes {
        let (key, name) = (a.axis.key(), a.axis.key().to_uppercase());
        c += &format!(
            "    {{ static tb_axis {key} = TB_{name}_AXIS; out = tb_axis_run(&{key}, raw); }}\n"
        );
        c += &format!("    out = tb_{key}(raw);\n");
    }
    for s in &trim.sticks {
        for form in ["stick", "radial"] {
            c += &format!(
                "    tb_{}_{form}(raw, raw, &x, &y);\n    out = x;\n    out = y;\n",
                s.half.key()
            );
        }
    }
    for t in &trim.triggers {
        let key = t.half.trigger().key();
        c += &format!("    out = tb_{key}(raw);\n    out = tb_{key}_pressed(raw, 1);\n");
    }
    for b in &trim.buttons {
        c += &format!("    out = tb_b{}(&b, raw != 0, raw);\n", b.index);
    }
    for s in &trim.options.smoothing {
        let key = s.axis.key();
        c += &format!("    {{ static tb_smooth s; raw = tb_{key}_smooth(&s, raw); }}\n");
    }
    for g in &trim.options.guards {
        let key = g.axis.key();
        c += &format!("    {{ static tb_guard g; raw = tb_{key}_guard(&g, raw, raw); }}\n");
    }
    for m in &trim.options.motors {
        let n = m.index;
        c += &format!(
            "    {{ static tb_motor m; tb_m{n}_ask(&m, raw, raw); out = tb_m{n}_duty(&m, raw); }}\n"
        );
    }
    c + "    return 0;\n}\n"
}

/// A trim in which every kind of part and both forms occur, with a 2×2.
fn whole(bits: u8) -> Trim {
    let mut trim = drawn::trim(bits, 3);
    trim.sticks[0].form = ZoneForm::Axial;
    trim.sticks[1].form = ZoneForm::Radial;
    trim.sticks[1].matrix = Some(Matrix2([[16_384, -2000], [1990, 16_100]]));
    trim
}

/// The same with every option: a curve on the axial stick, curve and reach by direction on the
/// radial one, a curve on a trigger, smoothing, guards, motors.
fn whole_with_options(bits: u8) -> Trim {
    let mut trim = Trim { options: drawn::with_options(bits, 3).options, ..whole(bits) };
    let o = &mut trim.options;
    let curve = |of, points| CurveTrim { of, points: curve_points(0.4, points).expect("allowed") };
    o.curves = vec![
        curve(CurveOf::Stick(Half::Left), 33),
        curve(CurveOf::Stick(Half::Right), 65),
        curve(CurveOf::Trigger(Half::Right), 33),
    ];
    o.reaches = vec![ReachTrim { half: Half::Right, radii: vec![32_000; REACH_NODES] }];
    trim
}

const SOURCES: [&str; 4] = ["used.c", "unused.c", "constants.c", "both.c"];

fn each(folder: &Path, compiler: &[&str], language: &str) {
    for source in SOURCES {
        for level in ["-O0", "-Os"] {
            accepts(folder, compiler, &[level, "-x", language, "-c", "-o", "out.o", source]);
        }
    }
}

/// Constants alone, included twice, in C and in the preprocessor's own arithmetic.
const CONSTANTS: &str = "#include \"constants.h\"\n#include \"constants.h\"\n\
    #if TB_LX_CENTRE <= TB_LX_LOW || TB_RAW_BITS < 8u\n#error \"not numbers\"\n#endif\n\
    int main(void);\nint main(void) { return TB_LX_CENTRE > TB_LX_DEAD ? 0 : 1; }\n";

/// Both flavours at once: a macro with another value would be a warning.
const BOTH: &str = "#include \"constants.h\"\n#include \"trim.h\"\n\
    int main(void);\nint main(void) { return TB_LX_CENTRE > TB_LX_DEAD ? 0 : 1; }\n";

fn folder_with(trim: &Trim) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a file in it");
    };
    write("trim.h", &header(trim).expect("a consistent trim"));
    write("constants.h", &constants(trim).expect("a consistent trim"));
    write("used.c", &used(trim));
    write("unused.c", UNUSED);
    write("constants.c", CONSTANTS);
    write("both.c", BOTH);
    folder
}

#[test]
fn host_compilers_take_it_under_every_standard() {
    for trim in [whole(16), whole_with_options(16)] {
        let folder = folder_with(&trim);
        for standard in ["-std=c99", "-std=c11", "-std=c17"] {
            each(folder.path(), &["cc", standard], "c");
        }
        for standard in ["-std=c++11", "-std=c++17", "-std=c++20"] {
            each(folder.path(), &["c++", standard, "-Wold-style-cast"], "c++");
        }
        if present("clang") {
            each(folder.path(), &["clang", "-std=c99"], "c");
        }
    }
    for trim in [whole(10), whole_with_options(10)] {
        each(folder_with(&trim).path(), &["cc", "-std=c99"], "c");
    }
}

#[test]
fn compilers_of_small_targets_take_it() {
    for trim in [whole(10), whole_with_options(10)] {
        let folder = folder_with(&trim);
        for (c, cpp, target) in [
            ("avr-gcc", "avr-g++", "-mmcu=atmega32u4"),
            ("arm-none-eabi-gcc", "arm-none-eabi-g++", "-mcpu=cortex-m0plus"),
        ] {
            for standard in ["-std=c99", "-std=c11"] {
                if present(c) {
                    each(folder.path(), &[c, target, standard], "c");
                }
            }
            if present(cpp) {
                let words = [cpp, target, "-std=c++11", "-Wold-style-cast"];
                each(folder.path(), &words, "c++");
            }
        }
    }
}

/// Lines of a comment between a first line and the next that begins otherwise.
fn lines_from(text: &str, first: &str, end: &str) -> usize {
    let all = text.lines().skip_while(|line| !line.contains(first));
    all.take_while(|line| !line.starts_with(end)).count()
}

#[test]
fn the_header_says_in_ten_lines_how_to_call_it() {
    for trim in [whole(10), whole_with_options(10)] {
        let text = header(&trim).expect("a consistent trim");
        let lines = lines_from(&text, "How to call it", " */");
        assert!((5..=10).contains(&lines), "{lines}");
        assert!(text.contains("adopt one axis at a time"));
        let alone = constants(&trim).expect("a consistent trim");
        assert!(!alone.contains("typedef") && !alone.contains("static") && alone.is_ascii());
    }
}
