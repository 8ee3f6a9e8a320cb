//! No warning: the companion under C99 and C++11, the host and the small targets, every build of
//! the plain program.
use crate::emulator::{WARNINGS, companion, compile, present};

const COMPILERS: [&[&str]; 8] = [
    &["cc", "-std=c99"],
    &["cc", "-std=c17"],
    &["c++", "-x", "c++", "-std=c++11"],
    &["c++", "-x", "c++", "-std=c++20"],
    &["avr-gcc", "-std=c99", "-mmcu=atmega32u4"],
    &["avr-g++", "-x", "c++", "-std=c++11", "-mmcu=atmega32u4"],
    &["arm-none-eabi-gcc", "-std=c99", "-mcpu=cortex-m0plus"],
    &["arm-none-eabi-g++", "-x", "c++", "-std=c++11", "-mcpu=cortex-m0plus"],
];

#[test]
fn the_second_half_is_built_without_a_warning() {
    if !present("avr-gcc") {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let program = folder.path().join("half.elf").display().to_string();
    let sources = ["avr/half.c", "bench_link.c"].map(|s| companion().join(s).display().to_string());
    let mut rest = WARNINGS.to_vec();
    rest.extend(["-o", &program]);
    rest.extend(sources.iter().map(String::as_str));
    compile(&["avr-gcc", "-std=c99", "-Os", "-mmcu=atmega32u4"], &rest);
}

#[test]
fn the_portable_part_passes_every_compiler() {
    let folder = tempfile::tempdir().expect("a folder");
    let object = folder.path().join("out.o").display().to_string();
    let source = companion().join("bench_link.c").display().to_string();
    for compiler in COMPILERS.into_iter().filter(|c| present(c[0])) {
        for level in ["-O0", "-Os", "-O2"] {
            let mut rest = WARNINGS.to_vec();
            rest.extend([level, "-c", "-o", &object, &source]);
            compile(compiler, &rest);
        }
    }
}
