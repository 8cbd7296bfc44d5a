//! A recording as Parquet with the columns of the plain-text interchange.
//!
//! `samples.parquet` and `notes.parquet` have the names, units and cells of `samples.csv` and `notes.csv`, an
//! empty cell being null; `session.toml` stands beside them as it is. Made from the very text that
//! [`crate::interchange::export()`] writes, so that the two cannot say different things.

use super::Column;

/// Name of the sensors' file.
pub const SAMPLES_PARQUET: &str = "samples.parquet";
/// Name of the notes' file.
pub const NOTES_PARQUET: &str = "notes.parquet";

/// Columns that are words even where every cell looks like a number: a tip `415`, a dial `7`.
const WORDS: [&str; 7] = [
    "time",
    "tip",
    "tip_family",
    "material",
    "dial",
    "event",
    "text",
];

/// A CSV text as columns: numbers where every cell that is not empty is one, words otherwise.
///
/// *Shape*: header row and rows as long as it; an empty cell is `None`.
///
/// *Errors*: what the CSV reader says.
fn columns_of_csv(text: &[u8]) -> csv::Result<Vec<(String, Cells)>> {
    let mut reader = csv::Reader::from_reader(text);
    let mut columns: Vec<(String, Vec<Option<String>>)> = reader
        .headers()?
        .iter()
        .map(|name| (name.to_owned(), Vec::new()))
        .collect();
    for row in reader.records() {
        let row = row?;
        for (cell, (_, cells)) in row.iter().zip(&mut columns) {
            cells.push((!cell.is_empty()).then(|| cell.to_owned()));
        }
    }
    Ok(columns
        .into_iter()
        .map(|(name, cells)| {
            let cells = typed(&name, cells);
            (name, cells)
        })
        .collect())
}

/// Cells of one column.
#[derive(Debug, Clone, PartialEq)]
enum Cells {
    Numbers(Vec<Option<f64>>),
    Words(Vec<Option<String>>),
}

fn typed(name: &str, cells: Vec<Option<String>>) -> Cells {
    if WORDS.contains(&name) {
        return Cells::Words(cells);
    }
    let numbers: Option<Vec<Option<f64>>> = cells
        .iter()
        .map(|cell| match cell {
            None => Some(None),
            Some(text) => text.parse::<f64>().ok().filter(|x| x.is_finite()).map(Some),
        })
        .collect();
    numbers.map_or(Cells::Words(cells), Cells::Numbers)
}

/// Turns the `samples.csv` and `notes.csv` of a folder into Parquet beside them and takes the text away.
///
/// # Errors
/// A file that cannot be read or written; a build without Parquet.
pub fn turn_into_parquet(folder: &std::path::Path) -> std::io::Result<()> {
    use crate::recording::folder::{NOTES, SAMPLES};
    if !super::HAS_PARQUET {
        return Err(std::io::Error::other(super::NO_PARQUET));
    }
    for (text, parquet) in [(SAMPLES, SAMPLES_PARQUET), (NOTES, NOTES_PARQUET)] {
        let text = folder.join(text);
        let columns = columns_of_csv(&std::fs::read(&text)?)?
            .into_iter()
            .map(|(name, cells)| match cells {
                Cells::Numbers(values) => Column::Number(name.into(), values),
                Cells::Words(values) => Column::Text(name.into(), values),
            })
            .collect();
        super::write_parquet(columns, &folder.join(parquet)).map_err(std::io::Error::other)?;
        std::fs::remove_file(&text)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tip_stays_a_word_and_an_empty_cell_stays_empty() {
        let text = b"t_s,tip,tails,own\n0.5,415,,a\n1,311,2,7\n";
        let columns = columns_of_csv(text).unwrap();
        let words = |cells: &[&str]| {
            let cell = |c: &&str| (!c.is_empty()).then(|| (*c).to_owned());
            Cells::Words(cells.iter().map(cell).collect())
        };
        assert_eq!(
            columns,
            [
                ("t_s".to_owned(), Cells::Numbers(vec![Some(0.5), Some(1.0)])),
                ("tip".to_owned(), words(&["415", "311"])),
                ("tails".to_owned(), Cells::Numbers(vec![None, Some(2.0)])),
                ("own".to_owned(), words(&["a", "7"])),
            ]
        );
    }

    #[test]
    fn a_row_of_another_length_is_refused() {
        assert!(columns_of_csv(b"a,b\n1,2\n3\n").is_err());
    }
}
