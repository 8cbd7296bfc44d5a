//! No NaN and no infinity reaches a page, a figure, a card, the terminal or the results.

use tipcurve::estimate::{Estimate, Interval};
use tipcurve::findings::Findings;
use tipcurve::report::summary;

use super::page::Page;
use super::{example, files, readers};

type Poison = fn(&mut Findings, f64);

fn spoil(e: &mut Estimate, bad: f64) {
    e.value = bad;
    e.u_common = bad;
}

/// Each puts one bad number where the analysis should never put one.
const POISONS: &[(&str, Poison)] = &[
    ("zero", |f, x| spoil(&mut f.zero_pa, x)),
    ("pressure samples", |f, x| f.signal.pressure_pa.fill(x)),
    ("times", |f, x| f.signal.t_s[3] = x),
    ("all times", |f, x| f.signal.t_s.fill(x)),
    ("pulse volume", |f, x| {
        f.signal.flow_meter.pulse_volume_m3 = x
    }),
    ("meter uncertainty", |f, x| {
        f.signal.flow_meter.u_pulse_volume_ratio = x
    }),
    ("rating", |f, x| {
        f.settings.limits.working_pressure_pa = Some(x)
    }),
    ("label", |f, x| {
        for m in &mut f.settings.materials {
            m.max_thinner_ratio = Some(x);
            m.max_temperature_k = Some(x);
            m.volume_solids_ratio = Some(x);
        }
    }),
    ("burst times", |f, x| {
        for b in &mut f.bursts {
            b.burst.start_s = x;
            b.steady.to_s = x;
        }
    }),
    ("burst means", |f, x| {
        for b in &mut f.bursts {
            b.steady.pressure_pa = Some(Estimate::new(x, x, x));
            b.steady.flow_m3_per_s = Some(Estimate::new(1e-5, x, 0.0));
            b.steady.stalled_pa = Some(x);
            b.steady.sag_ratio = Some(x);
        }
    }),
    ("curves", |f, x| {
        for g in &mut f.groups {
            if let Ok(c) = &mut g.curve {
                spoil(&mut c.power_law.q_ref_m3_per_s, x);
                spoil(&mut c.power_law.n, x);
                c.range_pa.high = x;
            }
        }
    }),
    ("curve points", |f, x| {
        for g in &mut f.groups {
            if let Ok(c) = &mut g.curve {
                for p in &mut c.points {
                    p.pressure_pa.value = x;
                    p.flow_m3_per_s.u_independent = x;
                }
            }
        }
    }),
    ("windows", |f, x| {
        for g in &mut f.groups {
            if let Some(w) = &mut g.window {
                w.upper_pa = x;
                w.recommended_pa = Some(x);
                w.lower_pa = Some(x);
                w.upper_interval_pa = Interval { low: x, high: x };
            }
        }
    }),
    ("window ends only", |f, x| {
        for g in &mut f.groups {
            if let Some(w) = &mut g.window {
                w.upper_pa = x;
            }
        }
    }),
    ("grades", |f, x| {
        for g in &mut f.groups {
            for grade in &mut g.grades {
                grade.pressure_pa = x;
            }
        }
    }),
    ("group", |f, x| {
        for g in &mut f.groups {
            g.group.material_k = Some(x);
            g.group.thinner_ratio = x;
            g.orifice_ratio = Some(Estimate::new(x, x, x));
            if let Some(c) = &mut g.crossing {
                spoil(&mut c.pressure_pa, x);
                c.flow_m3_per_s = x;
            }
        }
    }),
    ("supply", |f, x| {
        for s in &mut f.supply {
            for p in &mut s.points {
                p.t_s = x;
                spoil(&mut p.pressure_pa, x);
                p.stalled_pa = Some(x);
            }
        }
    }),
    ("verdicts", |f, x| {
        for v in &mut f.verdicts {
            v.confidence = x;
            for e in &mut v.evidence {
                e.value = x;
                e.low = Some(x);
                e.threshold = Some(x);
            }
        }
    }),
    ("alignment", |f, x| {
        f.alignment.cost = x;
        f.alignment.clock_offset_s = Some(x);
        f.alignment.u_clock_offset_s = Some(x);
        for m in &mut f.alignment.matches {
            m.t_s = Some(x);
        }
    }),
    ("defects", |f, x| {
        for d in &mut f.defects {
            d.magnitude = Some(x);
            d.from_s = x;
        }
    }),
];

fn has_bad_number(text: &str) -> bool {
    text.split(|c: char| !c.is_ascii_alphanumeric())
        .any(|word| {
            let word = word.to_ascii_lowercase();
            ["nan", "inf", "infinity", "null"].contains(&word.as_str())
        })
}

#[test]
fn bad_numbers_in_the_findings_reach_nothing_that_is_shown() {
    for (what, poison) in POISONS {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for mut findings in example::all() {
                poison(&mut findings, bad);
                for file in files(&findings, &readers()[0]) {
                    let at = format!("{what} {bad}: {}", file.name);
                    match file.name.rsplit_once('.') {
                        Some((_, "html")) => {
                            let page = Page::parse(&file.text);
                            assert!(page.faults().is_empty(), "{at}");
                            assert!(!has_bad_number(&page.all("body")[0].text()), "{at}");
                            assert!(!file.text.contains("NaN"), "{at}");
                        }
                        Some((_, "svg")) => assert!(!has_bad_number(&file.text), "{at}"),
                        _ => {
                            let text = file.text.replace("null", "");
                            assert!(!text.contains("NaN") && !text.contains("Infinity"), "{at}");
                            assert!(
                                serde_json::from_str::<serde_json::Value>(&file.text).is_ok(),
                                "{at}"
                            );
                        }
                    }
                }
                assert!(
                    !has_bad_number(&summary(&findings, &readers()[0])),
                    "{what} {bad}"
                );
            }
        }
    }
}
