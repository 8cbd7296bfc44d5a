//! The last minutes of pressure and flow in bins, for the scrolling trace.
//!
//! A bin keeps the lowest and highest pressure, so that stroke ripple and a short dip stay visible
//! at any zoom; nothing is averaged away. Flow arrives later than pressure (edges wait for their
//! block), so bins are revised: [`Trace::take_changes`] gives every bin that changed since it was
//! last called.

use std::collections::VecDeque;

use super::snapshot::TraceView;

/// Length of a bin: twenty a second is finer than one pixel of a laptop's three-minute trace.
pub const BIN_S: f64 = 0.05;

/// Bins that are kept: five minutes.
pub const BINS: usize = 6_000;

/// One bin.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Bin {
    low_pa: Option<f32>,
    high_pa: Option<f32>,
    flow_m3_per_s: Option<f32>,
}

/// The last minutes.
#[derive(Debug, Default)]
pub struct Trace {
    first: u64,
    bins: VecDeque<Bin>,
    changed_from: Option<u64>,
}

impl Trace {
    /// Takes one pressure sample. Samples without a finite value leave the bin empty.
    pub fn add_pressure(&mut self, t_s: f64, pressure_pa: f64) {
        if !pressure_pa.is_finite() {
            return;
        }
        if let Some(bin) = self.bin_at(t_s) {
            let value = narrow(pressure_pa);
            bin.low_pa = Some(bin.low_pa.map_or(value, |low| low.min(value)));
            bin.high_pa = Some(bin.high_pa.map_or(value, |high| high.max(value)));
        }
    }

    /// Sets the flow of every bin that begins in `from_s <= t < to_s`.
    pub fn set_flow(&mut self, from_s: f64, to_s: f64, flow_m3_per_s: f64) {
        let (Some(from), Some(to)) = (number(from_s), number(to_s)) else {
            return;
        };
        // Older than what is kept, or a leap of the logger's clock: nothing to draw.
        for index in from.max(self.first)..to.min(from.saturating_add(BINS as u64)) {
            if let Some(bin) = self.bin_numbered(index) {
                bin.flow_m3_per_s = Some(narrow(flow_m3_per_s));
            }
        }
    }

    /// Takes bins from another trace, as a viewer does.
    pub fn merge(&mut self, view: &TraceView) {
        let columns = view.low_pa.iter().zip(&view.high_pa);
        for (k, ((low_pa, high_pa), flow)) in columns.zip(&view.flow_m3_per_s).enumerate() {
            if let Some(bin) = self.bin_numbered(view.first + k as u64) {
                *bin = Bin {
                    low_pa: *low_pa,
                    high_pa: *high_pa,
                    flow_m3_per_s: *flow,
                };
            }
        }
    }

    /// Everything that is kept.
    #[must_use]
    pub fn view(&self) -> TraceView {
        self.view_from(self.first)
    }

    /// The bins that changed since the last call, as one stretch; `None` when none did.
    pub fn take_changes(&mut self) -> Option<TraceView> {
        let from = self.changed_from.take()?;
        Some(self.view_from(from.max(self.first)))
    }

    fn view_from(&self, from: u64) -> TraceView {
        let skip = usize::try_from(from - self.first).unwrap_or(usize::MAX);
        let bins = || self.bins.iter().skip(skip);
        TraceView {
            bin_s: BIN_S,
            first: from,
            low_pa: bins().map(|bin| bin.low_pa).collect(),
            high_pa: bins().map(|bin| bin.high_pa).collect(),
            flow_m3_per_s: bins().map(|bin| bin.flow_m3_per_s).collect(),
        }
    }

    fn bin_at(&mut self, t_s: f64) -> Option<&mut Bin> {
        self.bin_numbered(number(t_s)?)
    }

    /// The bin, made when it lies ahead; `None` when it lies before all that is kept.
    fn bin_numbered(&mut self, index: u64) -> Option<&mut Bin> {
        if self.bins.is_empty() || index > self.last() + BINS as u64 {
            self.bins.clear();
            self.first = index;
        }
        if index < self.first {
            return None;
        }
        while self.first + self.bins.len() as u64 <= index {
            self.bins.push_back(Bin::default());
            if self.bins.len() > BINS {
                self.bins.pop_front();
                self.first += 1;
            }
        }
        self.changed_from = Some(self.changed_from.map_or(index, |from| from.min(index)));
        let at = usize::try_from(index.checked_sub(self.first)?).ok()?;
        self.bins.get_mut(at)
    }

    fn last(&self) -> u64 {
        self.first + self.bins.len() as u64
    }
}

/// Number of the bin that holds a time; `None` for a time that is negative or not finite.
fn number(t_s: f64) -> Option<u64> {
    let index = (t_s / BIN_S).floor();
    // 2^53 bins are fourteen million years.
    if !(0.0..9.0e15).contains(&index) {
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to lie in the range just above"
    )]
    Some(index as u64)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "seven digits are more than a screen shows"
)]
const fn narrow(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bin_keeps_the_lowest_and_highest_sample() {
        let mut trace = Trace::default();
        for (t_s, bar) in [(10.00, 5.0), (10.01, 9.0), (10.049, 3.0), (10.06, 7.0)] {
            trace.add_pressure(t_s, bar);
        }
        let view = trace.view();
        assert_eq!((view.first, view.low_pa.len()), (200, 2));
        assert_eq!(view.low_pa[0], Some(3.0));
        assert_eq!(view.high_pa, [Some(9.0), Some(7.0)]);
    }

    #[test]
    fn only_what_changed_is_handed_out_and_flow_revises_older_bins() {
        let mut trace = Trace::default();
        for k in 0..100 {
            trace.add_pressure(f64::from(k) * 0.05 + 0.01, 1.0);
        }
        assert_eq!(trace.take_changes().unwrap().low_pa.len(), 100);
        assert_eq!(trace.take_changes(), None);
        trace.set_flow(4.5, 4.65, 2.0);
        let changes = trace.take_changes().unwrap();
        assert_eq!(changes.first, 90);
        assert_eq!(changes.flow_m3_per_s[..3], [Some(2.0); 3]);
        assert_eq!(changes.flow_m3_per_s[3], None);
    }

    #[test]
    fn memory_stays_bounded_over_hours_and_across_a_leap_of_the_clock() {
        let mut trace = Trace::default();
        for k in 0..40_000 {
            trace.add_pressure(f64::from(k) * 0.05, 1.0);
        }
        assert_eq!(trace.bins.len(), BINS);
        trace.add_pressure(1.0e9, 1.0);
        assert_eq!(trace.bins.len(), 1);
        trace.add_pressure(5.0, 1.0);
        trace.add_pressure(f64::NAN, 1.0);
        trace.set_flow(0.0, 1.0e12, 1.0);
        assert!(trace.bins.len() <= BINS);
    }
}
