//! Serial ports: listed with what is known of each, opened, and asked for whether they are there.
//! The only file that names the serial library.
//!
//! A port that another program holds is refused on two grounds, both of them the library's: the system's
//! exclusive mode, and the advisory lock that terminal programs take on the device, which also holds
//! for root. (A lock of our own beside it would lock the library out.)

use std::fs::File;
use std::io;
use std::io::{Read, Write};

use serialport::{SerialPort, SerialPortType};

use super::address::Address;
use super::source::{Heard, Pump, Source, Tcp, WAIT, is_wait};

/// Speed of the line. Loggers on USB ignore it; those behind a converter run at it.
pub const BAUD: u32 = 115_200;

/// A port that the system lists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundPort {
    /// Its name, as `--port` takes it.
    pub name: String,
    /// What is known of it, in words.
    pub what: String,
    /// True for a port that a logger may hang on: USB, or of unknown kind.
    pub is_likely: bool,
}

/// The ports of a system: the real one, or a test's.
pub trait Ports: Send + Sync {
    /// Every serial port that is there now.
    fn list(&self) -> Vec<FoundPort>;

    /// Opens a place.
    ///
    /// # Errors
    /// What the system says.
    fn open(&self, address: &Address) -> io::Result<Box<dyn Source>>;

    /// Whether a place is there at all, without opening it.
    fn is_present(&self, address: &Address) -> bool;
}

/// The ports of this computer.
#[derive(Debug, Clone, Copy)]
pub struct SystemPorts {
    /// Speed of serial lines.
    pub baud: u32,
}

impl Default for SystemPorts {
    fn default() -> Self {
        Self { baud: BAUD }
    }
}

impl Ports for SystemPorts {
    fn list(&self) -> Vec<FoundPort> {
        let mut found: Vec<FoundPort> = serialport::available_ports()
            .unwrap_or_default()
            .into_iter()
            .map(|port| {
                let (what, is_likely) = describe(&port.port_type);
                FoundPort {
                    name: port.port_name,
                    what,
                    is_likely,
                }
            })
            .collect();
        found.sort_by(|a, b| (!a.is_likely, &a.name).cmp(&(!b.is_likely, &b.name)));
        found
    }

    fn open(&self, address: &Address) -> io::Result<Box<dyn Source>> {
        Ok(match address {
            Address::Serial(name) => Box::new(Serial::open(name, self.baud)?),
            Address::Tcp(place) => Box::new(Tcp::connect(place)?),
            Address::Stdin => Box::new(Pump::start(io::stdin())?),
            Address::File(path) => Box::new(Pump::start(File::open(path)?)?),
        })
    }

    fn is_present(&self, address: &Address) -> bool {
        match address {
            Address::Serial(name) if name.contains('/') => std::path::Path::new(name).exists(),
            Address::Serial(name) => self.list().iter().any(|port| port.name == *name),
            Address::File(path) => path.exists(),
            Address::Tcp(_) | Address::Stdin => true,
        }
    }
}

fn describe(kind: &SerialPortType) -> (String, bool) {
    match kind {
        SerialPortType::UsbPort(usb) => {
            let mut words = vec![format!("USB {:04x}:{:04x}", usb.vid, usb.pid)];
            words.extend(usb.manufacturer.clone());
            words.extend(usb.product.clone());
            words.extend(usb.serial_number.as_ref().map(|n| format!("serial {n}")));
            (words.join(", "), true)
        }
        SerialPortType::PciPort => ("built in".to_owned(), false),
        SerialPortType::BluetoothPort => ("Bluetooth".to_owned(), false),
        SerialPortType::Unknown => ("kind not known".to_owned(), true),
    }
}

/// An open serial port.
struct Serial {
    port: Box<dyn SerialPort>,
}

impl Serial {
    fn open(name: &str, baud: u32) -> io::Result<Self> {
        let port = serialport::new(name, baud)
            .timeout(WAIT)
            .open()
            .map_err(from_serial)?;
        Ok(Self { port })
    }
}

impl Source for Serial {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<Heard> {
        match self.port.read(buffer) {
            // On Linux an unplugged port reads as nothing: the link asks the system then.
            Ok(0) => {
                std::thread::sleep(WAIT);
                Ok(Heard::Nothing)
            }
            Ok(n) => Ok(Heard::Bytes(n)),
            Err(error) if is_wait(&error) => Ok(Heard::Nothing),
            Err(error) => Err(error),
        }
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.port.write_all(bytes)
    }
}

/// The serial library tells "no such port" and "held by another" apart only in words.
fn from_serial(error: serialport::Error) -> io::Error {
    use serialport::ErrorKind;
    let words = error.description.to_lowercase();
    match error.kind() {
        ErrorKind::NoDevice if words.contains("busy") || words.contains("lock") => {
            io::Error::new(io::ErrorKind::ResourceBusy, error.description)
        }
        ErrorKind::NoDevice => io::Error::new(io::ErrorKind::NotFound, error.description),
        ErrorKind::Io(kind) => io::Error::new(kind, error.description),
        _ => io::Error::other(error.description),
    }
}
