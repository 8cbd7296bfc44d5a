//! Sensor data as the text of a `samples.csv`.
//!
//! A table is written row for row. A logger's data become rows of its samples; what falls
//! between two samples and would be lost in the later one gets a row of its own, with no
//! pressure: every edge keeps its time and every slow reading its value.

mod device;

use std::io::{self, Write};

use super::super::decimal::{decimal, exact};
use super::super::{Data, FlowColumn, SampleTable, SlowChannels, SlowSeries};
use crate::units::{CubicMetrePerSecond, Kelvin, Pascal};

/// Writes sensor data as a whole `samples.csv`.
///
/// Reading it gives an equal table (of a logger's data: one that says the same).
///
/// # Errors
/// What the writer says.
pub fn write(data: &Data, to: &mut impl Write) -> io::Result<()> {
    match data {
        Data::Samples(table) => write_table(table, to),
        Data::Device(log) => device::write(log, to),
    }
}

fn write_table(table: &SampleTable, to: &mut impl Write) -> io::Result<()> {
    let mut slow = SlowCells::all(&table.slow);
    let flow_name = match table.flow {
        FlowColumn::Pulses(_) => "flow_pulses",
        FlowColumn::Rate(_) => "flow_l_min",
    };
    let mut header = vec!["t_s", "pressure_bar", flow_name];
    if !table.pulse_t_s.is_empty() {
        header.push("pulse_t_s");
    }
    header.extend(slow.iter().map(|s| s.name));
    header.extend(table.extra.iter().map(|(name, _)| name.as_str()));
    let mut writer = csv::Writer::from_writer(to);
    writer.write_record(&header)?;
    for (i, t_s) in table.t_s.iter().enumerate() {
        writer.write_field(exact(*t_s))?;
        writer.write_field(decimal(Pascal(table.pressure_pa[i]).as_bar()))?;
        writer.write_field(flow_cell(&table.flow, i))?;
        if let Some(edge_s) = table.pulse_t_s.get(i) {
            writer.write_field(exact(*edge_s))?;
        }
        for channel in &mut slow {
            writer.write_field(channel.take_until(*t_s).map(decimal).unwrap_or_default())?;
        }
        for (_, cells) in &table.extra {
            writer.write_field(&cells[i])?;
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer.flush()
}

fn flow_cell(flow: &FlowColumn, row: usize) -> String {
    match flow {
        FlowColumn::Pulses(counts) => counts[row].map(|n| n.to_string()).unwrap_or_default(),
        FlowColumn::Rate(rates) => decimal(CubicMetrePerSecond(rates[row]).as_l_min()),
    }
}

/// A slow channel on its way into cells.
struct SlowCells<'s> {
    name: &'static str,
    from_si: fn(f64) -> f64,
    series: &'s SlowSeries,
    next: usize,
}

impl<'s> SlowCells<'s> {
    /// The channels that have a reading.
    fn all(slow: &'s SlowChannels) -> Vec<Self> {
        let celsius: fn(f64) -> f64 = |k| Kelvin(k).as_celsius();
        let channels: [(&'static str, fn(f64) -> f64, &SlowSeries); 5] = [
            ("supply_v", |v| v, &slow.supply_v),
            ("supply_a", |a| a, &slow.supply_a),
            ("material_c", celsius, &slow.material_k),
            ("air_c", celsius, &slow.air_k),
            ("rh_pct", |ratio| ratio * 100.0, &slow.rh_ratio),
        ];
        channels
            .into_iter()
            .filter(|(_, _, series)| !series.t_s.is_empty())
            .map(|(name, from_si, series)| Self {
                name,
                from_si,
                series,
                next: 0,
            })
            .collect()
    }

    /// Time of the next reading.
    fn next_t_s(&self) -> Option<f64> {
        self.series.t_s.get(self.next).copied()
    }

    /// The next reading, in the unit of its column, if it is due.
    fn take_until(&mut self, t_s: f64) -> Option<f64> {
        let due_s = self.next_t_s()?;
        if due_s > t_s {
            return None;
        }
        let value = self.series.value.get(self.next).copied();
        self.next += 1;
        value.map(self.from_si)
    }
}

#[cfg(test)]
mod tests;
