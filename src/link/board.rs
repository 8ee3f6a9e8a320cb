//! Which board stands at which port: its USB id, serial number and socket, and where it is now.
//!
//! A board is known again by its own ids, never by the name of its port: names go to whatever is
//! plugged in next, and a boot loader takes the same socket under another product id.
use std::fmt;
use std::path::Path;

use super::serial::SerialOptions;
use super::{Link, LinkError};

/// What a USB device says of itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UsbId {
    /// Vendor.
    pub vid: u16,
    /// Product.
    pub pid: u16,
    /// Serial number, where it has one.
    pub serial: Option<String>,
    /// Which of the device's ports it is, where the system tells.
    pub interface: Option<u8>,
}

impl fmt::Display for UsbId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04x}:{:04x}", self.vid, self.pid)
    }
}

/// One serial port of this machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortEntry {
    /// Device path.
    pub path: String,
    /// `usb`, `pci`, `bluetooth` or `unknown`.
    pub kind: &'static str,
    /// Vendor and product id, maker's and product's words where the system gives them.
    pub ids: String,
    /// The ids to tell boards apart by.
    pub usb: Option<UsbId>,
    /// The USB socket that it is plugged into, by bus and hubs: `1-3.2`.
    pub socket: Option<String>,
}

/// The serial ports of a machine: its own, or an invented one in a test.
pub trait Ports: Send + Sync {
    /// The ports that are there.
    ///
    /// # Errors
    /// The system's list cannot be read.
    fn list(&self) -> Result<Vec<PortEntry>, LinkError>;

    /// Opens one.
    ///
    /// # Errors
    /// [`LinkError::Busy`] while another program holds it, else [`LinkError::Refused`].
    fn open(&self, options: &SerialOptions) -> Result<Box<dyn Link>, LinkError>;

    /// The device that a path, perhaps a link, leads to; `None` while there is nothing.
    fn device(&self, path: &str) -> Option<String> {
        let real = Path::new(path).canonicalize().ok()?;
        Some(real.to_string_lossy().into_owned())
    }
}

/// A board as it stood when its port was first opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Board {
    path: String,
    usb: Option<UsbId>,
    socket: Option<String>,
}

/// Where a board is now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Whereabouts {
    /// At this path.
    Here(String),
    /// Not there; in words, what is there instead.
    Away(String),
}

impl Board {
    /// The board at a path.
    pub fn at(path: &str, ports: &dyn Ports) -> Board {
        let device = ports.device(path);
        // Without a list it is known by its path alone.
        let list = ports.list().unwrap_or_default();
        let entry = list.into_iter().find(|e| e.path == path || Some(&e.path) == device.as_ref());
        let (usb, socket) = entry.map_or((None, None), |e| (e.usb, e.socket));
        Board { path: path.to_owned(), usb, socket }
    }

    /// Looks for it among the ports that are there now.
    pub fn find(&self, ports: &dyn Ports) -> Whereabouts {
        let Some(usb) = &self.usb else {
            return match ports.device(&self.path) {
                Some(_) => Whereabouts::Here(self.path.clone()),
                None => Whereabouts::Away("it is not there".to_owned()),
            };
        };
        let list = match ports.list() {
            Ok(list) => list,
            Err(e) => return Whereabouts::Away(e.to_string()),
        };
        let same: Vec<&PortEntry> = list.iter().filter(|e| e.usb.as_ref() == Some(usb)).collect();
        let here = same.iter().find(|e| e.socket == self.socket);
        let lone = (same.len() == 1 && (usb.serial.is_some() || self.socket.is_none()))
            .then(|| same.first())
            .flatten();
        match here.or(lone) {
            Some(entry) => Whereabouts::Here(entry.path.clone()),
            None => Whereabouts::Away(self.instead(&list, &same)),
        }
    }

    /// What is there in its place.
    fn instead(&self, list: &[PortEntry], same: &[&PortEntry]) -> String {
        let in_socket = list.iter().filter(|e| e.socket.is_some() && e.socket == self.socket);
        let mut others = in_socket.filter_map(|e| e.usb.as_ref());
        if let Some(other) = others.next() {
            return format!(
                "{other} stands at its socket, perhaps its boot loader, and is left alone"
            );
        }
        match same.first().and_then(|e| e.socket.as_ref()) {
            Some(socket) => format!(
                "one like it is at socket {socket}, which nothing shows to be the same board; plug it \
                 into its own socket, or connect that one"
            ),
            None => "it is not there".to_owned(),
        }
    }

