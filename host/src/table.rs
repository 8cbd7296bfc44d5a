//! Findings to data frames and files: polars stays here and in `interchange`. No statistics.
//!
//! The burst table, one row a burst, units in the column names; an empty cell (`null` in Parquet) is
//! "not known". Written as CSV always and as Parquet in the default build.

pub mod interchange;
pub mod season;

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use crate::estimate::Estimate;
use crate::findings::{BurstFinding, Findings};

/// Name of the CSV file.
pub const BURSTS_CSV: &str = "bursts.csv";
/// Name of the Parquet file.
pub const BURSTS_PARQUET: &str = "bursts.parquet";

/// Why a table was not written or read.
#[derive(Debug, thiserror::Error)]
#[error("{}: {what}", path.display())]
pub struct TableError {
    /// The file.
    path: PathBuf,
    /// What the system or the library said.
    what: String,
}

impl TableError {
    fn new(path: &Path, what: impl std::fmt::Display) -> Self {
        Self {
            path: path.to_owned(),
            what: what.to_string(),
        }
    }
}

/// True when this build can read and write Parquet.
pub const HAS_PARQUET: bool = cfg!(feature = "tables");

/// Said when it cannot.
pub const NO_PARQUET: &str = "this build of tipcurve has no Parquet; build it again with its default features \
     (without --no-default-features)";

/// One column of a table.
#[derive(Debug, Clone, PartialEq)]
enum Column {
    Number(Cow<'static, str>, Vec<Option<f64>>),
    Text(Cow<'static, str>, Vec<Option<String>>),
}

impl Column {
    fn name(&self) -> &str {
        match self {
            Self::Number(name, _) | Self::Text(name, _) => name,
        }
    }

    fn cell(&self, row: usize) -> String {
        match self {
            Self::Number(_, values) => values[row].map_or_else(String::new, |v| format!("{v}")),
            Self::Text(_, values) => values[row].clone().unwrap_or_default(),
        }
    }
}

/// The burst table as columns, all as long as there are bursts. Pressures in bar, flows in L/min.
fn burst_columns(findings: &Findings) -> Vec<Column> {
    let number = |name: &'static str, f: &dyn Fn(usize, &BurstFinding) -> Option<f64>| {
        let values = findings.bursts.iter().enumerate();
        Column::Number(
            name.into(),
            values
                .map(|(i, b)| f(i, b).filter(|v| v.is_finite()))
                .collect(),
        )
    };
    let text = |name: &'static str, f: &dyn Fn(&BurstFinding) -> Option<String>| {
        Column::Text(name.into(), findings.bursts.iter().map(f).collect())
    };
    let bar = |e: Option<Estimate>, part: fn(&Estimate) -> f64| e.map(|e| part(&e) / 1e5);
    let l_min = |e: Option<Estimate>, part: fn(&Estimate) -> f64| e.map(|e| part(&e) * 6e4);
    vec![
        number("burst", &|i, _| Some(i as f64 + 1.0)),
        number("start_s", &|_, b| Some(b.burst.start_s)),
        number("end_s", &|_, b| Some(b.burst.end_s)),
        text("tip", &|b| b.setting.tip.clone()),
        text("material", &|b| b.setting.material.clone()),
        number("thinner_ratio", &|_, b| b.setting.thinner_ratio),
        text("dial", &|b| b.setting.dial.clone()),
        number("group", &|_, b| b.group_index.map(|g| g as f64 + 1.0)),
        number("steady_from_s", &|_, b| Some(b.steady.from_s)),
        number("steady_to_s", &|_, b| Some(b.steady.to_s)),
        number("pressure_bar", &|_, b| {
            bar(b.steady.pressure_pa, |e| e.value)
        }),
        number("u_pressure_bar", &|_, b| {
            bar(b.steady.pressure_pa, |e| e.u_independent)
        }),
        number("stalled_bar", &|_, b| b.steady.stalled_pa.map(|p| p / 1e5)),
        number("sag_ratio", &|_, b| b.steady.sag_ratio),
        number("flow_l_min", &|_, b| {
            l_min(b.steady.flow_m3_per_s, |e| e.value)
        }),
        number("u_flow_l_min", &|_, b| {
            l_min(b.steady.flow_m3_per_s, |e| e.u_independent)
        }),
        number("stroke_rate_hz", &|_, b| b.steady.stroke_rate_hz),
        number("supply_v", &|_, b| b.steady.supply_v),
        number("supply_a", &|_, b| b.steady.supply_a),
        number("material_c", &|_, b| {
            b.steady.material_k.map(|k| k - 273.15)
        }),
        number("tails", &|_, b| b.tails.map(f64::from)),
        text("runs", &|b| {
            b.runs.map(|r| if r { "yes" } else { "no" }.to_owned())
        }),
        number("comb_um", &|_, b| b.comb_m.map(|m| m * 1e6)),
        text("not_used_because", &|b| {
            let value = serde_json::to_value(b.steady.exclusion.as_ref()?).ok()?;
            value["reason"].as_str().map(str::to_owned)
        }),
    ]
}

