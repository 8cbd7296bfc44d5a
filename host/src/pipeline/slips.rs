//! Slips of the pen in settings and notes that only the data give away: a meter constant a thousand times off, a tip code
//! with a figure too many. Each is named with what to check; nothing is corrected.

use std::collections::BTreeMap;

use crate::analysis::health::{Defect, FlowPoint, find_implausible_flow};
use crate::analysis::signal::{FlowSignal, Signal};
use crate::analysis::tip_code::describe_tip;
use crate::findings::BurstFinding;
use crate::recording::LoadDefect;
use crate::recording::settings::Settings;

/// Bursts that a tip must have to be taken for what another was meant to be, where the settings list no tips.
const USUAL_BURSTS: usize = 3;

/// The flow that no tip can pass, from the bursts that are used. `None` where pulses have no constant at all: that is told
/// already, and nothing is accused that is not there.
pub(super) fn implausible_flow(
    found: &[BurstFinding],
    settings: &Settings,
    signal: &Signal,
) -> Option<Defect> {
    let is_counted = matches!(signal.flow, FlowSignal::Edges { .. });
    if is_counted && settings.flow_meter.k_factor_per_m3.is_none() {
        return None;
    }
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
///
/// A slip is a figure too many, one too few or two that changed places. Another figure in its place is none: that is how
/// the codes of neighbouring tips differ.
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
        let is_slip = |meant: &&&str| {
            let changed_places = strsim::levenshtein(tip, meant) == 2;
            strsim::damerau_levenshtein(tip, meant) == 1
                && (tip.len() != meant.len() || changed_places)
        };
        let n_sprayed = |meant: &&&str| bursts.get(**meant).map_or(0, Vec::len);
        let Some(meant) = known.iter().filter(is_slip).max_by_key(n_sprayed) else {
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

    fn with_constant_times(name: &str, factor: f64) -> Findings {
        let mut recording = fixture(name);
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
        assert!(!has(&with_constant_times("rec-10", 1.0)));
        for factor in [1000.0, 0.001] {
            let f = with_constant_times("rec-10", factor);
            assert!(has(&f), "{factor}");
            assert!(f.signal.flow_meter.u_pulse_volume_ratio >= 1.0);
            let mut kinds = f.defects.iter().map(|d| d.kind);
            assert!(kinds.all(|k| k != DefectKind::NominalMeter));
        }
    }

    #[test]
    fn a_timed_catch_still_contradicts_a_constant_that_nothing_is_believed_of() {
        let agrees = |factor: f64| -> Vec<bool> {
            let f = with_constant_times("rec-19", factor);
            let ratios = f.catches.iter().flat_map(|c| &c.metered_over_caught);
            ratios.map(|r| r.interval_95().contains(1.0)).collect()
        };
        let stated = agrees(1.0);
        assert!(!stated.is_empty() && stated.iter().all(|is_one| *is_one));
        for factor in [1000.0, 0.001] {
            assert!(agrees(factor).iter().all(|is_one| !is_one), "{factor}");
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
        assert_eq!(renamed(&tip[1..]).len(), 1);
        let [a, b, c] = <[char; 3]>::try_from(tip.chars().collect::<Vec<_>>()).unwrap();
        assert_eq!(renamed(&format!("{b}{a}{c}")).len(), 1);
        assert!(renamed("999").is_empty());
        // The next size is a tip of its own.
        let next = char::from_digit((c.to_digit(10).unwrap() + 2) % 10, 10).unwrap();
        assert!(renamed(&format!("{a}{b}{next}")).is_empty());
        assert!(mistyped_tips(&f.bursts, &f.settings).is_empty());
    }
}
