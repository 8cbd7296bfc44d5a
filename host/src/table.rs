//! Findings to data frames and files: polars stays here and in `interchange`. No statistics.
//!
//! The burst table, one row a burst, units in the column names; an empty cell (`null` in Parquet) is
//! "not known". Written as CSV always and as Parquet in the default build.

use std::path::{Path, PathBuf};

use crate::estimate::Estimate;
use crate::findings::{BurstFinding, Findings};

/// Name of the CSV file.
pub const BURSTS_CSV: &str = "bursts.csv";
/// Name of the Parquet file.
pub const BURSTS_PARQUET: &str = "bursts.parquet";

/// Why a table was not written.
#[derive(Debug, thiserror::Error)]
#[error("{}: cannot write: {what}", path.display())]
pub struct TableError {
    /// The file.
    path: PathBuf,
    /// What the system or the library said.
    what: String,
}

/// One column of the burst table.
enum Column {
    Number(&'static str, Vec<Option<f64>>),
    Text(&'static str, Vec<Option<String>>),
}

impl Column {
    fn name(&self) -> &'static str {
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
    let number = |name, f: &dyn Fn(usize, &BurstFinding) -> Option<f64>| {
        let values = findings.bursts.iter().enumerate();
        Column::Number(
            name,
            values
                .map(|(i, b)| f(i, b).filter(|v| v.is_finite()))
                .collect(),
        )
    };
    let text = |name, f: &dyn Fn(&BurstFinding) -> Option<String>| {
        Column::Text(name, findings.bursts.iter().map(f).collect())
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
    write_csv(&columns, findings.bursts.len(), &csv_path).map_err(|e| TableError {
        path: csv_path.clone(),
        what: e.to_string(),
    })?;
    #[cfg(not(feature = "tables"))]
    let files = vec![csv_path];
    #[cfg(feature = "tables")]
    let files = {
        let path = folder.join(BURSTS_PARQUET);
        write_parquet(columns, &path).map_err(|e| TableError {
            path: path.clone(),
            what: e.to_string(),
        })?;
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

#[cfg(feature = "tables")]
fn write_parquet(columns: Vec<Column>, path: &Path) -> polars::prelude::PolarsResult<()> {
    use polars::prelude::{
        Column as Series, DataFrame, NamedFrom, ParquetWriter, Series as Values,
    };
    let series: Vec<Series> = columns
        .into_iter()
        .map(|column| match column {
            Column::Number(name, values) => Values::new(name.into(), values).into(),
            Column::Text(name, values) => Values::new(name.into(), values).into(),
        })
        .collect();
    let mut frame = DataFrame::new_infer_height(series)?;
    ParquetWriter::new(std::fs::File::create(path)?).finish(&mut frame)?;
    Ok(())
}
