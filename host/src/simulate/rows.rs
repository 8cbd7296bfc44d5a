//! A data-acquisition box of somebody else: the rows of the plain-text interchange.
//!
//! Unevenly spaced rows, pulses counted per row, perhaps the time of the last edge, perhaps a flow that the
//! box has worked out itself over a window; a slower rate while nothing is sprayed; rows that went
//! missing. Numbers are rounded as they would stand in the file.

use crate::recording::{FlowColumn, SampleTable, SlowChannels, SlowSeries};
use crate::units::PA_PER_BAR;

use super::index::real;
use super::performance::Performance;
use super::random::{Part, RandomStream};
use super::scenario::Scenario;
use super::trace::value_at;

/// The flow column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RowFlow {
    /// Pulses since the row before.
    Pulses,
    /// Flow in L/min from the pulses of the last so many seconds.
    Windowed(f64),
}

/// How the box logs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowForm {
    /// Rows per second.
    pub rate_hz: f64,
    /// Rows per second while nothing is sprayed.
    pub idle_rate_hz: f64,
    /// Half-width of the unevenness of the row times, s.
    pub jitter_s: f64,
    /// Flow column.
    pub flow: RowFlow,
    /// Whether the time of the last edge is written.
    pub has_pulse_time: bool,
    /// Part of the rows that go missing, in stretches.
    pub missing_ratio: f64,
    /// Whether pulses of missing rows are counted into the next row.
    pub keeps_missed_pulses: bool,
    /// Rows from one filling of the slow columns to the next.
    pub rows_per_slow: usize,
    /// Supply voltage and current are logged.
    pub has_supply: bool,
    /// Coating temperature is logged.
    pub has_material: bool,
    /// Air temperature and humidity are logged.
    pub has_air: bool,
}

/// Logs a performance; `edges_s` are the true times of the meter's edges.
#[must_use]
pub fn log_rows(
    scenario: &Scenario,
    performance: &Performance,
    edges_s: &[f64],
    form: &RowForm,
) -> SampleTable {
    let mut row_random = RandomStream::new(scenario.seed, Part::Rows);
    let mut random = RandomStream::new(scenario.seed, Part::Sensors);
    let times_s = row_times(performance, form, &mut row_random);
    let kept = keep_rows(times_s.len(), form, &mut row_random);
    let mut table = SampleTable::default();
    let mut box_ = CountingBox::new(scenario, edges_s, *form);
    let transducer = &scenario.instruments.transducer;
    let pressure_pa = performance.trace.tap_pa(scenario.rig.tap);
    let mut last_code = 0;
    let mut pulses = Vec::new();
    let mut rates = Vec::new();
    for (row, t_s) in times_s.iter().copied().enumerate() {
        if !transducer.is_stuck(t_s) {
            last_code = transducer.code(value_at(pressure_pa, t_s), t_s, &mut random);
        }
        let counted = box_.count_to(t_s, kept[row]);
        if !kept[row] {
            continue;
        }
        let shown_pa = f64::from(last_code) * transducer.step_pa() * transducer.unit_factor(t_s);
        table.t_s.push(rounded(scenario.logger_time_s(t_s), 1.0e4));
        table
            .pressure_pa
            .push(rounded(shown_pa / PA_PER_BAR, 1.0e3) * PA_PER_BAR);
        pulses.push(Some(counted));
        rates.push(box_.windowed_m3_per_s(t_s));
        if form.has_pulse_time {
            table.pulse_t_s.push(box_.last_edge_logger_s());
        }
        if (table.t_s.len() - 1).is_multiple_of(form.rows_per_slow.max(1)) {
            fill_slow(scenario, performance, form, t_s, &mut table, &mut random);
        }
    }
    table.flow = match form.flow {
        RowFlow::Pulses => FlowColumn::Pulses(pulses),
        RowFlow::Windowed(_) => FlowColumn::Rate(rates),
    };
    table
}

/// A number rounded to a whole number of `1 / parts`.
fn rounded(number: f64, parts: f64) -> f64 {
    (number * parts).round() / parts
}

/// True times of all rows, the missing ones included.
fn row_times(performance: &Performance, form: &RowForm, random: &mut RandomStream) -> Vec<f64> {
    let end_s = performance.trace.duration_s();
    let mut times_s = vec![0.0];
    let mut due_s = 0.0;
    let mut next_pull = 0;
    loop {
        while performance
            .pulls
            .get(next_pull)
            .is_some_and(|p| p.end_s + 1.0 < due_s)
        {
            next_pull += 1;
        }
        // A box that slows down wakes within one slow row of the first movement.
        let is_busy = performance
            .pulls
            .get(next_pull)
            .is_some_and(|p| p.start_s <= due_s);
        due_s += 1.0
            / if is_busy {
                form.rate_hz
            } else {
                form.idle_rate_hz
            };
        if due_s >= end_s {
            return times_s;
        }
        times_s.push((due_s + random.uniform(-form.jitter_s, form.jitter_s)).max(0.0));
    }
}

