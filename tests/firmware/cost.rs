//! What each function of the header costs on the emulated ATmega32U4, against the kept table.
//!
//! `TRIMBENCH_WRITE_COSTS=1` writes the table anew.
use std::path::Path;
use std::process::Command;

use trimbench::emit::costs::{Cost, Costs};
use trimbench::emit::header::header;
use trimbench::rig::{AxisId, Half, ZoneForm};
use trimbench::trim::{
    CurveOf, CurveTrim, GuardTrim, Matrix2, MotorTrim, Options, REACH_NODES, ReachTrim, SmoothTrim,
    Trim, curve_points,
};

use crate::drawn;
use crate::emulator::{Run, compile, harness, run};

/// One thing that is measured.
struct Variant {
    key: &'static str,
    words: &'static str,
    /// Calls it with `x` and `y`, and leaves what it gives in `out`.
    call: &'static str,
    /// Changes the plain controller.
    change: fn(&mut Trim),
    /// Over pairs of codes, not only over the codes of one axis.
    pairs: bool,
}

fn plain(_: &mut Trim) {}

fn matrix(trim: &mut Trim) {
    trim.sticks[0].matrix = Some(Matrix2([[16_300, 900], [-900, 16_384]]));
}

fn curve(trim: &mut Trim, of: CurveOf, points: usize) {
    let points = curve_points(0.4, points).expect("within its range");
    trim.options.curves.push(CurveTrim { of, points });
}

fn reach(trim: &mut Trim) {
    let radii = (0..REACH_NODES).map(|k| 33_000 + 400 * (k as u16 % 8)).collect();
    trim.options.reaches.push(ReachTrim { half: Half::Left, radii });
}

const STICK: &str = "int16_t a, b; tb_left_stick(x, y, &a, &b); out = a; out = b;";

const VARIANTS: [Variant; 18] = [
    Variant {
        key: "axis",
        words: "one axis, axial zone, constants compiled in",
        call: "out = tb_lx(x); (void)y;",
        change: plain,
        pairs: false,
    },
    Variant {
        key: "axis-table",
        words: "one axis, axial zone, constants in a table in memory",
        call: "static tb_axis lx = TB_LX_AXIS; out = tb_axis_run(&lx, x); (void)y;",
        change: plain,
        pairs: false,
    },
    Variant {
        key: "stick-axial",
        words: "one stick, axial zones",
        call: STICK,
        change: |trim| trim.sticks[0].form = ZoneForm::Axial,
        pairs: true,
    },
    Variant {
        key: "stick-axial-curve33",
        words: "one stick, axial zones, curve of 33 points",
        call: STICK,
        change: |trim| {
            trim.sticks[0].form = ZoneForm::Axial;
            curve(trim, CurveOf::Stick(Half::Left), 33);
        },
        pairs: true,
    },
    Variant {
        key: "stick-radial",
        words: "one stick, radial zone",
        call: STICK,
        change: plain,
        pairs: true,
    },
    Variant {
        key: "stick-radial-2x2",
        words: "one stick, radial zone, 2×2 correction",
        call: STICK,
        change: matrix,
        pairs: true,
    },
    Variant {
        key: "stick-radial-curve33",
        words: "one stick, radial zone, curve of 33 points",
        call: STICK,
        change: |trim| curve(trim, CurveOf::Stick(Half::Left), 33),
        pairs: true,
    },
    Variant {
        key: "stick-radial-curve65",
        words: "one stick, radial zone, curve of 65 points",
        call: STICK,
        change: |trim| curve(trim, CurveOf::Stick(Half::Left), 65),
        pairs: true,
    },
    Variant {
        key: "stick-radial-reach",
        words: "one stick, radial zone, reach by direction",
        call: STICK,
        change: reach,
        pairs: true,
    },
    Variant {
        key: "stick-radial-all",
        words: "one stick, radial zone, 2×2, reach by direction, curve of 33 points",
        call: STICK,
        change: |trim| {
            matrix(trim);
            reach(trim);
            curve(trim, CurveOf::Stick(Half::Left), 33);
        },
        pairs: true,
    },
    Variant {
        key: "trigger",
        words: "one trigger",
        call: "out = tb_lt(x); (void)y;",
        change: plain,
        pairs: false,
    },
    Variant {
        key: "trigger-curve33",
        words: "one trigger, curve of 33 points",
        call: "out = tb_lt(x); (void)y;",
        change: |trim| curve(trim, CurveOf::Trigger(Half::Left), 33),
        pairs: false,
    },
    Variant {
        key: "trigger-switch",
        words: "one trigger as a switch",
        call: "static uint8_t was; was = tb_lt_pressed(x, was); out = was; (void)y;",
        change: plain,
        pairs: false,
    },
    Variant {
        key: "button",
        words: "one button, debounced",
        call: "static tb_button b; out = tb_b0(&b, (uint8_t)(x & 4u), x); (void)y;",
        change: plain,
        pairs: false,
    },
    Variant {
        key: "smoothing",
        words: "one input smoothed",
        call: "static tb_smooth s; out = (int16_t)tb_lx_smooth(&s, x); (void)y;",
        change: |trim| {
            let axis = AxisId::Lx;
            trim.options.smoothing.push(SmoothTrim { axis, shift: 3, time_constant_us: 8000 });
        },
        pairs: false,
    },
    Variant {
        key: "guard",
        words: "one input guarded against implausible codes",
        call: "static tb_guard g; out = (int16_t)tb_lx_guard(&g, x, y);",
        change: |trim| {
            trim.options.guards.push(GuardTrim { axis: AxisId::Lx, least: 5, most: 1018 })
        },
        pairs: true,
    },
    Variant {
        key: "motor",
        words: "one motor asked and driven",
        call: "static tb_motor m; tb_m0_ask(&m, (uint16_t)(x << 6), y); out = tb_m0_duty(&m, y);",
        change: |trim| {
            let motor =
                MotorTrim { index: 0, start: 80, stop: 40, most: 200, kick_ms: 40, off_ms: 900 };
            trim.options.motors.push(motor);
        },
        pairs: true,
    },
    Variant {
        key: "scan",
        words: "a whole scan: two radial sticks, two triggers",
        call: "int16_t a, b; tb_left_stick(x, y, &a, &b); out = a; out = b; \
               tb_right_stick(y, x, &a, &b); out = a; out = b; out = tb_lt(x); out = tb_rt(y);",
        change: plain,
        pairs: true,
    },
];

