//! The serial port: opening, refusals in words, and reads that tell idle from gone.
use std::io::{ErrorKind as IoKind, Read, Write};
use std::path::Path;
use std::time::Duration;

use serde::{Deserialize, Serialize};
use serialport::{ErrorKind, SerialPort, SerialPortInfo, SerialPortType, TTYPort};

use super::board::{PortEntry, Ports, UsbId};
use super::{Link, LinkError};

/// The rate at which many boards restart into their bootloader; never opened.
pub const BOOTLOADER_BAUD: u32 = 1200;

/// The rates most often found on debug ports, in the order worth trying.
pub const LIKELY_BAUDS: [u32; 7] = [115_200, 9_600, 57_600, 230_400, 250_000, 500_000, 1_000_000];

/// What to do with a control line when the port is opened.
///
/// Opening with DTR asserted restarts many boards; others send nothing without it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum ControlLine {
    /// As the operating system leaves it.
    #[default]
    AsIs,
    /// Asserted on open.
    On,
    /// Released on open.
    Off,
}

/// How a port is to be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SerialOptions {
    /// Device path; typed paths and links are fine.
    pub path: String,
    /// Symbol rate; non-standard ones are passed on as they are.
    pub baud: u32,
    /// Data terminal ready on open.
    pub dtr: ControlLine,
    /// Request to send on open.
    pub rts: ControlLine,
}

impl SerialOptions {
    /// 8N1 with the control lines as they are.
    pub fn new(path: &str, baud: u32) -> SerialOptions {
        let as_is = ControlLine::AsIs;
        SerialOptions { path: path.to_owned(), baud, dtr: as_is, rts: as_is }
    }
}

/// An open serial port.
pub struct SerialLink {
    name: String,
    port: TTYPort,
    wait: Duration,
}

impl SerialLink {
    /// Opens a port for this process alone, 8 data bits, no parity, 1 stop bit.
    ///
    /// # Errors
    /// With the reason and the remedy: [`LinkError::Busy`] while another program holds it, else
    /// [`LinkError::Refused`]: missing, no permission, not a port, or 1200 baud.
    pub fn open(options: &SerialOptions) -> Result<SerialLink, LinkError> {
        if options.baud == BOOTLOADER_BAUD {
            return Err(LinkError::Refused(format!(
                "{}: 1200 baud restarts many boards into their bootloader and is never opened; \
                 choose another rate",
                options.path
            )));
        }
        let builder = serialport::new(&options.path, options.baud).timeout(Duration::ZERO);
        let builder = match options.dtr {
            ControlLine::AsIs => builder.preserve_dtr_on_open(),
            ControlLine::On => builder.dtr_on_open(true),
            ControlLine::Off => builder.dtr_on_open(false),
        };
        let mut port = builder.open_native().map_err(|e| refusal(&options.path, &e))?;
        match options.rts {
            ControlLine::AsIs => {}
            // A pseudo-terminal has no control lines and says so; that is not a failure.
            line => drop(port.write_request_to_send(line == ControlLine::On)),
        }
        let short = options.path.rsplit('/').next().unwrap_or(&options.path);
        Ok(SerialLink { name: format!("serial {short}"), port, wait: Duration::ZERO })
    }
}

impl Link for SerialLink {
    fn name(&self) -> &str {
        &self.name
    }

    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Result<usize, LinkError> {
        let gone = |name: &str| LinkError::Gone { name: name.to_owned() };
        if wait != self.wait {
            self.port.set_timeout(wait).map_err(|_cause| gone(&self.name))?;
            self.wait = wait;
        }
        match self.port.read(buffer) {
            Ok(0) => Err(gone(&self.name)),
            Ok(n) => Ok(n),
            Err(e) if matches!(e.kind(), IoKind::TimedOut | IoKind::Interrupted) => Ok(0),
            Err(_unplugged) => Err(gone(&self.name)),
        }
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.port
            .set_timeout(Duration::from_millis(500))
            .and_then(|()| self.port.write_all(bytes).map_err(serialport::Error::from))
            .map_err(|_unplugged| LinkError::Gone { name: self.name.clone() })?;
        // The read timeout was changed: the next read sets its own again.
        self.wait = Duration::from_millis(500);
        Ok(())
    }
}

/// The ports of this machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemPorts;

impl Ports for SystemPorts {
    fn list(&self) -> Result<Vec<PortEntry>, LinkError> {
        ports()
    }

    fn open(&self, options: &SerialOptions) -> Result<Box<dyn Link>, LinkError> {
        Ok(Box::new(SerialLink::open(options)?))
    }
}

/// The machine's serial ports in order of path. Pseudo-terminals are never listed; type their path.
///
/// # Errors
/// The system's list cannot be read.
pub fn ports() -> Result<Vec<PortEntry>, LinkError> {
    // The library does not ask whether there is anything to list.
    if cfg!(target_os = "linux") && !Path::new("/sys/class/tty").is_dir() {
        return Ok(Vec::new());
    }
    let found = serialport::available_ports().map_err(|e| {
        LinkError::Refused(format!("the list of serial ports cannot be read: {e}; type the path"))
    })?;
    let mut entries: Vec<PortEntry> = found.into_iter().map(entry).collect();
    entries.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(entries)
}

