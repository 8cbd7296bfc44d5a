//! Where bytes may come from, as a person names it.

use std::fmt;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use thiserror::Error;

/// One place.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Address {
    /// A serial port or a pseudo-terminal: `/dev/ttyACM0`, `COM3`.
    Serial(String),
    /// A TCP server that sends a logger's bytes: `tcp:HOST:PORT`.
    Tcp(String),
    /// Standard input: `-`.
    Stdin,
    /// A file or a named pipe, read to its end: `file:PATH`, or the path of one that is there.
    File(PathBuf),
}

/// Text that names no place.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error(
    "port \"{shown}\" is not understood; give a serial port (as tipcurve record --list shows), \
     tcp:HOST:PORT, file:PATH, or - for standard input"
)]
pub struct BadAddress {
    /// As given.
    pub shown: String,
}

impl FromStr for Address {
    type Err = BadAddress;

    fn from_str(text: &str) -> Result<Self, BadAddress> {
        let bad = || BadAddress {
            shown: text.to_owned(),
        };
        if text == "-" {
            return Ok(Self::Stdin);
        }
        if let Some(path) = text.strip_prefix("file:") {
            return Ok(Self::File(PathBuf::from(path)));
        }
        if let Some(place) = text.strip_prefix("tcp:") {
            let place = place.trim_start_matches('/');
            let (host, port) = place.rsplit_once(':').ok_or_else(bad)?;
            if host.is_empty() || port.parse::<u16>().is_err() {
                return Err(bad());
            }
            return Ok(Self::Tcp(place.to_owned()));
        }
        if text.trim().is_empty() {
            return Err(bad());
        }
        if is_plain_file(Path::new(text)) {
            return Ok(Self::File(PathBuf::from(text)));
        }
        Ok(Self::Serial(text.to_owned()))
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial(name) => f.write_str(name),
            Self::Tcp(place) => write!(f, "tcp:{place}"),
            Self::Stdin => f.write_str("standard input"),
            Self::File(path) => write!(f, "file:{}", path.display()),
        }
    }
}

impl Address {
    /// Whether the stream may come back after it broke off. A file or standard input that ended
    /// has ended.
    #[must_use]
    pub const fn can_return(&self) -> bool {
        matches!(self, Self::Serial(_) | Self::Tcp(_))
    }
}

/// True for a regular file or a named pipe, false for a device or nothing.
fn is_plain_file(path: &Path) -> bool {
    let Ok(meta) = std::fs::metadata(path) else {
        return false;
    };
    #[cfg(unix)]
    if std::os::unix::fs::FileTypeExt::is_fifo(&meta.file_type()) {
        return true;
    }
    meta.is_file()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_place_is_read() {
        for (text, shown) in [
            ("-", "standard input"),
            ("tcp:127.0.0.1:4000", "tcp:127.0.0.1:4000"),
            ("tcp://bench:4000", "tcp:bench:4000"),
            ("file:old.log", "file:old.log"),
            ("COM3", "COM3"),
            ("/dev/ttyNONE7", "/dev/ttyNONE7"),
        ] {
            assert_eq!(text.parse::<Address>().unwrap().to_string(), shown);
        }
        for bad in ["", " ", "tcp:", "tcp:host", "tcp::1", "tcp:host:99999"] {
            let error = bad.parse::<Address>().unwrap_err().to_string();
            assert!(error.contains("is not understood"), "{error}");
        }
    }
}
