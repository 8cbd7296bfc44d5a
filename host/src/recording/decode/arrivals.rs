//! Which bytes had arrived when, and what logger time that pairs with.

use crate::recording::log::Arrival;

/// The rows of the arrivals file, walked through once.
#[derive(Debug, Default)]
pub(super) struct Arrivals {
    rows: Vec<Arrival>,
    cursor: usize,
    paired: Option<usize>,
}

impl Arrivals {
    pub(super) fn push(&mut self, arrival: Arrival) {
        self.rows.push(arrival);
    }

    pub(super) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Host time by which everything before `end_byte` had arrived. Byte positions only grow.
    pub(super) fn host_unix_s_of(&mut self, end_byte: u64) -> Option<f64> {
        while self.rows.get(self.cursor)?.end_byte < end_byte {
            self.cursor += 1;
        }
        self.rows.get(self.cursor).map(|a| a.host_unix_s)
    }

    /// Host time that pairs count from: the first arrival.
    pub(super) fn epoch_unix_s(&self) -> f64 {
        self.rows.first().map_or(0.0, |a| a.host_unix_s)
    }

    /// Pairs a logger time with the present row. Of several in one row the youngest stays: it waited
    /// least.
    pub(super) fn pair(&mut self, t_s: f64, pairs: &mut Vec<(f64, f64)>) {
        let Some(row) = self.rows.get(self.cursor) else {
            return;
        };
        let host_s = row.host_unix_s - self.epoch_unix_s();
        match pairs.last_mut() {
            Some(last) if self.paired == Some(self.cursor) => last.0 = last.0.max(t_s),
            _ => pairs.push((t_s, host_s)),
        }
        self.paired = Some(self.cursor);
    }
}
