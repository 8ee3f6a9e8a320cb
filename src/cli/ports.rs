//! `ports`: the serial ports of this machine, one a line.
use super::{Failure, Outcome, printable, say};
use crate::link::serial;

pub(super) fn run() -> Result<Outcome, Failure> {
    let ports = serial::ports()?;
    if ports.is_empty() {
        eprintln!("no serial ports; plug the board in (a pseudo-terminal is opened by its path)");
    }
    for port in ports {
        say(&format!("{}\n", printable(&format!("{}\t{}\t{}", port.path, port.kind, port.ids))))?;
    }
    Ok(Outcome::Clean)
}