    /// Where there are others like it that only the socket tells from it: which one this is.
    pub fn among_like(&self, ports: &dyn Ports) -> Option<String> {
        let (usb, socket) = (self.usb.as_ref()?, self.socket.as_ref()?);
        let list = ports.list().ok()?;
        let alike =
            |e: &&PortEntry| e.usb.as_ref() == Some(usb) && e.socket.as_ref() != Some(socket);
        let others: Vec<&str> = list.iter().filter(alike).map(|e| e.path.as_str()).collect();
        let why = match &usb.serial {
            None => "without serial numbers".to_owned(),
            Some(serial) => format!("with one serial number ({serial})"),
        };
        (!others.is_empty()).then(|| {
            format!(
                "{}: one of {} boards {usb} {why}: it is the one at socket {socket} and is known by \
                 that; keep it there (like it: {})",
                self.path,
                others.len() + 1,
                others.join(", ")
            )
        })
    }
}

/// `1209:4b42 at socket 1-3`; the path where the system tells neither.
impl fmt::Display for Board {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.usb, &self.socket) {
            (Some(usb), Some(socket)) => write!(f, "{usb} at socket {socket}"),
            (Some(usb), None) => write!(f, "{usb}"),
            _ => f.write_str(&self.path),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Listed(Vec<PortEntry>);

    impl Ports for Listed {
        fn list(&self) -> Result<Vec<PortEntry>, LinkError> {
            Ok(self.0.clone())
        }

        fn open(&self, options: &SerialOptions) -> Result<Box<dyn Link>, LinkError> {
            Err(LinkError::Refused(options.path.clone()))
        }

        fn device(&self, path: &str) -> Option<String> {
            self.0.iter().any(|e| e.path == path).then(|| path.to_owned())
        }
    }

    fn entry(path: &str, pid: u16, serial: Option<&str>, socket: &str) -> PortEntry {
        let serial = serial.map(str::to_owned);
        let usb = UsbId { vid: 0x1209, pid, serial, interface: Some(0) };
        PortEntry {
            path: path.to_owned(),
            kind: "usb",
            ids: usb.to_string(),
            usb: Some(usb),
            socket: Some(socket.to_owned()),
        }
    }

    #[test]
    fn a_serial_number_is_known_in_any_socket() {
        let before = Listed(vec![entry("/dev/a", 1, Some("7C"), "1-3")]);
        let board = Board::at("/dev/a", &before);
        let moved = Listed(vec![
            entry("/dev/a", 1, Some("7D"), "1-3"),
            entry("/dev/b", 1, Some("7C"), "2-1"),
        ]);
        assert_eq!(board.find(&moved), Whereabouts::Here("/dev/b".to_owned()));
    }

    #[test]
    fn without_one_the_socket_decides() {
        let two = vec![entry("/dev/a", 1, None, "1-3"), entry("/dev/b", 1, None, "1-4")];
        let board = Board::at("/dev/b", &Listed(two.clone()));
        let said = board.among_like(&Listed(two.clone())).expect("two alike");
        assert!(said.contains("the one at socket 1-4") && said.contains("/dev/a"), "{said}");
        let Whereabouts::Away(said) = board.find(&Listed(two[..1].to_vec())) else {
            panic!("the other board is not it")
        };
        assert!(said.contains("one like it is at socket 1-3"), "{said}");
        let swapped = vec![entry("/dev/b", 1, None, "1-3"), entry("/dev/a", 1, None, "1-4")];
        assert_eq!(board.find(&Listed(swapped)), Whereabouts::Here("/dev/a".to_owned()));
        let lone = Listed(vec![entry("/dev/a", 1, None, "1-3")]);
        assert_eq!(Board::at("/dev/a", &lone).among_like(&lone), None);
    }

    #[test]
    fn another_id_in_its_socket_is_not_it() {
        let board = Board::at("/dev/a", &Listed(vec![entry("/dev/a", 1, Some("7C"), "1-3")]));
        let loader = Listed(vec![entry("/dev/a", 2, Some("7C"), "1-3")]);
        let Whereabouts::Away(said) = board.find(&loader) else { panic!("a boot loader") };
        assert!(said.contains("1209:0002") && said.contains("left alone"), "{said}");
    }
}
