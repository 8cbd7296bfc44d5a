//! Notes that a program added and that are no longer in `notes.csv`.

use super::{Note, NoteTime, read};

/// The added notes of which `notes.csv` holds none with the same time.
///
/// A note whose grade or text was corrected in a spreadsheet is still there by its time; notes
/// without a time are not looked for. Half a row at the end, as a killed program leaves it, is passed
/// over.
#[must_use]
pub fn gone(added: &[u8], notes: &[Note]) -> Vec<Note> {
    let whole = added.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
    let added = read(&added[..whole]).unwrap_or_default();
    added
        .into_iter()
        .filter(|note| note.time != NoteTime::OrderedOnly)
        .filter(|note| !notes.iter().any(|n| n.time == note.time))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_overwritten_row_is_missed_and_a_corrected_one_is_not() {
        let added = b"time,tails,text\n12:00:01,1,\n12:00:09,2,\n,3,\n12:00:2";
        let notes = read(b"time,tails\n12:00:01,3\n").unwrap();
        let gone = gone(added, &notes);
        assert_eq!(gone.len(), 1);
        assert_eq!((gone[0].line, gone[0].tails), (3, Some(2)));
    }
}
