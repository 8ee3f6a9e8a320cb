//! No warning: every C and C++ standard at hand, used, unused, included twice, no optimisation and
//! size optimisation, and the small targets where their compilers are installed.
use std::path::Path;

use trimbench::emit::header::header;
use trimbench::rig::ZoneForm;
use trimbench::trim::{Matrix2, Trim};

use crate::compilers::{accepts, present};
use crate::drawn;

const UNUSED: &str = "#include \"trim.h\"\nint main(void);\nint main(void) { return 0; }\n";

/// Uses every function, so that every line is compiled for good.
fn used(trim: &Trim) -> String {
    let mut c = "#include \"trim.h\"\n#include \"trim.h\"\nextern volatile uint16_t raw;\nextern volatile int16_t out;\nvolatile uint16_t raw; volatile int16_t out;\nint main(void);\nint main(void)\n{\n    int16_t x, y;\n    static tb_button b;\n".to_owned();
    for a in &trim.axes {
        c += &format!("    out = tb_{}(raw);\n", a.axis.key());
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

fn each(folder: &Path, compiler: &[&str], language: &str) {
    for source in ["used.c", "unused.c"] {
        for level in ["-O0", "-Os"] {
            accepts(folder, compiler, &[level, "-x", language, "-c", "-o", "out.o", source]);
        }
    }
}

fn folder_with(trim: &Trim) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a file in it");
    };
    write("trim.h", &header(trim).expect("a consistent trim"));
    write("used.c", &used(trim));
    write("unused.c", UNUSED);
    folder
}

#[test]
fn host_compilers_take_it_under_every_standard() {
    let folder = folder_with(&whole(16));
    for standard in ["-std=c99", "-std=c11", "-std=c17"] {
        each(folder.path(), &["cc", standard], "c");
    }
    for standard in ["-std=c++11", "-std=c++17", "-std=c++20"] {
        each(folder.path(), &["c++", standard, "-Wold-style-cast"], "c++");
    }
    let ten = folder_with(&whole(10));
    each(ten.path(), &["cc", "-std=c99"], "c");
}

#[test]
fn compilers_of_small_targets_take_it() {
    let folder = folder_with(&whole(10));
    for (c, cpp, target) in [
        ("avr-gcc", "avr-g++", "-mmcu=atmega32u4"),
        ("arm-none-eabi-gcc", "arm-none-eabi-g++", "-mcpu=cortex-m0plus"),
    ] {
        if present(c) {
            each(folder.path(), &[c, target, "-std=c99"], "c");
        }
        if present(cpp) {
            each(folder.path(), &[cpp, target, "-std=c++11", "-Wold-style-cast"], "c++");
        }
    }
    if present("clang") {
        each(folder.path(), &["clang", "-std=c99"], "c");
    }
}
