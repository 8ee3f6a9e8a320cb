//! `ports`: the serial ports of this machine, one a line.
use super::{Failure, Outcome, Voice, printable};
use crate::link::serial;

pub(super) fn run(voice: Voice) -> Result<Outcome, Failure> {
    let ports = serial::ports()?;
    if ports.is_empty() {
        voice.note("no serial ports; plug the board in (a pseudo-terminal is opened by its path)");
    }
    for port in ports {
        let socket = port.socket.map_or(String::new(), |socket| format!("socket {socket}"));
        let fields = [port.path.as_str(), port.kind, &port.ids, &socket].map(printable);
        voice.result(&format!("{}\n", fields.join("\t").trim_end()))?;
    }
    Ok(Outcome::Clean)
}
