//! Writes the coverage table: 2,000 recordings for each of 20 settings.
//!
//! Usage: `cargo run --release -p tipcurve-tests --example coverage -- tests/coverage/table.md [repeats]`
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

mod rig;
mod simulation;

use std::fmt::Write as _;

use rig::SETTINGS;
use simulation::{QUANTITIES, SIZES, run};

/// Seed of the table; any other gives the same picture within the range stated under it.
const SEED: u64 = 20_240_611;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let path = arguments
        .next()
        .ok_or("usage: coverage TABLE.md [REPEATS]")?;
    let repeats: usize = arguments.next().map_or(Ok(2000), |text| text.parse())?;
    let mut text = heading(repeats);
    for setting in &SETTINGS {
        for size in SIZES {
            let counts = run(setting, size, repeats, SEED);
            write!(text, "| {} | {size} |", setting.name)?;
            for (tally, name) in counts.iter().zip(QUANTITIES) {
                let half = tally.mean_half_width();
                let width = match name {
                    "n" => format!("{half:.3}"),
                    _ => format!("{:.1} %", 100.0 * half),
                };
                let coverage = 100.0 * tally.coverage();
                write!(text, " {coverage:.1} (± {width}, {}) |", tally.asked)?;
            }
            text.push('\n');
            // After each row: it takes a while, and what is done can be read.
            std::fs::write(&path, &text)?;
        }
    }
    Ok(())
}

fn heading(repeats: usize) -> String {
    let range = 196.0 * (0.95f64 * 0.05 / repeats as f64).sqrt();
    let mut text = format!(
        "# Coverage of 95 % intervals\n\n\
         Made by `coverage/main.rs` with {repeats} simulated recordings a row, seed {SEED}; invented data. Each\n\
         cell: percent of intervals that hold the truth (mean half width, intervals asked). Chance\n\
         alone moves a cell by ± {range:.1} (95 %). Asked for: 93 to 97.\n\n| setting | points |"
    );
    for name in QUANTITIES {
        text.push_str(&format!(" {name} |"));
    }
    text.push_str("\n| --- | --- | --- | --- | --- | --- |\n");
    text
}
