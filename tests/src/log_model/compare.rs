//! The folder as it is against the model of it.

use std::fs;

use tipcurve::recording::load::load;
use tipcurve::recording::log::read_arrivals;
use tipcurve::recording::{Data, Gap, folder};

use super::Bench;
use super::reference::expected;

impl Bench {
    /// The folder against the model.
    pub(super) fn check(&self) -> Result<(), String> {
        let on_disk = fs::read(self.path(folder::FRAMES)).map_err(|e| e.to_string())?;
        same("the log's bytes", &on_disk, &self.log)?;
        let recording = load(self.folder.path()).map_err(|e| e.to_string())?;
        let Data::Device(log) = &recording.data else {
            return Err("a log must load as one".to_owned());
        };
        let expected = expected(&self.log, &self.sent);
        if !log.t_s.windows(2).all(|pair| pair[0] < pair[1]) {
            return Err("time must go on".to_owned());
        }
        if let Some(read) = &expected.read {
            same("codes", &log.pressure_code, &read.codes)?;
            same("edges", &log.edge_t_s.len(), &read.n_edges)?;
            let lost = |count: fn(&Gap) -> Option<u64>| log.gaps.iter().filter_map(count).sum();
            let (samples_lost, edges_lost) =
                (lost(|gap| gap.samples_lost), lost(|gap| gap.edges_lost));
            same("samples lost", &samples_lost, &read.samples_lost)?;
            same("edges lost", &edges_lost, &read.edges_lost)?;
        }
        let told = |code: &str| recording.defects.iter().find(|d| d.code == code);
        same(
            "a torn tail",
            &told("torn_tail").is_some(),
            &expected.is_torn,
        )?;
        let n_told = told("corrupt_frames").map_or(Some(0), |defect| {
            defect.message.split(' ').next()?.parse().ok()
        });
        same("damaged stretches", &n_told, &Some(expected.n_damaged))?;
        self.check_arrivals()
    }

    /// Every row names the time at which its last byte came.
    fn check_arrivals(&self) -> Result<(), String> {
        let text = self.arrivals();
        let (rows, _) = read_arrivals(&text);
        for row in &rows {
            let last = usize::try_from(row.end_byte).map_err(|e| e.to_string())? - 1;
            // Rows may speak of bytes that were lost, as long as no others stand there.
            let came_s = self.came_s.get(last).copied().unwrap_or(row.host_unix_s);
            // False for a byte that nobody sent: no row ends there.
            let is_its_time = (row.host_unix_s - came_s).abs() < 1.0e-5;
            if !is_its_time {
                return Err(format!(
                    "byte {last} came at {came_s}, its row says {}",
                    row.host_unix_s
                ));
            }
        }
        let synced = &text[..self.synced_arrivals];
        let (before, _) = read_arrivals(synced);
        let kept = before
            .iter()
            .filter(|row| row.end_byte <= self.synced_log as u64);
        for row in kept {
            if !rows.contains(row) {
                return Err(format!("{row:?} was on the disk and is not read"));
            }
        }
        Ok(())
    }
}

fn same<T: PartialEq + std::fmt::Debug>(what: &str, is: &T, must_be: &T) -> Result<(), String> {
    if is == must_be {
        Ok(())
    } else {
        let shown = |value: &T| format!("{value:?}").chars().take(400).collect::<String>();
        Err(format!("{what}: {}, not {}", shown(is), shown(must_be)))
    }
}
