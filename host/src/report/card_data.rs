//! What stands on a setting card: the recommended pressure of a verdict with an open window, and what
//! the analysis gives at it. Only calls the analysis; decides nothing.

use crate::analysis::film::stripe::{FanProfile, Stripes, lay_passes};
use crate::analysis::film::{Pass, TRANSFER_UNKNOWN, dry_film_m};
use crate::analysis::thresholds::TEMPERATURE_STEP_K;
use crate::analysis::verdict::VerdictKind;
use crate::estimate::{Estimate, Interval};
use crate::findings::{BurstFinding, Findings, GroupFinding};

use super::Options;

/// Relative standard uncertainty of a hand's speed from stroke to stroke (common practice, no source).
const U_HAND_SPEED_RATIO: f64 = 0.1;

/// Pressure to set with a setting, Pa; `None` where its verdict asks for something else first: a number to set
/// beside "clean the tip" would invite to turn it up. A coat that runs is cured by the hand, so that its number stands.
pub(crate) fn pressure_to_set(f: &Findings, group_index: usize) -> Option<f64> {
    let is_for_use = f
        .verdicts
        .iter()
        .any(|v| v.group_index == group_index && v.kind.allows_setting());
    let window = f.groups.get(group_index)?.window.as_ref()?;
    window
        .recommended_pa
        .filter(|pa| is_for_use && pa.is_finite())
}

/// Overlaps that hands keep, shown beside the one that is asked for (common practice, no source).
const USUAL_OVERLAPS: [f64; 2] = [0.3, 0.5];
/// An overlap closer than this to the one asked for is not drawn beside it: two lines on each other tell nothing.
const LEAST_OVERLAP_STEP: f64 = 0.05;

/// Film across the passes at one overlap, by an assumed fan.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StripeLine {
    /// Share of the fan width that two passes have in common.
    pub(crate) overlap_ratio: f64,
    /// Film over one pitch at the places where it bends; straight between them.
    pub(crate) stripes: Stripes,
}

/// Film across the passes at the overlap of the options and at those that hands keep, by an assumed fan; empty where
/// no setting has a card to spray by.
pub(crate) fn stripes(f: &Findings, options: &Options) -> Vec<StripeLine> {
    if (0..f.groups.len()).all(|i| CardData::new(f, i, options).is_none()) {
        return Vec::new();
    }
    let asked = options.overlap_ratio;
    let is_other = |o: &&f64| (**o - asked).abs() > LEAST_OVERLAP_STEP - 1e-9;
    let others = USUAL_OVERLAPS.iter().filter(is_other).copied();
    std::iter::once(asked)
        .chain(others)
        .filter_map(|overlap_ratio| {
            let whole = lay_passes(&FanProfile::assumed(), overlap_ratio, &[]).ok()?;
            Some(StripeLine {
                overlap_ratio,
                stripes: where_it_bends(whole),
            })
        })
        .collect()
}

/// The same film without the places that lie on a straight line between their neighbours.
fn where_it_bends(whole: Stripes) -> Stripes {
    let (x, y) = (&whole.place_ratio, &whole.film_ratio);
    let slope = |a: usize, b: usize| (y[b] - y[a]) / (x[b] - x[a]);
    let last = x.len().min(y.len()).saturating_sub(1);
    let kept: Vec<usize> = (0..=last)
        .filter(|i| *i == 0 || *i == last || (slope(i - 1, *i) - slope(*i, i + 1)).abs() > 1e-6)
        .collect();
    Stripes {
        place_ratio: kept.iter().map(|i| x[*i]).collect(),
        film_ratio: kept.iter().map(|i| y[*i]).collect(),
        ..whole
    }
}

/// One card.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct CardData {
    /// Group that it is about.
    pub(crate) group_index: usize,
    /// Pressure to set, Pa.
    pub(crate) recommended_pa: f64,
    /// Margin above the lowest tail-free pressure, Pa; `None` where that is not bracketed.
    pub(crate) margin_pa: Option<f64>,
    /// Burst whose pressure came nearest: its control position goes on the card.
    pub(crate) nearest_burst: Option<usize>,
    /// Control position of that burst.
    pub(crate) dial: Option<String>,
    /// Coating temperatures that it holds for, K.
    pub(crate) material_k: Option<Interval>,
    /// Flow at the pressure to set, m3/s.
    pub(crate) flow_m3_per_s: Option<Estimate>,
    /// Wet film of one coat, m, at the hand speed and overlap of the options.
    pub(crate) wet_film_m: Option<Estimate>,
    /// Dry film of one coat, m.
    pub(crate) dry_film_m: Option<Estimate>,
}

