//! Any byte stream, read with a short wait. No frames here.

mod pump;

use std::io::{self, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::time::Duration;

pub use pump::Pump;

/// How long one read waits at most. Short enough that stopping feels immediate.
pub const WAIT: Duration = Duration::from_millis(50);

/// How long a connection may take.
const CONNECT_TIME: Duration = Duration::from_secs(3);

/// What one read gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heard {
    /// So many bytes.
    Bytes(usize),
    /// Nothing within the wait: silence, or a port that is gone without saying so.
    Nothing,
    /// The end: nothing more will come.
    End,
}

/// A byte stream.
pub trait Source: Send {
    /// Reads what is there, waiting at most [`WAIT`].
    ///
    /// # Errors
    /// What the system says; the stream is then of no more use.
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<Heard>;

    /// Sends bytes to the logger. Streams that only come in take them and do nothing.
    ///
    /// # Errors
    /// What the system says.
    fn write(&mut self, bytes: &[u8]) -> io::Result<()>;
}

/// A TCP connection.
pub struct Tcp {
    stream: TcpStream,
}

impl Tcp {
    /// Connects to `host:port`.
    ///
    /// # Errors
    /// A name without an address, nobody listening, or no answer in three seconds.
    pub fn connect(place: &str) -> io::Result<Self> {
        let mut last = io::Error::new(io::ErrorKind::NotFound, "the name has no address");
        for address in place.to_socket_addrs()? {
            match TcpStream::connect_timeout(&address, CONNECT_TIME) {
                Ok(stream) => {
                    stream.set_nodelay(true)?;
                    stream.set_read_timeout(Some(WAIT))?;
                    stream.set_write_timeout(Some(CONNECT_TIME))?;
                    return Ok(Self { stream });
                }
                Err(error) => last = error,
            }
        }
        Err(last)
    }
}

impl Source for Tcp {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<Heard> {
        match self.stream.read(buffer) {
            Ok(0) => Ok(Heard::End),
            Ok(n) => Ok(Heard::Bytes(n)),
            Err(error) if is_wait(&error) => Ok(Heard::Nothing),
            Err(error) => Err(error),
        }
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.stream.write_all(bytes)
    }
}

/// True when a read only ran out of time.
pub(super) fn is_wait(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut | io::ErrorKind::Interrupted
    )
}