fn entry(port: SerialPortInfo) -> PortEntry {
    let kind = match &port.port_type {
        SerialPortType::UsbPort(_) => "usb",
        SerialPortType::PciPort => "pci",
        SerialPortType::BluetoothPort => "bluetooth",
        SerialPortType::Unknown => "unknown",
    };
    let bare =
        PortEntry { path: port.port_name, kind, ids: String::new(), usb: None, socket: None };
    let SerialPortType::UsbPort(usb) = port.port_type else { return bare };
    let serial = usb.serial_number.filter(|text| !text.trim().is_empty());
    let id = UsbId { vid: usb.vid, pid: usb.pid, serial, interface: usb.interface };
    let words: Vec<&str> = [&usb.manufacturer, &usb.product, &id.serial]
        .into_iter()
        .filter_map(|word| word.as_deref())
        .collect();
    PortEntry {
        ids: format!("{id} {}", words.join(" ")).trim_end().to_owned(),
        socket: usb.location.map(|place| place.to_string()),
        usb: Some(id),
        ..bare
    }
}

/// The system's refusal in words a builder can act on.
fn refusal(path: &str, error: &serialport::Error) -> LinkError {
    let there = Path::new(path).exists();
    let words = match error.kind() {
        ErrorKind::Io(IoKind::NotFound) => MISSING.to_owned(),
        ErrorKind::NoDevice if !there => MISSING.to_owned(),
        ErrorKind::Io(IoKind::PermissionDenied) => no_permission(path),
        ErrorKind::Io(IoKind::ResourceBusy) | ErrorKind::NoDevice => {
            return LinkError::Busy(format!("{path}: {BUSY}"));
        }
        _ if Path::new(path).is_file() => {
            "an ordinary file, not a serial port; open it as `file:PATH`".to_owned()
        }
        _ => format!("cannot be opened as a serial port ({})", error.description),
    };
    LinkError::Refused(format!("{path}: {words}"))
}

const MISSING: &str = "no such port; plug the board in, or list the ports with `trimbench ports`";
const BUSY: &str = "busy: another program holds the port (a desktop service looks at a new one for \
    some seconds); close that program";

/// Groups that systems give their serial ports to (from memory: Debian and Fedora `dialout`, Arch
/// `uucp`, Gentoo `tty` and `uucp`, others `plugdev`, `serial`, `modem`).
const PORT_GROUPS: [&str; 6] = ["dialout", "uucp", "tty", "plugdev", "serial", "modem"];

/// Names the group that may use the device, where the system tells and it is one for ports.
#[cfg(unix)]
fn no_permission(path: &str) -> String {
    use std::os::unix::fs::MetadataExt;
    let group = std::fs::metadata(path).ok().and_then(|meta| group_name(meta.gid()));
    without_permission(group.as_deref())
}

fn without_permission(group: Option<&str>) -> String {
    match group {
        Some(group) if PORT_GROUPS.contains(&group) => format!(
            "no permission; the port belongs to the group `{group}`: add yourself with \
             `sudo usermod -aG {group} $USER` and log in again"
        ),
        Some(group) => format!(
            "no permission; it belongs to `{group}`, which is no group for ports: ask whoever looks \
             after this machine for a rule that gives ports to a group of their own"
        ),
        None => "no permission; ask whoever looks after this machine for it".to_owned(),
    }
}

#[cfg(not(unix))]
fn no_permission(_path: &str) -> String {
    "no permission; run as a user who may use the port".to_owned()
}

/// The name of a numeric group, from the system's group file.
#[cfg(unix)]
fn group_name(gid: u32) -> Option<String> {
    let table = std::fs::read_to_string("/etc/group").ok()?;
    table.lines().find_map(|line| {
        let mut parts = line.split(':');
        let name = parts.next()?;
        (parts.nth(1)?.parse::<u32>().ok()? == gid).then(|| name.to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(path: &str, baud: u32) -> String {
        match SerialLink::open(&SerialOptions::new(path, baud)) {
            Ok(_) => panic!("{path} opened"),
            Err(e) => e.to_string(),
        }
    }

    #[test]
    fn the_bootloader_rate_is_never_opened() {
        assert!(refused("/dev/null", 1200).contains("bootloader"));
    }

    #[test]
    fn a_missing_port_says_what_to_do() {
        let words = refused("/dev/no-such-port", 115_200);
        assert!(
            words.contains("/dev/no-such-port") && words.contains("trimbench ports"),
            "{words}"
        );
    }

    #[test]
    fn an_ordinary_file_is_told_from_a_port() {
        let file = tempfile::NamedTempFile::new().expect("a temp file");
        let words = refused(&file.path().to_string_lossy(), 115_200);
        assert!(words.contains("file:PATH"), "{words}");
    }

    #[test]
    fn a_port_that_is_open_elsewhere_is_busy() {
        let (_master, slave) = TTYPort::pair().expect("a pseudo-terminal");
        let path = slave.name().expect("its name");
        let _holder = SerialLink::open(&SerialOptions::new(&path, 115_200)).expect("opened");
        let words = refused(&path, 115_200);
        assert!(words.contains("busy"), "{words}");
    }

    #[cfg(unix)]
    #[test]
    fn groups_are_named_and_only_those_for_ports_advised() {
        assert_eq!(group_name(0).as_deref(), Some("root"));
        for group in ["root", "wheel", "disk"] {
            let words = without_permission(Some(group));
            assert!(!words.contains("usermod") && words.contains(group), "{words}");
        }
        assert!(without_permission(Some("dialout")).contains("usermod -aG dialout"));
    }
}
