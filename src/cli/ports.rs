//! `ports`: the serial ports of this machine, one a line.
use super::{Failure, Outcome, Voice, printable};
use crate::link::serial;

pub(super) fn run(voice: Voice) -> Result<Outcome, Failure> {
    let ports = serial::ports()?;
    if ports.is_empty() {
        voice.note("no serial ports; plug the board in (a pseudo-terminal is opened by its path)");
    }
    for port in ports {
        let fields = [port.path.as_str(), port.kind, &port.ids].map(printable);
        voice.result(&format!("{}\n", fields.join("\t")))?;
    }
    Ok(Outcome::Clean)
}
