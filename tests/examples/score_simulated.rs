//! Prints the score of simulated trials, one line each, then totals by kind.
//!
//! `cargo run --release -p tipcurve-tests --example score_simulated -- SEEDS [KIND]`
#![allow(clippy::print_stdout)]

use tipcurve::simulate::record::to_recording;
use tipcurve::simulate::scenario::{TrialKind, trial};

fn main() {
    let seeds: u64 = std::env::args()
        .nth(1)
        .and_then(|s| s.parse().ok())
        .unwrap_or(3);
    let only = std::env::args().nth(2);
    for kind in TrialKind::ALL {
        if only.as_ref().is_some_and(|o| o != kind.name()) {
            continue;
        }
        for seed in 0..seeds {
            let t0 = std::time::Instant::now();
            let scenario = trial(kind, seed);
            let t1 = std::time::Instant::now();
            let (recording, truth) = to_recording(&scenario);
            let t2 = std::time::Instant::now();
            println!(
                "{} draw {:.0} ms record {:.0} ms rows {} dur {:.0} s clear {} notes {} ",
                recording.name,
                (t1 - t0).as_secs_f64() * 1e3,
                (t2 - t1).as_secs_f64() * 1e3,
                truth.errors.rows,
                truth.bursts.last().unwrap().end_s,
                tipcurve::simulate::scenario::clear::is_clear(kind, &scenario),
                recording.notes.len()
            );
            println!("    hold {:?} sag ", truth.hold);
            for g in &truth.groups {
                println!(
                    "    {} {} n {:.3} q {:.3} L/min at {:.1} bar clear {:.1} run {:.1} range {:.1?} distinct {} d {:.3}",
                    g.tip,
                    g.phase,
                    g.n,
                    g.q_ref_l_min,
                    g.p_ref_bar,
                    g.p_clear_bar,
                    g.p_run_bar,
                    g.p_range_bar,
                    g.distinct_pressures,
                    g.equivalent_orifice_mm / g.nominal_orifice_mm
                );
            }
            println!(
                "    bursts {}",
                truth
                    .bursts
                    .iter()
                    .map(|b| format!("{}{}:{:.0}", &b.kind[..1], b.dial, b.pressure_tap_bar))
                    .collect::<Vec<_>>()
                    .join(" ")
            );
        }
    }
}