impl CardData {
    /// The card of a group, or `None` when its verdict is not an open window with a pressure to set.
    pub(crate) fn new(f: &Findings, group_index: usize, options: &Options) -> Option<Self> {
        let group = f.groups.get(group_index)?;
        let is_open = f
            .verdicts
            .iter()
            .any(|v| v.group_index == group_index && v.kind == VerdictKind::HealthyWindow);
        let window = group.window.as_ref().filter(|_| is_open)?;
        let recommended_pa = pressure_to_set(f, group_index)?;
        let nearest = nearest_burst(f, group, recommended_pa);
        let flow_m3_per_s = group.curve.as_ref().ok().map(|c| c.flow_at(recommended_pa));
        let wet_film_m = flow_m3_per_s.and_then(|q| wet_film(group, q, options));
        Some(Self {
            group_index,
            recommended_pa,
            margin_pa: window.lower_pa.map(|lower| recommended_pa - lower),
            nearest_burst: nearest.map(|(i, _)| i),
            dial: nearest.and_then(|(_, b)| b.setting.dial.clone()),
            material_k: group
                .group
                .material_k
                .filter(|k| k.is_finite())
                .map(|k| Interval {
                    low: k - TEMPERATURE_STEP_K,
                    high: k + TEMPERATURE_STEP_K,
                }),
            flow_m3_per_s,
            wet_film_m,
            dry_film_m: wet_film_m.and_then(|wet| dry_film(f, group, wet)),
        })
    }

    /// Name of its file: `card-2-415.html`, from the group's number and the tip.
    pub(crate) fn file_name(&self, tip: &str) -> String {
        format!("card-{}{}.html", self.group_index + 1, slug(tip))
    }
}

/// `-word` from a user's label: letters and digits in ASCII only, so that any system can store it.
pub(crate) fn slug(label: &str) -> String {
    let word: String = label
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .take(24)
        .collect::<String>()
        .to_ascii_lowercase();
    if word.is_empty() {
        String::new()
    } else {
        format!("-{word}")
    }
}

/// The used burst of the group with a control position whose pressure lies nearest.
fn nearest_burst<'a>(
    f: &'a Findings,
    group: &GroupFinding,
    pressure_pa: f64,
) -> Option<(usize, &'a BurstFinding)> {
    let distance = |b: &BurstFinding| {
        b.steady
            .pressure_pa
            .map_or(f64::INFINITY, |p| (p.value - pressure_pa).abs())
    };
    group
        .group
        .burst_indices
        .iter()
        .filter_map(|i| Some((*i, f.bursts.get(*i)?)))
        .filter(|(_, b)| b.setting.dial.is_some() && distance(b).is_finite())
        .min_by(|a, b| distance(a.1).total_cmp(&distance(b.1)))
}

fn wet_film(group: &GroupFinding, flow: Estimate, options: &Options) -> Option<Estimate> {
    let fan_width_m = group.tip.as_ref()?.fan_width_m?;
    let pass = Pass {
        flow_m3_per_s: flow,
        transfer_ratio: TRANSFER_UNKNOWN,
        hand_speed_m_per_s: Estimate::new(
            options.hand_speed_m_per_s,
            0.0,
            U_HAND_SPEED_RATIO * options.hand_speed_m_per_s,
        ),
        fan_width_m: Estimate::exact(fan_width_m),
        overlap_ratio: options.overlap_ratio,
    };
    pass.wet_film_m().ok()
}

fn dry_film(f: &Findings, group: &GroupFinding, wet: Estimate) -> Option<Estimate> {
    let solids = f
        .settings
        .materials
        .iter()
        .find(|m| m.name == group.group.material)?
        .volume_solids_ratio?;
    dry_film_m(wet, solids, group.group.thinner_ratio).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_keep_to_letters_and_digits_whatever_the_label() {
        assert_eq!(slug("415"), "-415");
        assert_eq!(slug("../Fein 3/11 <b>"), "-fein311b");
        assert_eq!(slug("\u{2603}"), "");
    }
}
