//! The sync mark among the bursts.

use super::AlignBurst;

/// Three short pulls in a row: each below 1.2 s, pauses below 2.5 s, and a longer pause around.
pub(super) fn find_pulls(bursts: &[AlignBurst]) -> Vec<usize> {
    const LONGEST_PULL_S: f64 = 1.2;
    const LONGEST_PAUSE_S: f64 = 2.5;
    let mut found = Vec::new();
    let is_short = |b: &AlignBurst| b.burst.duration_s() < LONGEST_PULL_S;
    let mut i = 0;
    while i + 2 < bursts.len() {
        let trio = &bursts[i..i + 3];
        let is_close = trio
            .windows(2)
            .all(|w| w[1].burst.start_s - w[0].burst.end_s < LONGEST_PAUSE_S);
        if trio.iter().all(is_short) && is_close {
            found.extend(i..i + 3);
            i += 3;
        } else {
            i += 1;
        }
    }
    found
}
