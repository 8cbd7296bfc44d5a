//! What a disk may hold of a file when the power is cut.
//!
//! Everything up to the last sync is there. Of what was written afterwards each sector reached the disk or did
//! not, in any order: one that did not is a stretch of zeros, or missing altogether where nothing behind it
//! arrived, so that the file is shorter. A sector is written whole or not at all: no half of one survives.

/// What became of one sector that was not synced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sector {
    /// It reached the disk.
    Written,
    /// The file grew, the sector's bytes did not come.
    Zeroed,
    /// Nothing of it came: the end of the file, unless a later sector was written.
    Missing,
}

/// The file after the cut: `now` is what the program had written, `synced_bytes` of it are known to be on the disk.
/// `fates` are taken in turn, over and over.
///
/// # Panics
/// Without a fate, or with sectors of no length: the test is wrong.
#[must_use]
pub fn cut_power(
    now: &[u8],
    synced_bytes: usize,
    sector_bytes: usize,
    fates: &[Sector],
) -> Vec<u8> {
    assert!(!fates.is_empty() && sector_bytes > 0);
    let mut left = now[..synced_bytes].to_vec();
    let mut from = synced_bytes;
    let mut fates = fates.iter().cycle();
    let mut is_longer = Vec::new();
    while from < now.len() {
        let to = now.len().min((from / sector_bytes + 1) * sector_bytes);
        let fate = fates.next().copied().unwrap_or(Sector::Missing);
        match fate {
            Sector::Written => left.extend_from_slice(&now[from..to]),
            Sector::Zeroed | Sector::Missing => left.resize(to, 0),
        }
        is_longer.push((to, fate != Sector::Missing));
        from = to;
    }
    let last = is_longer.iter().rev().find(|(_, is_there)| *is_there);
    left.truncate(last.map_or(synced_bytes, |(to, _)| *to));
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sectors_come_or_do_not_and_what_was_synced_stays() {
        use Sector::{Missing, Written, Zeroed};
        let cut = |fates: &[Sector]| cut_power(b"abcdefghij", 3, 4, fates);
        assert_eq!(cut(&[Written]), b"abcdefghij");
        assert_eq!(cut(&[Zeroed, Written]), b"abc\0efgh\0\0");
        assert_eq!(cut(&[Missing, Written, Missing]), b"abc\0efgh");
        assert_eq!(cut(&[Written, Missing, Missing]), b"abcd");
        assert_eq!(cut(&[Missing]), b"abc");
    }
}
