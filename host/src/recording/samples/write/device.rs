//! A logger's data as rows.

use std::io::{self, Write};

use super::SlowCells;
use crate::recording::DeviceLog;
use crate::recording::decimal::{decimal, nanoseconds};
use crate::units::Pascal;

/// A sample follows the one before at once when no more than this many periods lie between them.
const AT_ONCE_PERIODS: f64 = 1.5;

pub(super) fn write(log: &DeviceLog, to: &mut impl Write) -> io::Result<()> {
    let slow = SlowCells::all(&log.slow);
    let mut header = vec!["t_s", "pressure_bar", "flow_pulses", "pulse_t_s"];
    header.extend(slow.iter().map(|s| s.name));
    let mut rows = Rows {
        writer: csv::Writer::from_writer(to),
        edges: &log.edge_t_s,
        next_edge: 0,
        slow,
        latest_t_s: f64::NEG_INFINITY,
    };
    rows.writer.write_record(&header)?;
    let at_once_s = AT_ONCE_PERIODS / log.sample_rate_hz.max(1.0);
    let mut pressure = Pressure::new(log);
    for (t_s, code) in log.t_s.iter().zip(&log.pressure_code) {
        rows.between(t_s, at_once_s)?;
        rows.row(t_s, pressure.text(*code))?;
    }
    rows.between(f64::INFINITY, 0.0)?;
    rows.writer.flush()
}

/// Text of a code's pressure, kept while the code stays.
struct Pressure<'l> {
    log: &'l DeviceLog,
    code: Option<i32>,
    text: String,
}

impl<'l> Pressure<'l> {
    fn new(log: &'l DeviceLog) -> Self {
        Self {
            log,
            code: None,
            text: String::new(),
        }
    }

    fn text(&mut self, code: i32) -> &str {
        if self.code != Some(code) {
            let scale = self.log.pressure_scale;
            let pressure_pa = scale.zero_pa + scale.pa_per_code * f64::from(code);
            self.text = decimal(Pascal(pressure_pa).as_bar());
            self.code = Some(code);
        }
        &self.text
    }
}

/// The rows as they are written, in order of time.
struct Rows<'l, W: Write> {
    writer: csv::Writer<W>,
    edges: &'l [f64],
    next_edge: usize,
    slow: Vec<SlowCells<'l>>,
    latest_t_s: f64,
}

impl<W: Write> Rows<'_, W> {
    /// Rows of their own for what the sample at `t_s` cannot carry.
    fn between(&mut self, t_s: f64, at_once_s: f64) -> io::Result<()> {
        while let Some(due_s) = self.next_own_s(t_s, at_once_s) {
            self.row(due_s, "")?;
        }
        Ok(())
    }

    /// Time of the next thing before `t_s` that needs a row of its own: it is not the only edge or
    /// reading of its channel, or the sample comes much later.
    fn next_own_s(&self, t_s: f64, at_once_s: f64) -> Option<f64> {
        let is_lone = |due_s: f64, following_s: Option<f64>| {
            t_s - due_s <= at_once_s && following_s.is_none_or(|f| f > t_s)
        };
        let edge = self.edges.get(self.next_edge).copied();
        let after_edge = self.edges.get(self.next_edge + 1).copied();
        let edge = edge.filter(|e| !is_lone(*e, after_edge));
        let slow = self.slow.iter().filter_map(|s| {
            let due_s = s.next_t_s()?;
            let following_s = s.series.t_s.get(s.next + 1).copied();
            (!is_lone(due_s, following_s)).then_some(due_s)
        });
        let due_s = slow.chain(edge).filter(|due| *due < t_s).reduce(f64::min)?;
        // Times must rise: what is not later than the row before goes into the next row.
        (due_s > self.latest_t_s).then_some(due_s)
    }

    /// A row with everything that is due.
    fn row(&mut self, t_s: f64, pressure_bar: &str) -> io::Result<()> {
        let first_edge = self.next_edge;
        while self.edges.get(self.next_edge).is_some_and(|e| *e <= t_s) {
            self.next_edge += 1;
        }
        let n_edges = self.next_edge - first_edge;
        let last_edge = self.next_edge.checked_sub(1).filter(|_| n_edges > 0);
        self.writer.write_field(nanoseconds(t_s))?;
        self.writer.write_field(pressure_bar)?;
        self.writer.write_field(n_edges.to_string())?;
        let edge_text = last_edge
            .map(|i| nanoseconds(self.edges[i]))
            .unwrap_or_default();
        self.writer.write_field(edge_text)?;
        for channel in &mut self.slow {
            let cell = channel.take_until(t_s).map(decimal).unwrap_or_default();
            self.writer.write_field(cell)?;
        }
        self.writer.write_record(None::<&[u8]>)?;
        self.latest_t_s = t_s;
        Ok(())
    }
}
