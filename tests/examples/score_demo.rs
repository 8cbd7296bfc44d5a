//! Prints what the demo's recordings truly hold, and what the analysis makes of them.
//!
//! `cargo run --release -p tipcurve-tests --example score_demo -- [SEED]`
#![allow(clippy::print_stdout)]

use tipcurve::simulate::record::to_recording_with_all;
use tipcurve::simulate::scenario::demo;

fn main() {
    let seed = std::env::args()
        .nth(1)
        .and_then(|s| s.parse().ok())
        .unwrap_or(1);
    for scenario in demo(seed) {
        let begun = std::time::Instant::now();
        let (recording, truths) = to_recording_with_all(&scenario);
        let took = begun.elapsed().as_secs_f64();
        let Some(truth) = truths.first() else {
            continue;
        };
        let last_s = truth.bursts.last().map_or(0.0, |b| b.end_s);
        println!(
            "{}: {last_s:.0} s in {took:.2} s, {} samples, {} notes, defects {:?}",
            recording.name,
            truth.errors.rows,
            recording.notes.len(),
            recording.defects
        );
        for t in &truths {
            println!(
                "  {} {} {} -> {}; hold {:.1} of {:.1} bar, {:.3} L/min",
                t.subject.tip,
                t.subject.material,
                t.subject.thinner_pct,
                t.label,
                t.hold.pressure_tap_bar,
                t.hold.p_max_bar,
                t.hold.flow_l_min
            );
        }
        for g in &truth.groups {
            println!(
                "  {} {} {} n {:.3} q {:.3} L/min at {:.1} bar, clear {:.1} run {:.1}, {:.1?} bar, distinct {}, d {:.3}, bursts {:?}",
                g.tip,
                g.material,
                g.phase,
                g.n,
                g.q_ref_l_min,
                g.p_ref_bar,
                g.p_clear_bar,
                g.p_run_bar,
                g.p_range_bar,
                g.distinct_pressures,
                g.equivalent_orifice_mm / g.nominal_orifice_mm,
                g.bursts
            );
        }
        println!(
            "  {}",
            truth
                .bursts
                .iter()
                .map(|b| format!(
                    "{}/{} {}{}:{:.0}",
                    b.tip,
                    b.phase,
                    &b.kind[..1],
                    b.dial,
                    b.pressure_tap_bar
                ))
                .collect::<Vec<_>>()
                .join(" ")
        );
        let findings = tipcurve::pipeline::analyse(recording);
        for v in &findings.verdicts {
            let g = &findings.groups[v.group_index].group;
            println!(
                "  => {} {} {:?} {:.2} {:?} {:?}",
                g.tip, g.material, v.kind, v.confidence, v.advice, v.because
            );
        }
        for d in &findings.defects {
            println!(
                "      {:?} {:.1}-{:.1} {:?} fatal {}",
                d.kind, d.from_s, d.to_s, d.magnitude, d.is_fatal
            );
        }
    }
}
