//! Standard input, files and named pipes: streams whose read cannot be told how long to wait, so a
//! thread of their own does the waiting.

use std::io::{self, Read};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};

use super::{Heard, Source, WAIT};

/// Chunks that the thread may be ahead; then it waits, and so does whoever writes into the pipe.
const AHEAD: usize = 64;

/// Bytes of a chunk.
const CHUNK: usize = 16 * 1024;

/// A stream read by a thread of its own. Dropped, it lets the thread end with its next read.
pub struct Pump {
    chunks: Receiver<io::Result<Vec<u8>>>,
    rest: Vec<u8>,
    taken: usize,
}

impl Pump {
    /// Begins to read.
    ///
    /// # Errors
    /// The thread could not start.
    pub fn start(mut stream: impl Read + Send + 'static) -> io::Result<Self> {
        let (sender, chunks) = sync_channel(AHEAD);
        std::thread::Builder::new()
            .name("source".to_owned())
            .spawn(move || {
                loop {
                    let mut chunk = vec![0; CHUNK];
                    let message = match stream.read(&mut chunk) {
                        Ok(0) => return,
                        Ok(n) => {
                            chunk.truncate(n);
                            Ok(chunk)
                        }
                        Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                        Err(error) => Err(error),
                    };
                    let is_last = message.is_err();
                    if sender.send(message).is_err() || is_last {
                        return;
                    }
                }
            })?;
        Ok(Self {
            chunks,
            rest: Vec::new(),
            taken: 0,
        })
    }
}

impl Source for Pump {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<Heard> {
        if self.taken == self.rest.len() {
            match self.chunks.recv_timeout(WAIT) {
                Ok(chunk) => {
                    self.rest = chunk?;
                    self.taken = 0;
                }
                Err(RecvTimeoutError::Timeout) => return Ok(Heard::Nothing),
                Err(RecvTimeoutError::Disconnected) => return Ok(Heard::End),
            }
        }
        let n = buffer.len().min(self.rest.len() - self.taken);
        buffer[..n].copy_from_slice(&self.rest[self.taken..self.taken + n]);
        self.taken += n;
        Ok(Heard::Bytes(n))
    }

    fn write(&mut self, _bytes: &[u8]) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_comes_through_and_then_the_end() {
        let sent: Vec<u8> = (0..100_000u32).map(|k| k.to_le_bytes()[0]).collect();
        let mut pump = Pump::start(io::Cursor::new(sent.clone())).unwrap();
        let mut got = Vec::new();
        let mut buffer = [0; 7_000];
        loop {
            match pump.read(&mut buffer).unwrap() {
                Heard::Bytes(n) => got.extend_from_slice(&buffer[..n]),
                Heard::Nothing => {}
                Heard::End => break,
            }
        }
        assert_eq!(got, sent);
    }
}
