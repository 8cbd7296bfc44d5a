//! `samples.csv`: text to a [`SampleTable`] in SI, all or nothing.
//!
//! Columns and units are those of the plain-text interchange: `t_s`, `pressure_bar`, then
//! `flow_pulses` or `flow_l_min`, the rest optional. An empty cell means "not sampled in this row".

mod write;

use super::cells;
use super::fault::{Faults, Place, What};
use super::rows::{Row, Rows};
use super::{FlowColumn, SampleTable, SlowChannels, SlowSeries};
use crate::units::{CubicMetrePerSecond, Kelvin, Pascal};

pub use write::write;

/// The columns that this program knows.
pub const COLUMNS: [&str; 10] = [
    "t_s",
    "pressure_bar",
    "flow_pulses",
    "flow_l_min",
    "pulse_t_s",
    "supply_v",
    "supply_a",
    "material_c",
    "air_c",
    "rh_pct",
];

/// How far the time of an edge may lie after its row: both are rounded to the same digits.
const EDGE_ROUNDING_S: f64 = 1.0e-3;

/// Reads a whole `samples.csv`.
///
/// *Shape*: every column of the result is as long as the file has rows. Where both flow columns
/// stand in the file, pulses are the flow and the rate is passed through in `extra`.
///
/// # Errors
/// Everything that is wrong with the text, with line and column; nothing is read then.
pub fn read(bytes: &[u8]) -> Result<SampleTable, Faults> {
    let mut rows = Rows::open(bytes)?;
    let mut faults = Faults::default();
    let Some(columns) = Columns::find(&rows, &mut faults) else {
        return Err(faults);
    };
    let mut table = columns.empty_table();
    let mut latest = Latest::default();
    let mut slow = SlowColumn::all(&rows);
    while let Some(row) = rows.next(&mut faults) {
        if row.is_blank() {
            continue;
        }
        let mut cells = Cells {
            row: &row,
            faults: &mut faults,
        };
        let t_s = cells.logger_time_s(columns.t, &mut latest);
        table.t_s.push(t_s);
        let pressure_bar = cells.number(columns.pressure, "pressure_bar");
        table.pressure_pa.push(Pascal::from_bar(pressure_bar).si());
        match &mut table.flow {
            FlowColumn::Pulses(counts) => counts.push(cells.count(columns.flow, "flow_pulses")),
            FlowColumn::Rate(rates) => {
                let l_min = cells.number(columns.flow, "flow_l_min");
                rates.push(CubicMetrePerSecond::from_l_min(l_min).si());
            }
        }
        if let Some(index) = columns.pulse_t {
            table.pulse_t_s.push(cells.edge_s(index, t_s, &mut latest));
        }
        for column in &mut slow {
            column.push(&mut cells, t_s);
        }
        for ((_, kept), index) in table.extra.iter_mut().zip(&columns.extra) {
            kept.push(row.cell(*index).to_owned());
        }
    }
    if table.t_s.is_empty() && faults.list.is_empty() {
        faults.push(Place::File, What::NoRows);
    }
    table.slow = SlowColumn::into_channels(slow);
    faults.or(table)
}

/// Positions of the columns that are read.
struct Columns {
    t: usize,
    pressure: usize,
    flow: usize,
    is_pulses: bool,
    pulse_t: Option<usize>,
    extra: Vec<usize>,
    extra_names: Vec<String>,
}

impl Columns {
    fn find(rows: &Rows<'_>, faults: &mut Faults) -> Option<Self> {
        let mut need = |name: &'static str, found: Option<usize>| {
            if found.is_none() {
                faults.push(Place::Line(rows.header_line()), rows.missing(name));
            }
            found
        };
        let pulses = rows.column_index("flow_pulses");
        let rate = rows.column_index("flow_l_min");
        let t = need("t_s", rows.column_index("t_s"));
        let pressure = need("pressure_bar", rows.column_index("pressure_bar"));
        let flow = need("flow_pulses or flow_l_min", pulses.or(rate));
        let mut extra = rows.unknown_columns(&COLUMNS);
        extra.extend(rate.filter(|_| pulses.is_some()));
        Some(Self {
            t: t?,
            pressure: pressure?,
            flow: flow?,
            is_pulses: pulses.is_some(),
            pulse_t: rows.column_index("pulse_t_s"),
            extra_names: extra.iter().map(|i| rows.columns()[*i].clone()).collect(),
            extra,
        })
    }

    fn empty_table(&self) -> SampleTable {
        SampleTable {
            flow: if self.is_pulses {
                FlowColumn::Pulses(Vec::new())
            } else {
                FlowColumn::Rate(Vec::new())
            },
            extra: self
                .extra_names
                .iter()
                .map(|name| (name.clone(), Vec::new()))
                .collect(),
            ..SampleTable::default()
        }
    }
}

