//! Codes that stand for names, and the file that says which for whom.
//!
//! A code says nothing of its bearer: it is drawn by chance and then kept, so that a student keeps theirs
//! when the class is judged again.

use std::path::Path;

use crate::class_findings::ClassFindings;
use crate::cli::Stop;
use crate::recording::roster::{BLIND_KEY, Roster};

/// Letters of codes; none that is read as a digit.
const LETTERS: &[u8] = b"ABCDEFGHJKLMNPRSTUVWXYZ";

/// One code a student, in the class's order; the key file is read, completed and written back.
pub(super) fn codes(
    place: &Path,
    roster: &Roster,
    class: &ClassFindings,
) -> Result<Vec<String>, Stop> {
    let path = place.join(BLIND_KEY);
    let mut known = read_key(&path)?;
    let labels: Vec<&str> = class.students.iter().map(|s| s.label.as_str()).collect();
    for label in &labels {
        if !known.iter().any(|(_, l)| l == label) {
            let code = new_code(&known, roster.students.len())?;
            known.push((code, (*label).to_owned()));
        }
    }
    write_key(&path, &known)?;
    Ok(labels
        .iter()
        .filter_map(|label| known.iter().find(|(_, l)| l == label))
        .map(|(code, _)| code.clone())
        .collect())
}

/// Codes with their labels; empty when there is no file yet.
fn read_key(path: &Path) -> Result<Vec<(String, String)>, Stop> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let refused = |e: &dyn std::fmt::Display| {
        Stop::bad_input(format!(
            "{}: not a key with the columns code and student: {e}; nothing was made",
            path.display()
        ))
    };
    let mut reader = csv::Reader::from_path(path).map_err(|e| refused(&e))?;
    let mut out: Vec<(String, String)> = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| refused(&e))?;
        let (Some(code), Some(label)) = (row.get(0), row.get(1)) else {
            return Err(refused(&"a row is too short"));
        };
        if out.iter().any(|(c, _)| c == code) {
            return Err(refused(&format!("code {code} stands twice")));
        }
        out.push((code.to_owned(), label.to_owned()));
    }
    Ok(out)
}

fn write_key(path: &Path, known: &[(String, String)]) -> Result<(), Stop> {
    let failed = |e: csv::Error| Stop::failed(format!("{}: cannot write: {e}", path.display()));
    let mut writer = csv::Writer::from_path(path).map_err(failed)?;
    writer.write_record(["code", "student"]).map_err(failed)?;
    for (code, label) in known {
        writer.write_record([code, label]).map_err(failed)?;
    }
    writer
        .flush()
        .map_err(|e| Stop::failed(format!("{}: cannot write: {e}", path.display())))
}

/// A letter and two digits that nobody has; more digits when the class is too large for that.
fn new_code(known: &[(String, String)], n_students: usize) -> Result<String, Stop> {
    let span = if n_students > 500 { 10_000 } else { 100 };
    loop {
        let mut bytes = [0u8; 4];
        getrandom::fill(&mut bytes)
            .map_err(|e| Stop::failed(format!("no random numbers from the system: {e}")))?;
        let letter = LETTERS[usize::from(bytes[0]) % LETTERS.len()];
        let number = u32::from(u16::from_le_bytes([bytes[1], bytes[2]])) % span;
        let code = format!("{}{number:02}", char::from(letter));
        if !known.iter().any(|(c, _)| *c == code) {
            return Ok(code);
        }
    }
}
