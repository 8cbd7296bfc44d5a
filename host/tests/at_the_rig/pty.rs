//! A rig on a pseudo-terminal: to the program it is a serial port, which can be pulled out.

use std::io::{self, Read, Write};
use std::path::Path;
use std::time::Duration;

use serialport::{SerialPort, TTYPort};

use crate::rig::{Plugged, Rig};

/// The device's end. Nobody having the port open yet, or any more, is no fault of the device.
struct DeviceEnd(TTYPort);

impl Read for DeviceEnd {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.0
            .read(buffer)
            .map_err(|_| io::ErrorKind::WouldBlock.into())
    }
}

impl Write for DeviceEnd {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0
            .write(bytes)
            .map_err(|_| io::ErrorKind::WouldBlock.into())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Plugs a rig in. The port appears under `link`; its real name is another each time. Dropping the
/// rig pulls it out: the port is then gone.
pub fn plug(link: &Path, plugged: Plugged) -> Rig {
    let device = bare(link);
    let commands = DeviceEnd(device.0.try_clone_native().unwrap());
    Rig::play(plugged, commands, device)
}

/// Pulls a rig out; its name goes as the system takes it away.
pub fn unplug(link: &Path, rig: Rig) {
    drop(rig);
    std::fs::remove_file(link).unwrap();
}

/// A port with whatever the test writes behind it.
pub fn plug_other(link: &Path) -> impl Read + Write + Send + use<> {
    bare(link)
}

fn bare(link: &Path) -> DeviceEnd {
    let (mut device, host) = TTYPort::pair().unwrap();
    device.set_timeout(Duration::from_millis(20)).unwrap();
    let name = host.name().unwrap();
    let _ = std::fs::remove_file(link);
    std::os::unix::fs::symlink(name, link).unwrap();
    DeviceEnd(device)
}