/// The controller whose constants are measured.
fn controller(variant: &Variant) -> Trim {
    let mut trim = drawn::trim(10, 3);
    for stick in &mut trim.sticks {
        stick.form = ZoneForm::Radial;
        stick.matrix = None;
    }
    trim.options = Options { scan_rate_hz: 1000, guard_ms: 100, ..Options::default() };
    (variant.change)(&mut trim);
    trim
}

fn sizes(program: &Path) -> [u32; 2] {
    let out = Command::new("avr-size").arg(program).output().expect("avr-size");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let row = text.lines().nth(1).unwrap_or_else(|| panic!("{text}"));
    let [code, data, bss]: [u32; 3] = row
        .split_whitespace()
        .take(3)
        .map(|w| w.parse().expect("a number"))
        .collect::<Vec<_>>()
        .try_into()
        .expect("three numbers");
    [code + data, data + bss]
}

fn built(folder: &Path, name: &str, probe: &str, grid: bool, header: &str) -> std::path::PathBuf {
    let inside = folder.join(name);
    std::fs::create_dir_all(&inside).expect("a folder");
    let text = format!(
        "#define GRID {}\n{}\nextern volatile int16_t out;\nvolatile int16_t out;\n\
         static void __attribute__((noinline)) probe(uint16_t x, uint16_t y)\n{{\n{probe}\n}}\n",
        u8::from(grid),
        if header.is_empty() { "" } else { "#include \"trim.h\"" }
    );
    std::fs::write(inside.join("probe.h"), text).expect("written");
    std::fs::write(inside.join("trim.h"), header).expect("written");
    let program = inside.join("cost.elf");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/firmware/cost.c");
    let (include, step) =
        (format!("-I{}", inside.display()), if grid { "-DSTEP=7u" } else { "-DSTEP=1u" });
    let (source, out) = (source.display().to_string(), program.display().to_string());
    let rest = [step, &include, "-o", &out, &source];
    compile(&["avr-gcc", "-std=c99", "-Os", "-Wall", "-Wextra", "-mmcu=atmega32u4"], &rest);
    program
}

fn measured(folder: &Path, variant: &Variant) -> Cost {
    let text = header(&controller(variant)).expect("a consistent trim");
    let program = built(folder, variant.key, variant.call, variant.pairs, &text);
    let bare = "__asm__ volatile(\"\" : : \"r\"(x), \"r\"(y)); out = 0;";
    let empty = built(folder, &format!("{}.empty", variant.key), bare, variant.pairs, "");
    let said = String::from_utf8(run(&program, 60.0, Run::default())).expect("text");
    let words: Vec<u32> =
        said.lines().map(|l| u32::from_str_radix(l, 16).expect("hexadecimal")).collect();
    let [mean, worst, calls] = words[..] else { panic!("{}: {said:?}", variant.key) };
    let ([flash, ram], [flash_0, ram_0]) = (sizes(&program), sizes(&empty));
    let (key, words) = (variant.key.to_owned(), variant.words.to_owned());
    Cost { key, words, mean, worst, calls, flash: flash - flash_0, ram: ram - ram_0 }
}

#[test]
fn each_variant_costs_what_the_table_says() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let version = Command::new("avr-gcc").arg("--version").output().expect("avr-gcc").stdout;
    let version = String::from_utf8_lossy(&version).lines().next().unwrap_or_default().to_owned();
    let found = Costs {
        format: 1,
        chip: "ATmega32U4".to_owned(),
        compiler: version,
        options: "-Os".to_owned(),
        rows: VARIANTS.iter().map(|v| measured(folder.path(), v)).collect(),
    };
    for row in &found.rows {
        println!("{:22} {:5} {:5} {:5} {:4}", row.key, row.mean, row.worst, row.flash, row.ram);
    }
    if std::env::var("TRIMBENCH_WRITE_COSTS").is_ok_and(|v| v == "1") {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/costs-avr.ron");
        let text = ron::ser::to_string_pretty(&found, ron::ser::PrettyConfig::new()).expect("RON");
        let head = "// What the generated header costs, measured on the emulated chip by tests/firmware/cost.rs.\n";
        std::fs::write(path, format!("{head}{text}\n")).expect("written");
    }
    let worst = |key: &str| found.row(key).map_or(u32::MAX, |r| r.worst);
    assert!(worst("axis") <= 75, "{}", worst("axis"));
    assert!(worst("axis-table") <= 90, "{}", worst("axis-table"));
    assert!(worst("stick-radial") <= 1200, "{}", worst("stick-radial"));
    assert!(worst("scan") <= 3000, "{}", worst("scan"));
    let kept = Costs::measured();
    if kept.compiler == found.compiler {
        assert_eq!(kept, found, "the header has changed: run with TRIMBENCH_WRITE_COSTS=1");
    } else {
        println!("the kept table is of {}, here is {}", kept.compiler, found.compiler);
    }
}
