//! Writes the corruption table: what becomes of damaged frames and of recordings with one damaged place.
//!
//! Usage: `cargo run --release -p tipcurve-tests --example corruption -- tests/corruption/table.md [frames a row] [recordings a row]`
#![allow(clippy::print_stderr)] // It takes minutes and says how far it is.

use std::fmt::Write as _;
use std::time::Instant;

use tipcurve_tests::corruption::{Damage, damage_frames, damage_recordings, truncate_recording};

/// Number that the random damage starts from; any other gives the same picture.
const NUMBER: u64 = 20_240_611;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let path = arguments
        .next()
        .ok_or("usage: corruption TABLE.md [FRAMES] [RECORDINGS]")?;
    let n_frames: u64 = arguments.next().map_or(Ok(15_000_000), |n| n.parse())?;
    let n_recordings: u64 = arguments.next().map_or(Ok(20_000), |n| n.parse())?;
    let begun = Instant::now();
    let frames = frame_table(n_frames)?;
    let losses = loss_table(n_recordings)?;
    let (n_cuts, n_bad) = truncate_recording();
    let minutes = begun.elapsed().as_secs_f64() / 60.0;
    let text = format!(
        "# Damage on the line\n\n\
         Made by `corruption/main.rs` in {minutes:.1} minutes with {n_frames} frames and {n_recordings} recordings a row; invented data.\n\n\
         ## Damaged frames\n\n\
         Samples, edges, slow readings, marks and heartbeats with random content, 11 to 300 bytes, damaged at a random place; every\n\
         eighth has a sound frame behind it. Undetected: a message was read that nobody sent.\n\n{frames}\n\
         ## One damaged place in a recording of a minute\n\n\
         50 samples a block, with edges, slow readings and heartbeats between them. Not known: samples that did not arrive\n\
         and that the sequence numbers do not tell.\n\n{losses}\n\
         A short recording cut at each of its {n_cuts} places: {n_bad} lost more than the frame that was cut, or told a loss that was none.\n"
    );
    std::fs::write(&path, text)?;
    Ok(())
}

fn frame_table(n: u64) -> Result<String, std::fmt::Error> {
    let mut text = "| damage | damaged frames | undetected |\n| --- | --- | --- |\n".to_owned();
    let (mut damaged, mut undetected) = (0, 0);
    for damage in Damage::ALL {
        let tally = damage_frames(damage, n, NUMBER);
        damaged += tally.damaged;
        undetected += tally.undetected;
        let row = format!(
            "| {} | {} | {} |",
            damage.name(),
            tally.damaged,
            tally.undetected
        );
        eprintln!("{row}");
        writeln!(text, "{row}")?;
    }
    writeln!(text, "| **together** | **{damaged}** | **{undetected}** |")?;
    Ok(text)
}

fn loss_table(n: u64) -> Result<String, std::fmt::Error> {
    let mut text = "| damage | frames lost, mean | most | samples lost, mean | most | not known | undetected |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n"
        .to_owned();
    for damage in Damage::ALL {
        let tally = damage_recordings(damage, n, NUMBER);
        let mean = |sum: u64| sum as f64 / tally.recordings as f64;
        let row = format!(
            "| {} | {:.2} | {} | {:.1} | {} | {} | {} |",
            damage.name(),
            mean(tally.frames_lost),
            tally.most_frames_lost,
            mean(tally.samples_lost),
            tally.most_samples_lost,
            tally.samples_unknown,
            tally.undetected
        );
        eprintln!("{row}");
        writeln!(text, "{row}")?;
    }
    Ok(text)
}
