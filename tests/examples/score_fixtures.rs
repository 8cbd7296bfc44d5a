//! Prints the score of every recording with truth in a folder, one line each, then totals.
//!
//! `cargo run --release -p tipcurve-tests --example score_fixtures -- FOLDER`
#![allow(clippy::print_stdout)]

use std::path::PathBuf;

use tipcurve_tests::score::score;
use tipcurve_tests::truth::read_truth;

fn main() {
    let folder = PathBuf::from(
        std::env::args()
            .nth(1)
            .unwrap_or_else(|| "tests/fixtures".into()),
    );
    let verbose = std::env::args().nth(2).is_some();
    let mut names: Vec<PathBuf> = std::fs::read_dir(&folder)
        .map(|list| list.flatten().map(|e| e.path()).collect())
        .unwrap_or_default();
    names.retain(|p| p.to_string_lossy().ends_with(".truth.json"));
    names.sort();
    for path in names {
        let text = path.to_string_lossy().replace(".truth.json", "");
        let recording = match tipcurve::interchange::import_folder(&PathBuf::from(&text)) {
            Ok(r) => r,
            Err(e) => {
                println!("{text}: {e}");
                continue;
            }
        };
        let truth = read_truth(&path);
        let findings = tipcurve::pipeline::analyse(recording);
        let s = score(&findings, &truth);
        println!("{} {:18} -> {s}", findings.name, truth.family);
        if verbose {
            for v in &findings.verdicts {
                println!(
                    "    {:?} {:.3} {:?} {:?}",
                    v.kind,
                    v.confidence,
                    v.because,
                    v.evidence
                        .iter()
                        .map(|e| format!("{} {:.4}", e.code, e.value))
                        .collect::<Vec<_>>()
                );
            }
            for g in &findings.groups {
                println!(
                    "    {} {} ph {} T {:?} n {} curve {:?} orifice {:?} ratio {:?} thr {:?}",
                    g.group.tip,
                    g.group.material,
                    g.group.phase,
                    g.group.material_k,
                    g.group.burst_indices.len(),
                    g.curve.as_ref().map(|c| c.power_law.n.value),
                    g.orifice_ratio.map(|o| o.value),
                    g.flow_ratio_to_baseline.map(|o| (o.value, o.u_independent)),
                    g.tail_threshold
                );
            }
            for b in &findings.bursts {
                println!(
                    "      {:.2}-{:.2} p {:?} q {:?} sag {:?} {:?} {:?} tails {:?} v {:?}",
                    b.burst.start_s,
                    b.burst.end_s,
                    b.steady.pressure_pa.map(|p| p.value / 1e5),
                    b.steady
                        .flow_m3_per_s
                        .map(|q| (q.value * 6e4, q.u_independent / q.value)),
                    b.steady.sag_ratio,
                    b.steady.exclusion,
                    b.setting.dial,
                    b.tails,
                    b.steady.supply_v
                );
            }
            for m in &findings.alignment.matches {
                println!(
                    "      note {} -> {:?} other {:?} amb {} t {:?}",
                    m.note_index, m.burst_index, m.other_burst_index, m.is_ambiguous, m.t_s
                );
            }
            println!(
                "      offset {:?} cost {} runner {:?} amb {}",
                findings.alignment.clock_offset_s,
                findings.alignment.cost,
                findings.alignment.runner_up_cost,
                findings.alignment.is_ambiguous
            );
            for d in &findings.defects {
                println!(
                    "      {:?} {:.1}-{:.1} {:?} fatal {}",
                    d.kind, d.from_s, d.to_s, d.magnitude, d.is_fatal
                );
            }
        }
    }
}
