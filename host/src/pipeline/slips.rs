//! Slips of the pen in settings and notes that only the data give away: a meter constant a thousand times off, a tip code
//! with a figure too many. Each is named with what to check; nothing is corrected.

use std::collections::BTreeMap;

use crate::analysis::health::{Defect, FlowPoint, find_implausible_flow};
use crate::analysis::signal::Signal;
use crate::analysis::tip_code::describe_tip;
use crate::findings::BurstFinding;
use crate::recording::LoadDefect;
use crate::recording::settings::Settings;

/// Bursts that a tip must have to be taken for what another was meant to be, where the settings list no tips.
const USUAL_BURSTS: usize = 3;

/// The flow that no tip can pass, from the bursts that are used.
pub(super) fn implausible_flow(
    found: &[BurstFinding],
    settings: &Settings,
    signal: &Signal,
) -> Option<Defect> {
    let points: Vec<FlowPoint> = found
        .iter()
        .filter(|b| b.steady.exclusion.is_none())
        .filter_map(|b| {
            let tip = b.setting.tip.as_deref();
            let tip = tip.map(|label| describe_tip(label, &settings.tips));
            Some(FlowPoint {
                pressure_pa: b.steady.pressure_pa.as_ref()?.value,
                flow_m3_per_s: b.steady.flow_m3_per_s.as_ref()?.value,
                orifice_diameter_m: tip.and_then(|t| t.orifice_diameter_m),
            })
        })
        .collect();
    let ends = signal.t_s.first().zip(signal.t_s.last());
    let (from_s, to_s) = ends.map_or((0.0, 0.0), |(a, b)| (*a, *b));
    find_implausible_flow(&points, (from_s, to_s))
}

/// Tips with a single burst whose code is one slip away from a listed one, or from one that was sprayed often.
pub(super) fn mistyped_tips(found: &[BurstFinding], settings: &Settings) -> Vec<LoadDefect> {
    let mut bursts: BTreeMap<&str, Vec<&BurstFinding>> = BTreeMap::new();
    for burst in found {
        if let Some(tip) = burst.setting.tip.as_deref() {
            bursts.entry(tip.trim()).or_default().push(burst);
        }
    }
    let listed: Vec<&str> = settings.tips.iter().map(|t| t.code.trim()).collect();
    let often = bursts.iter().filter(|(_, b)| b.len() >= USUAL_BURSTS);
    let known: Vec<&str> = listed
        .iter()
        .copied()
        .chain(often.map(|(tip, _)| *tip))
        .collect();
    let mut out = Vec::new();
    for (tip, own) in &bursts {
        let is_listed = listed.iter().any(|t| t.eq_ignore_ascii_case(tip));
        if own.len() != 1 || is_listed {
            continue;
        }
        let is_slip = |meant: &&&str| strsim::damerau_levenshtein(tip, meant) == 1;
        let Some(meant) = known.iter().find(is_slip) else {
            continue;
        };
        out.push(LoadDefect {
            code: "tip_mistyped".to_owned(),
            range_s: own.first().map(|b| (b.burst.start_s, b.burst.end_s)),
            message: format!(
                "only one burst has tip {tip}; did you mean {meant}? Correct the note and run the report again: \
                 until then it counts as another tip"
            ),
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::health::DefectKind;
    use crate::findings::Findings;
    use crate::recording::Recording;

    fn fixture(name: &str) -> Recording {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures");
        crate::interchange::import_folder(&folder.join(name)).unwrap()
    }

    fn with_constant_times(factor: f64) -> Findings {
        let mut recording = fixture("rec-10");
        let k = recording.settings.flow_meter.k_factor_per_m3.unwrap();
        recording.settings.flow_meter.k_factor_per_m3 = Some(k * factor);
        crate::pipeline::analyse(recording)
    }

    #[test]
    fn a_constant_wrong_by_a_thousand_is_named_and_its_flows_are_not_believed() {
        let has = |f: &Findings| {
            let mut kinds = f.defects.iter().map(|d| d.kind);
            kinds.any(|k| k == DefectKind::FlowImplausible)
        };
        assert!(!has(&with_constant_times(1.0)));
        for factor in [1000.0, 0.001] {
            let f = with_constant_times(factor);
            assert!(has(&f), "{factor}");
            assert!(f.signal.flow_meter.u_pulse_volume_ratio >= 1.0);
        }
    }

    #[test]
    fn a_figure_too_many_is_told_and_another_tip_is_not() {
        let f = crate::pipeline::analyse(fixture("rec-10"));
        let tip = f.bursts.iter().find_map(|b| b.setting.tip.clone()).unwrap();
        let renamed = |to: &str| {
            let mut bursts = f.bursts.clone();
            let own = bursts
                .iter_mut()
                .rfind(|b| b.setting.tip.as_ref() == Some(&tip));
            own.unwrap().setting.tip = Some(to.to_owned());
            mistyped_tips(&bursts, &f.settings)
        };
        let told = renamed(&format!("1{tip}"));
        assert_eq!(told.len(), 1);
        let expected = format!("only one burst has tip 1{tip}; did you mean {tip}?");
        assert!(
            told[0].message.starts_with(&expected),
            "{}",
            told[0].message
        );
        assert!(renamed("999").is_empty());
        assert!(mistyped_tips(&f.bursts, &f.settings).is_empty());
    }
}
