//! Several benches side by side, from several recorders, for a class to look at.
//!
//! The wall is a program of its own: it follows each recorder's stream with the viewers' token, as
//! a browser would, and serves one page that can write nothing. A bench that is away stays on the
//! wall and says so.

mod follow;

use std::sync::{Mutex, PoisonError};

use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use follow::start;

use super::phrase::Phrase;
use super::snapshot::{Figures, LinkState, SettingView, Snapshot, UnitTable};

/// One recorder to follow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchAddress {
    /// `host:port`.
    pub host: String,
    /// The viewers' token; empty on the same computer, where looking needs none.
    pub token: String,
}

/// An address that cannot be followed.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error(
    "bench address \"{shown}\" is not of the form http://HOST:PORT/#view=TOKEN, as the recorder \
     prints it for a wall"
)]
pub struct BadAddress {
    /// As given, without the token.
    pub shown: String,
}

impl BenchAddress {
    /// Reads the link that a recorder prints for a wall.
    ///
    /// # Errors
    /// [`BadAddress`].
    pub fn parse(link: &str) -> Result<Self, BadAddress> {
        let (address, fragment) = link.split_once('#').unwrap_or((link, ""));
        let bad = || BadAddress {
            shown: address.to_owned(),
        };
        let rest = address.strip_prefix("http://").unwrap_or(address);
        let host = rest.trim_end_matches('/');
        let (name, port) = host.rsplit_once(':').ok_or_else(bad)?;
        let is_plain = !name.is_empty()
            && name
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || b".-[]:".contains(&b));
        if !is_plain || port.parse::<u16>().is_err() {
            return Err(bad());
        }
        let token = fragment
            .strip_prefix("view=")
            .or_else(|| fragment.strip_prefix("key="))
            .unwrap_or("");
        if !token.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(bad());
        }
        Ok(Self {
            host: host.to_owned(),
            token: token.to_owned(),
        })
    }
}

/// One bench on the wall.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct WallBench {
    /// `host:port`.
    pub address: String,
    /// True while its recorder answers.
    pub is_reached: bool,
    /// Why not, in words.
    pub problem: Option<String>,
    /// Name of the recording.
    pub recording: String,
    /// Rig.
    pub rig: Option<String>,
    /// True when the data come from the simulated rig.
    pub is_simulated: bool,
    /// The line to the logger.
    pub link: LinkState,
    /// Samples known to be lost.
    pub samples_lost: u64,
    /// Warnings of the recorder.
    pub warnings: Vec<String>,
    /// Figures.
    pub figures: Figures,
    /// What is set.
    pub setting: SettingView,
    /// Bursts that have ended.
    pub n_bursts: usize,
    /// Window and state in words.
    pub words: Vec<Phrase>,
}

impl WallBench {
    /// What the wall shows of a bench.
    #[must_use]
    pub fn of(address: &str, snapshot: &Snapshot) -> Self {
        Self {
            address: address.to_owned(),
            is_reached: true,
            problem: None,
            recording: snapshot.bench.recording.clone(),
            rig: snapshot.bench.rig.clone(),
            is_simulated: snapshot.bench.is_simulated,
            link: snapshot.recorder.link,
            samples_lost: snapshot.recorder.samples_lost,
            warnings: snapshot.recorder.warnings.clone(),
            figures: snapshot.figures,
            setting: snapshot.setting.clone(),
            n_bursts: snapshot.bursts.len(),
            words: snapshot.words.iter().take(2).cloned().collect(),
        }
    }
}

/// Everything on the wall.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct WallView {
    /// Units to choose from.
    pub units: UnitTable,
    /// The benches, in the order given.
    pub benches: Vec<WallBench>,
}

/// What the followers write and the page reads.
#[derive(Debug)]
pub struct WallFeed {
    benches: Mutex<Vec<WallBench>>,
}

impl WallFeed {
    /// A wall of benches that nothing was heard of yet.
    #[must_use]
    pub fn new(addresses: &[BenchAddress]) -> Self {
        let benches = addresses
            .iter()
            .map(|address| WallBench {
                address: address.host.clone(),
                problem: Some("not reached yet".to_owned()),
                ..WallBench::default()
            })
            .collect();
        Self {
            benches: Mutex::new(benches),
        }
    }

    /// What is on the wall now.
    #[must_use]
    pub fn view(&self) -> WallView {
        WallView {
            units: UnitTable::default(),
            benches: self.lock().clone(),
        }
    }

    /// Shows a bench anew.
    pub fn show(&self, index: usize, bench: WallBench) {
        if let Some(place) = self.lock().get_mut(index) {
            *place = bench;
        }
    }

    /// Says that a bench is away. Its last figures are taken down: they are not live any more.
    pub fn lose(&self, index: usize, problem: &str) {
        if let Some(place) = self.lock().get_mut(index) {
            place.is_reached = false;
            place.problem = Some(problem.to_owned());
            place.figures = Figures::default();
            place.link = LinkState::Waiting;
        }
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Vec<WallBench>> {
        self.benches.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_printed_link_is_read_and_others_are_refused() {
        let read = BenchAddress::parse("http://10.0.0.5:4720/#view=00ff").unwrap();
        assert_eq!(
            (read.host.as_str(), read.token.as_str()),
            ("10.0.0.5:4720", "00ff")
        );
        assert_eq!(BenchAddress::parse("127.0.0.1:4720").unwrap().token, "");
        for bad in [
            "",
            "http://10.0.0.5/",
            "https://10.0.0.5:1/",
            "http://a b:1/",
            "x:1#view=zz",
        ] {
            assert!(BenchAddress::parse(bad).is_err(), "{bad}");
        }
        let error = BenchAddress::parse("nowhere#view=00ff")
            .unwrap_err()
            .to_string();
        assert!(error.starts_with("bench address \"nowhere\"") && !error.contains("00ff"));
    }

    #[test]
    fn a_lost_bench_stays_on_the_wall_without_its_figures() {
        let address = BenchAddress::parse("127.0.0.1:1").unwrap();
        let feed = WallFeed::new(std::slice::from_ref(&address));
        let mut snapshot = Snapshot::default();
        snapshot.bench.recording = "bench-1".to_owned();
        snapshot.figures.pressure_pa = Some(1.0e7);
        feed.show(0, WallBench::of(&address.host, &snapshot));
        feed.lose(0, "no answer");
        let bench = &feed.view().benches[0];
        assert_eq!(bench.recording, "bench-1");
        assert_eq!(bench.figures.pressure_pa, None);
        assert_eq!(bench.problem.as_deref(), Some("no answer"));
    }
}
