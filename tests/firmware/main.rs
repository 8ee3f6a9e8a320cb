//! The companion firmware: on the host against the tool's own reader, and on an emulated
//! ATmega32U4 whose pins follow the virtual board.
mod clock; // what is timed, across the round of the board's clock
mod closed_loop; // board → capture → constants → header → the same board, proved
mod cost; // cycles, flash and memory of each function of the header
#[path = "../header/drawn.rs"]
#[expect(dead_code, reason = "not all of it is used here")]
mod drawn; // trims drawn from a seed
mod equal; // the header on the emulated chip against the arithmetic here
mod edges; // the edge log, measured, against the levels of the pins
mod emulator; // the harness, the programs, what is installed
mod link; // the emitter and the receiver, compiled for the host, against the tool
mod pins; // the virtual board's levels as a table for the harness
mod port; // the emulated board on a pseudo-terminal, captured in real time and commanded
mod relay; // a second half over I2C, fresh, late and silent
mod sketch; // the sketch with the Debian AVR core, on two boards
mod warnings; // no warning under any compiler and build