/// Latest times seen, which the next row may not fall behind.
struct Latest {
    t_s: f64,
    edge_s: f64,
}

impl Default for Latest {
    fn default() -> Self {
        Self {
            t_s: f64::NEG_INFINITY,
            edge_s: f64::NEG_INFINITY,
        }
    }
}

/// The cells of one row; what cannot be read becomes a fault and `NaN`.
struct Cells<'r, 'f> {
    row: &'r Row<'r>,
    faults: &'f mut Faults,
}

impl Cells<'_, '_> {
    fn fault(&mut self, column: &str, what: What) {
        let place = Place::Cell {
            line: self.row.line,
            column: column.to_owned(),
        };
        self.faults.push(place, what);
    }

    fn number(&mut self, index: usize, column: &str) -> f64 {
        match cells::number(self.row.cell(index)) {
            Ok(value) => value.unwrap_or(f64::NAN),
            Err(what) => {
                self.fault(column, what);
                f64::NAN
            }
        }
    }

    fn count(&mut self, index: usize, column: &str) -> Option<u32> {
        cells::count(self.row.cell(index)).unwrap_or_else(|what| {
            self.fault(column, what);
            None
        })
    }

    fn logger_time_s(&mut self, index: usize, latest: &mut Latest) -> f64 {
        if self.row.cell(index).is_empty() {
            self.fault("t_s", What::EmptyCell);
            return f64::NAN;
        }
        let t_s = self.number(index, "t_s");
        if t_s <= latest.t_s {
            let previous_s = latest.t_s;
            self.fault("t_s", What::TimeNotRising { t_s, previous_s });
        }
        // `max` passes over NaN: an unreadable time is one fault, not two.
        latest.t_s = latest.t_s.max(t_s);
        t_s
    }

    fn edge_s(&mut self, index: usize, t_s: f64, latest: &mut Latest) -> f64 {
        let edge_s = self.number(index, "pulse_t_s");
        let previous_s = latest.edge_s;
        if edge_s < previous_s {
            self.fault("pulse_t_s", What::EdgeBackwards { edge_s, previous_s });
        } else if edge_s > t_s + EDGE_ROUNDING_S {
            self.fault("pulse_t_s", What::EdgeAfterRow { edge_s, t_s });
        }
        latest.edge_s = previous_s.max(edge_s);
        edge_s
    }
}

/// A slow channel: its column and how its number becomes SI.
struct SlowColumn {
    index: usize,
    name: &'static str,
    to_si: fn(f64) -> f64,
    series: SlowSeries,
}

impl SlowColumn {
    /// The slow channels that the file has.
    fn all(rows: &Rows<'_>) -> Vec<Self> {
        let known: [(&'static str, fn(f64) -> f64); 5] = [
            ("supply_v", |v| v),
            ("supply_a", |a| a),
            ("material_c", |c| Kelvin::from_celsius(c).si()),
            ("air_c", |c| Kelvin::from_celsius(c).si()),
            ("rh_pct", |pct| pct / 100.0),
        ];
        known
            .into_iter()
            .filter_map(|(name, to_si)| {
                Some(Self {
                    index: rows.column_index(name)?,
                    name,
                    to_si,
                    series: SlowSeries::default(),
                })
            })
            .collect()
    }

    fn push(&mut self, cells: &mut Cells<'_, '_>, t_s: f64) {
        let value = cells.number(self.index, self.name);
        if !value.is_nan() {
            self.series.t_s.push(t_s);
            self.series.value.push((self.to_si)(value));
        }
    }

    fn into_channels(columns: Vec<Self>) -> SlowChannels {
        let mut slow = SlowChannels::default();
        for column in columns {
            let to = match column.name {
                "supply_v" => &mut slow.supply_v,
                "supply_a" => &mut slow.supply_a,
                "material_c" => &mut slow.material_k,
                "air_c" => &mut slow.air_k,
                _ => &mut slow.rh_ratio,
            };
            *to = column.series;
        }
        slow
    }
}

#[cfg(test)]
mod tests;
