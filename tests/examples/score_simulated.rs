//! Prints the score of simulated trials, one line each, then totals by kind.
//!
//! `cargo run --release -p tipcurve-tests --example score_simulated -- SEEDS [KIND [verbose [SEED]]]`
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use tipcurve::simulate::record::to_recording;
use tipcurve::simulate::scenario::{TrialKind, trial};
use tipcurve_tests::score::score;
use tipcurve_tests::truth::truth_of;

fn main() {
    let seeds: u64 = std::env::args()
        .nth(1)
        .and_then(|s| s.parse().ok())
        .unwrap_or(3);
    let only = std::env::args().nth(2).filter(|o| o != "all");
    let verbose = std::env::args().nth(3).is_some();
    // With a fourth word, that seed alone.
    let one: Option<u64> = std::env::args().nth(4).and_then(|s| s.parse().ok());
    let mut q_errors = Vec::new();
    let mut n_errors = Vec::new();
    let (mut q_in, mut n_in, mut clear) = (0, 0, (0, 0));
    for kind in TrialKind::ALL {
        if only.as_ref().is_some_and(|o| o != kind.name()) {
            continue;
        }
        let mut right = 0;
        for seed in one.map_or(0..seeds, |seed| seed..seed + 1) {
            let scenario = trial(kind, seed);
            let (recording, truth) = to_recording(&scenario);
            let asked = truth_of(&serde_json::to_value(&truth).unwrap());
            let findings = tipcurve::pipeline::analyse(recording);
            let s = score(&findings, &asked);
            right += u32::from(s.is_right);
            println!("{:24} -> {s}", findings.name);
            for c in &s.curves {
                q_errors.push(c.q_error.abs());
                n_errors.push(c.n_error.abs());
                q_in += u32::from(c.q_covered);
                n_in += u32::from(c.n_covered);
                clear.0 += u32::from(c.clear_covered == Some(true));
                clear.1 += u32::from(c.clear_covered.is_some());
            }
            if verbose {
                for b in &truth.bursts {
                    println!(
                        "      T {} {:.2}-{:.2} {} p {:.2} q {:.4} {}",
                        b.kind,
                        b.start_s,
                        b.end_s,
                        b.dial,
                        b.pressure_tap_bar,
                        b.flow_l_min,
                        b.phase
                    );
                }
                for g in &truth.groups {
                    println!(
                        "    G {} {} n {:.3} q {:.3} L/min at {:.1} bar clear {:.1} run {:.1} range {:.1?} d {:.3}",
                        g.tip,
                        g.phase,
                        g.n,
                        g.q_ref_l_min,
                        g.p_ref_bar,
                        g.p_clear_bar,
                        g.p_run_bar,
                        g.p_range_bar,
                        g.equivalent_orifice_mm / g.nominal_orifice_mm
                    );
                }
                for b in &findings.bursts {
                    println!(
                        "      F {:.2}-{:.2} p {:?} q {:?} sag {:?} {:?} {:?} tails {:?} v {:?}",
                        b.burst.start_s,
                        b.burst.end_s,
                        b.steady
                            .pressure_pa
                            .map(|p| (p.value / 1e5, p.u_independent / 1e5)),
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
                for g in &findings.groups {
                    println!(
                        "      O {} {} orifice {:?} n {:?} chi {:?} scatter {:?} outliers {:?}",
                        g.group.tip,
                        g.group.phase,
                        g.orifice_ratio.map(|o| (o.value, o.u_combined())),
                        g.curve.as_ref().ok().map(|c| c.power_law.n),
                        g.curve
                            .as_ref()
                            .ok()
                            .map(|c| c.power_law.reduced_chi_square),
                        g.curve
                            .as_ref()
                            .ok()
                            .map(|c| c.power_law.burst_scatter_ratio),
                        g.curve.as_ref().ok().map(|c| c.outliers.len()),
                    );
                }
                for (g, refusal) in findings
                    .groups
                    .iter()
                    .filter_map(|g| Some((g, g.curve.as_ref().err()?)))
                {
                    println!(
                        "      X {} {} {:?} {refusal:?}",
                        g.group.tip, g.group.phase, g.group.burst_indices
                    );
                }
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
                for d in &findings.defects {
                    println!(
                        "      {:?} {:.1}-{:.1} {:?} fatal {}",
                        d.kind, d.from_s, d.to_s, d.magnitude, d.is_fatal
                    );
                }
                for n in &findings.notes {
                    println!(
                        "      N {:?} {:?} {:?} {:?} {:?} {:?}",
                        n.time, n.tip, n.dial, n.tails, n.runs, n.event
                    );
                }
                println!("{:?} {:?}", scenario.rig, scenario.instruments);
            }
        }
        println!("== {} {right}/{seeds}", kind.name());
    }
    q_errors.sort_by(f64::total_cmp);
    n_errors.sort_by(f64::total_cmp);
    let m = q_errors.len();
    if m > 0 {
        println!(
            "curves {m} median q {:.3}% n {:.4} covered q {q_in} n {n_in} clear {clear:?}",
            100.0 * q_errors[m / 2],
            n_errors[m / 2]
        );
    }
}
