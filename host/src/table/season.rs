//! The rows of [`SummaryRow`] as a Parquet file beside each recording, written once and read back for a season.
//!
//! One file a recording, `curves.parquet`, so that a season of a thousand recordings reads a thousand small
//! tables and none of the recordings. Each row carries a stamp of the recording's files: when they change, the
//! file is made again. One row a curve, SI, the unit in the column's name.

use std::path::Path;

use super::{Column, TableError};
use crate::analysis::season::{RowKind, SummaryRow};

/// Name of the file.
pub const CURVES_PARQUET: &str = "curves.parquet";

type Text = (
    &'static str,
    fn(&SummaryRow) -> Option<String>,
    fn(&mut SummaryRow, Option<String>),
);
type Number = (
    &'static str,
    fn(&SummaryRow) -> Option<f64>,
    fn(&mut SummaryRow, Option<f64>),
);

macro_rules! number {
    ($($field:ident),* $(,)?) => {
        &[$((stringify!($field), |r| r.$field, |r, v| r.$field = v)),*]
    };
}

/// Columns of words.
const TEXTS: &[Text] = &[
    (
        "recording",
        |r| Some(r.recording.clone()),
        |r, v| r.recording = v.unwrap_or_default(),
    ),
    (
        "stamp",
        |r| Some(r.stamp.clone()),
        |r, v| r.stamp = v.unwrap_or_default(),
    ),
    (
        "kind",
        |r| Some(r.kind.word().to_owned()),
        |r, v| r.kind = RowKind::from_word(&v.unwrap_or_default()),
    ),
    (
        "is_simulated",
        |r| Some(if r.is_simulated { "yes" } else { "no" }.to_owned()),
        |r, v| r.is_simulated = v.as_deref() == Some("yes"),
    ),
    (
        "instruments",
        |r| Some(r.instruments.clone()),
        |r, v| r.instruments = v.unwrap_or_default(),
    ),
    ("rig", |r| r.rig.clone(), |r, v| r.rig = v),
    ("tip", |r| r.tip.clone(), |r, v| r.tip = v),
    ("material", |r| r.material.clone(), |r, v| r.material = v),
    ("dial", |r| r.dial.clone(), |r, v| r.dial = v),
];

/// Columns of numbers.
const NUMBERS: &[Number] = number![
    start_unix_s,
    thinner_ratio,
    material_k,
    volume_m3,
    p_ref_pa,
    q_ref_m3_per_s,
    u_q_ref_ratio,
    n,
    u_n,
    cov_ln_q_ref_n,
    pressure_low_pa,
    pressure_high_pa,
    flow_per_k_ratio,
    u_flow_per_k_ratio,
    p_max_pa,
    power_w,
    q_max_m3_per_s,
    held_pa,
    u_held_ratio,
    flow_low_m3_per_s,
    flow_high_m3_per_s,
    supply_v,
];

/// The rows as columns.
fn columns_of(rows: &[SummaryRow]) -> Vec<Column> {
    let texts = TEXTS
        .iter()
        .map(|(name, get, _)| Column::Text((*name).into(), rows.iter().map(get).collect()));
    let numbers = NUMBERS.iter().map(|(name, get, _)| {
        let cell = |r: &SummaryRow| get(r).filter(|x| x.is_finite());
        Column::Number((*name).into(), rows.iter().map(cell).collect())
    });
    texts.chain(numbers).collect()
}

/// Columns as rows again; a column that is missing leaves its cells empty, one that is not known is passed over.
fn rows_of(columns: &[Column], n_rows: usize) -> Vec<SummaryRow> {
    let mut rows = vec![SummaryRow::default(); n_rows];
    for column in columns {
        match column {
            Column::Text(name, cells) => {
                if let Some((_, _, set)) = TEXTS.iter().find(|(n, _, _)| n == name) {
                    for (row, cell) in rows.iter_mut().zip(cells) {
                        set(row, cell.clone());
                    }
                }
            }
            Column::Number(name, cells) => {
                if let Some((_, _, set)) = NUMBERS.iter().find(|(n, _, _)| n == name) {
                    for (row, cell) in rows.iter_mut().zip(cells) {
                        set(row, *cell);
                    }
                }
            }
        }
    }
    rows
}

/// Writes the rows of one recording; complete or not at all.
///
/// # Errors
/// A file that cannot be written; a build without Parquet.
pub fn write_curves(rows: &[SummaryRow], path: &Path) -> Result<(), TableError> {
    let part = path.with_extension("parquet.part");
    super::write_parquet(columns_of(rows), &part).map_err(|e| TableError::new(path, e))?;
    std::fs::rename(&part, path).map_err(|e| TableError::new(path, e))
}

/// Reads the rows of one recording.
///
/// # Errors
/// A file that cannot be read; a build without Parquet.
pub fn read_curves(path: &Path) -> Result<Vec<SummaryRow>, TableError> {
    let (columns, n_rows) = super::read_parquet(path).map_err(|e| TableError::new(path, e))?;
    Ok(rows_of(&columns, n_rows))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows() -> Vec<SummaryRow> {
        vec![
            SummaryRow {
                recording: "yard-01".to_owned(),
                stamp: "1-2-3".to_owned(),
                kind: RowKind::Nozzle,
                is_simulated: true,
                start_unix_s: Some(1.7e9),
                tip: Some("415".to_owned()),
                n: Some(0.55),
                ..SummaryRow::default()
            },
            SummaryRow {
                recording: "yard-01".to_owned(),
                kind: RowKind::Supply,
                dial: Some("10".to_owned()),
                held_pa: Some(1.5e7),
                power_w: None,
                ..SummaryRow::default()
            },
        ]
    }

    #[test]
    fn rows_come_back_from_their_columns_and_every_field_has_one() {
        let columns = columns_of(&rows());
        assert_eq!(rows_of(&columns, 2), rows());
        // Every member of a row has its column: written as JSON and compared by name.
        let value = serde_json::to_value(&rows()[0]).unwrap();
        let names: Vec<&str> = columns.iter().map(Column::name).collect();
        for member in value.as_object().unwrap().keys() {
            assert!(names.contains(&member.as_str()), "{member}");
        }
    }

    #[test]
    fn a_number_that_is_not_finite_is_no_cell() {
        let row = SummaryRow {
            n: Some(f64::NAN),
            ..SummaryRow::default()
        };
        assert_eq!(rows_of(&columns_of(&[row]), 1)[0].n, None);
    }

    #[cfg(feature = "tables")]
    #[test]
    fn rows_come_back_from_a_parquet_file() {
        let folder = std::env::temp_dir().join(format!("tipcurve-curves-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join(CURVES_PARQUET);
        write_curves(&rows(), &path).unwrap();
        assert_eq!(read_curves(&path).unwrap(), rows());
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[cfg(not(feature = "tables"))]
    #[test]
    fn a_build_without_parquet_says_so() {
        let error = read_curves(Path::new("curves.parquet")).unwrap_err();
        assert!(error.to_string().contains("has no Parquet"), "{error}");
    }
}