/// Writes the burst table into a report's folder; gives the files.
///
/// # Errors
/// When a file cannot be written.
pub fn write_bursts(findings: &Findings, folder: &Path) -> Result<Vec<PathBuf>, TableError> {
    let columns = burst_columns(findings);
    let csv_path = folder.join(BURSTS_CSV);
    let failed = |path: &Path, e: &dyn std::fmt::Display| {
        TableError::new(path, format!("cannot write: {e}"))
    };
    write_csv(&columns, findings.bursts.len(), &csv_path).map_err(|e| failed(&csv_path, &e))?;
    #[cfg(not(feature = "tables"))]
    let files = vec![csv_path];
    #[cfg(feature = "tables")]
    let files = {
        let path = folder.join(BURSTS_PARQUET);
        write_parquet(columns, &path).map_err(|e| failed(&path, &e))?;
        vec![csv_path, path]
    };
    Ok(files)
}

fn write_csv(columns: &[Column], n_rows: usize, path: &Path) -> csv::Result<()> {
    let mut writer = csv::Writer::from_path(path)?;
    writer.write_record(columns.iter().map(Column::name))?;
    for row in 0..n_rows {
        writer.write_record(columns.iter().map(|c| c.cell(row)))?;
    }
    writer.flush()?;
    Ok(())
}

#[cfg(not(feature = "tables"))]
fn write_parquet(_columns: Vec<Column>, _path: &Path) -> Result<(), &'static str> {
    Err(NO_PARQUET)
}

#[cfg(feature = "tables")]
fn write_parquet(columns: Vec<Column>, path: &Path) -> polars::prelude::PolarsResult<()> {
    use polars::prelude::{
        Column as Series, DataFrame, NamedFrom, ParquetWriter, Series as Values,
    };
    let series: Vec<Series> = columns
        .into_iter()
        .map(|column| match column {
            Column::Number(name, values) => Values::new(name.as_ref().into(), values).into(),
            Column::Text(name, values) => Values::new(name.as_ref().into(), values).into(),
        })
        .collect();
    let mut frame = DataFrame::new_infer_height(series)?;
    ParquetWriter::new(std::fs::File::create(path)?).finish(&mut frame)?;
    Ok(())
}

#[cfg(not(feature = "tables"))]
fn read_parquet(_path: &Path) -> Result<(Vec<Column>, usize), &'static str> {
    Err(NO_PARQUET)
}

/// All columns of a file that hold numbers or words, and the number of rows.
#[cfg(feature = "tables")]
fn read_parquet(path: &Path) -> polars::prelude::PolarsResult<(Vec<Column>, usize)> {
    use polars::prelude::{DataType, ParquetReader, SerReader};
    let frame = ParquetReader::new(std::fs::File::open(path)?).finish()?;
    let mut columns = Vec::new();
    for series in frame.columns() {
        let name = series.name().to_string();
        match series.dtype() {
            DataType::Float64 => {
                let cells = series.f64()?.iter().collect();
                columns.push(Column::Number(name.into(), cells));
            }
            DataType::String => {
                let cells = series.str()?.iter().map(|c| c.map(str::to_owned)).collect();
                columns.push(Column::Text(name.into(), cells));
            }
            _ => {}
        }
    }
    Ok((columns, frame.height()))
}