/// Which rows are kept: missing ones go in stretches of a fifth of a second to two seconds.
fn keep_rows(n_rows: usize, form: &RowForm, random: &mut RandomStream) -> Vec<bool> {
    let mut kept = vec![true; n_rows];
    if form.missing_ratio <= 0.0 {
        return kept;
    }
    let mean_stretch = form.rate_hz * 0.6;
    let mut row = 0.0;
    loop {
        row += random.exponential(mean_stretch / form.missing_ratio);
        let stretch = form.rate_hz * random.log_uniform(0.2, 2.0);
        let (from, to) = (
            super::index::position(row),
            super::index::position(row + stretch),
        );
        if to >= n_rows {
            return kept;
        }
        // The first row stays: a file begins with one.
        kept[from.max(1)..to.max(1)].fill(false);
        row += stretch;
    }
}

/// Counts edges as the box does.
struct CountingBox<'a> {
    scenario: &'a Scenario,
    edges_s: &'a [f64],
    form: RowForm,
    next_edge: usize,
    owed: u32,
}

impl<'a> CountingBox<'a> {
    const fn new(scenario: &'a Scenario, edges_s: &'a [f64], form: RowForm) -> Self {
        Self {
            scenario,
            edges_s,
            form,
            next_edge: 0,
            owed: 0,
        }
    }

    /// Pulses to write at a row's time. A row that goes missing writes nothing; its pulses are owed to
    /// the next or lost.
    fn count_to(&mut self, t_s: f64, is_kept: bool) -> u32 {
        let mut counted = 0;
        while self.edges_s.get(self.next_edge).is_some_and(|e| *e <= t_s) {
            self.next_edge += 1;
            counted += 1;
        }
        let total = counted + self.owed;
        self.owed = if is_kept || !self.form.keeps_missed_pulses {
            0
        } else {
            total
        };
        total
    }

    /// Logger time of the latest edge; `NaN` before the first.
    fn last_edge_logger_s(&self) -> f64 {
        match self.next_edge.checked_sub(1) {
            Some(last) => rounded(self.scenario.logger_time_s(self.edges_s[last]), 1.0e5),
            None => f64::NAN,
        }
    }

    /// Flow by the stated K-factor over the window before a true time.
    fn windowed_m3_per_s(&self, t_s: f64) -> f64 {
        let RowFlow::Windowed(window_s) = self.form.flow else {
            return f64::NAN;
        };
        let from = self.edges_s[..self.next_edge].partition_point(|e| *e <= t_s - window_s);
        let k_per_m3 = self.scenario.instruments.meter.nominal_k_per_m3;
        let flow_l_min = real(self.next_edge - from) / window_s / k_per_m3 * 6.0e4;
        rounded(flow_l_min, 1.0e3) / 6.0e4
    }
}

/// Fills the slow columns of a row.
fn fill_slow(
    scenario: &Scenario,
    performance: &Performance,
    form: &RowForm,
    t_s: f64,
    table: &mut SampleTable,
    random: &mut RandomStream,
) {
    let Some(point) = performance.trace.slow_at(t_s) else {
        return;
    };
    let at_s = *table.t_s.last().unwrap_or(&0.0);
    let error_k = scenario.instruments.temperature_error_k;
    let (air_k, rh_ratio) = scenario.air;
    let slow: &mut SlowChannels = &mut table.slow;
    let put = |series: &mut SlowSeries, value: f64| {
        series.t_s.push(at_s);
        series.value.push(value);
    };
    if form.has_supply {
        let volts = rounded(point.supply_v + random.normal(0.02), 1.0e2);
        put(&mut slow.supply_v, volts);
        let amps = rounded((point.supply_a + random.normal(0.02)).max(0.0), 1.0e2);
        put(&mut slow.supply_a, amps);
    }
    if form.has_material {
        let celsius = point.material_k - 273.15 + error_k + random.normal(0.05);
        put(&mut slow.material_k, rounded(celsius, 10.0) + 273.15);
    }
    if form.has_air {
        let celsius = air_k - 273.15 + 0.5 * error_k + random.normal(0.05);
        put(&mut slow.air_k, rounded(celsius, 10.0) + 273.15);
        put(&mut slow.rh_ratio, rounded(rh_ratio, 1.0e2));
    }
}
