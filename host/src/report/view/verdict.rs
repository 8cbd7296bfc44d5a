//! One verdict as it is shown: answer, evidence, advice with its caution, what not to do, next trial.

use super::figures::{FigureView, moved_figure, window_figure};
use crate::findings::{Findings, GroupFinding};
use crate::report::Options;
use crate::report::card_data::{CardData, pressure_to_set};
use crate::report::cautions::{beside_advice, beside_trial};
use crate::report::figure::{FigureError, Source};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, quoted, say};
use crate::report::wording::{
    State, Subject, advise, advise_against, because, evidence, headline, kind_name, next_trial,
    state, why,
};

/// Advice with the caution beside it.
pub(crate) struct AdviceLine {
    /// What to do.
    pub(crate) text: Sentence,
    /// The caution that belongs to it; said once where several lines share it.
    pub(crate) caution: Option<&'static str>,
}

/// One verdict.
pub(crate) struct VerdictView {
    /// Anchor.
    pub(crate) id: String,
    /// Tip, coating, thinner, temperature.
    pub(crate) setting: Sentence,
    /// What it asks of the reader.
    pub(crate) state: State,
    /// Name of the kind.
    pub(crate) kind: &'static str,
    /// The answer in one line.
    pub(crate) headline: Sentence,
    /// What it means.
    pub(crate) why: Sentence,
    /// How sure, in percent.
    pub(crate) confidence: Sentence,
    /// The same in words.
    pub(crate) confidence_word: &'static str,
    /// A few numbers to carry away: name and value.
    pub(crate) facts: Vec<(&'static str, Sentence)>,
    /// Evidence with the anchor it links to.
    pub(crate) evidence: Vec<(Sentence, &'static str)>,
    /// Reasons of an answer that is none.
    pub(crate) because: Vec<Sentence>,
    /// What to do, most useful first.
    pub(crate) advice: Vec<AdviceLine>,
    /// What not to do.
    pub(crate) against: Vec<Sentence>,
    /// The next trial.
    pub(crate) next_trial: Option<AdviceLine>,
    /// File of the setting card.
    pub(crate) card_file: Option<String>,
    /// Its window.
    pub(crate) window: Option<FigureView>,
    /// Which curve moved.
    pub(crate) moved: Option<FigureView>,
}

/// Views of all verdicts; one that names a missing group is left out.
pub(super) fn verdict_views(
    source: Source,
    options: &Options,
) -> Result<Vec<VerdictView>, FigureError> {
    (0..source.findings.verdicts.len())
        .filter_map(|i| Subject::new(source.findings, source.show, i))
        .map(|s| verdict_view(source, &s, options))
        .collect()
}

fn verdict_view(
    source: Source,
    s: &Subject,
    options: &Options,
) -> Result<VerdictView, FigureError> {
    let v = s.verdict;
    let card = CardData::new(s.findings, v.group_index, options);
    Ok(VerdictView {
        id: format!("verdict-{}", s.verdict_index + 1),
        setting: setting_name(s.findings, s.show, v.group_index),
        state: state(v.kind),
        kind: kind_name(v.kind),
        headline: headline(s),
        why: why(s),
        confidence: s.show.probability(v.confidence, s.key("confidence")),
        confidence_word: confidence_word(v.confidence),
        facts: facts(s),
        evidence: v
            .evidence
            .iter()
            .enumerate()
            .map(|(i, e)| evidence(s, i, e))
            .collect(),
        because: v.because.iter().map(|code| because(s, code)).collect(),
        advice: advice_lines(s),
        against: v
            .advice_against
            .iter()
            .map(|a| advise_against(s, *a))
            .collect(),
        next_trial: v.next_trial.as_ref().map(|t| AdviceLine {
            text: next_trial(s, t),
            caution: beside_trial(t).map(crate::report::cautions::Caution::text),
        }),
        card_file: card.map(|c| c.file_name(&s.group.group.tip)),
        window: window_figure(source, s.verdict_index, v.group_index)?,
        moved: moved_figure(source, s.verdict_index, v.group_index)?,
    })
}

/// Each caution once, beside the last line in a row of those that share it.
fn advice_lines(s: &Subject) -> Vec<AdviceLine> {
    let list = &s.verdict.advice;
    list.iter()
        .enumerate()
        .map(|(i, a)| {
            let own = beside_advice(*a);
            let is_shared_later = list
                .get(i + 1)
                .is_some_and(|next| beside_advice(*next) == own);
            AdviceLine {
                text: advise(s, *a),
                caution: own
                    .filter(|_| !is_shared_later)
                    .map(crate::report::cautions::Caution::text),
            }
        })
        .collect()
}

/// Tip, coating, thinner and temperature of a group.
pub(crate) fn setting_name(f: &Findings, show: Show, group_index: usize) -> Sentence {
    let Some(g) = f.groups.get(group_index) else {
        return Sentence::default();
    };
    let key = |member: &str| format!("/groups/{group_index}/{member}");
    let mut out = match g.group.tip.as_str() {
        "" => Sentence::from("No tip noted"),
        code => say!["Tip ", quoted(code)],
    };
    if let Some(family) = &g.group.tip_family {
        out.push(say![" (", quoted(family), ")"]);
    }
    if !g.group.material.is_empty() {
        out.push(say![" \u{b7} ", quoted(&g.group.material)]);
    }
    if g.group.thinner_ratio > 0.0 {
        let thinner = show.plain(Kind::Percent, g.group.thinner_ratio, key("thinner_ratio"));
        out.push(say![" \u{b7} ", thinner, " thinner"]);
    }
    if let Some(k) = g.group.material_k.filter(|k| k.is_finite()) {
        out.push(say![
            " \u{b7} ",
            show.fixed(Kind::Temperature, k, 0, key("material_k"))
        ]);
    }
    out
}

/// Words for a confidence; bounds are for reading only, no decision rests on them.
fn confidence_word(confidence: f64) -> &'static str {
    if confidence >= 0.97 {
        "very sure"
    } else if confidence >= 0.9 {
        "sure"
    } else if confidence >= 0.7 {
        "fairly sure"
    } else {
        "open"
    }
}

/// Numbers worth carrying away, as far as the group has them.
fn facts(s: &Subject) -> Vec<(&'static str, Sentence)> {
    let g: &GroupFinding = s.group;
    let mut out = Vec::new();
    if let Some(window) = &g.window {
        if let Some(lower) = window.lower_pa {
            let half = window
                .lower_interval_pa
                .map_or(0.0, |i| 0.5 * (i.high - i.low));
            let from = s
                .show
                .rounded(Kind::Pressure, lower, half, s.group_key("window/lower_pa"));
            out.push(("Tails gone from", from));
        }
        let i = window.upper_interval_pa;
        let to = s.show.rounded(
            Kind::Pressure,
            window.upper_pa,
            0.5 * (i.high - i.low),
            s.group_key("window/upper_pa"),
        );
        out.push((upper_name(window.upper_limit), to));
    }
    let set = pressure_to_set(s.findings, s.verdict.group_index);
    if let (Some(set), Ok(curve)) = (set, &g.curve) {
        let q = curve.flow_at(set);
        let key = |m: &str| s.group_key(&format!("flow_at_recommended_m3_per_s/{m}"));
        out.push((
            "Flow as set",
            s.show.plus_minus(
                Kind::Flow,
                (q.value, key("value")),
                (q.expanded_95(), key("expanded_95")),
            ),
        ));
    }
    out
}

const fn upper_name(limit: crate::analysis::window::UpperLimit) -> &'static str {
    use crate::analysis::window::UpperLimit;
    match limit {
        UpperLimit::Supply => "Rig holds",
        UpperLimit::SupplyComputed => "Rig would hold",
        UpperLimit::WorkingPressure => "Lowest rating",
        UpperLimit::CoatingLimit => "Coating allows",
        UpperLimit::Runs => "Runs begin at",
        UpperLimit::HighestTried => "Tried up to",
    }
}
