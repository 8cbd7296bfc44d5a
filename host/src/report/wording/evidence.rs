//! Evidence codes as sentences: what was measured, and what it was held against.

use super::super::number::Kind;
use super::super::piece::{Sentence, say};
use super::{Subject, capitalised, humanise};
use crate::analysis::thresholds::SAG_DOUBT_RATIO;
use crate::analysis::verdict::Evidence;

/// How a code is shown.
struct Row {
    code: &'static str,
    kind: Kind,
    before: &'static str,
    after: &'static str,
    /// Words before the threshold; empty when it is not shown.
    against: &'static str,
    anchor: &'static str,
}

const fn row(
    code: &'static str,
    kind: Kind,
    before: &'static str,
    after: &'static str,
    against: &'static str,
    anchor: &'static str,
) -> Row {
    Row {
        code,
        kind,
        before,
        after,
        against,
        anchor,
    }
}

/// Every code that the rules of the verdict use, and the words for it.
const ROWS: &[Row] = &[
    row(
        "held_pressure_pa",
        Kind::Pressure,
        "At full control the rig holds ",
        " with this tip while spraying",
        "",
        "supply",
    ),
    row(
        "held_pressure_computed_pa",
        Kind::Pressure,
        "At full control the rig would hold ",
        " with this tip while spraying, computed from what it held with other tips",
        "",
        "supply",
    ),
    row(
        "lowest_tail_free_pa",
        Kind::Pressure,
        "The tails are gone from ",
        "",
        "",
        "tails",
    ),
    row(
        "highest_with_tails_pa",
        Kind::Pressure,
        "Tails still at ",
        ", the highest pressure graded",
        "",
        "tails",
    ),
    row(
        "lowest_without_tails_pa",
        Kind::Pressure,
        "No tails even at ",
        ", the lowest pressure graded",
        "",
        "tails",
    ),
    row(
        "sag_ratio",
        Kind::Percent,
        "Pressure drops by ",
        " from trigger shut to spraying at full control",
        "",
        "supply",
    ),
    row(
        "temperature_change_k",
        Kind::TemperatureDifference,
        "The coating's temperature differs by ",
        " between the two states",
        "counts from ",
        "groups",
    ),
    row(
        "cold_over_warm_flow_ratio",
        Kind::Percent,
        "Cold, it passes ",
        " of the flow it passes warm at the same pressure",
        "no change is ",
        "moved",
    ),
    row(
        "flow_ratio_to_baseline",
        Kind::Percent,
        "At the same pressure the tip passes ",
        " of its earlier flow",
        "held against ",
        "moved",
    ),
    row(
        "held_pressure_ratio",
        Kind::Percent,
        "At the same control position the rig holds ",
        " of the pressure it held earlier",
        "a fall counts below ",
        "moved",
    ),
    row(
        "supply_voltage_ratio",
        Kind::Percent,
        "The supply voltage under load is ",
        " of what it was at the start",
        "a weak battery counts below ",
        "moved",
    ),
    row(
        "orifice_ratio",
        Kind::Percent,
        "The orifice measures ",
        " of its stamped diameter",
        "worn counts above ",
        "curves",
    ),
    row(
        "tail_free_bursts_that_ran_ratio",
        Kind::Percent,
        "The coat ran in ",
        " of the bursts without tails",
        "held against ",
        "bursts",
    ),
    row(
        "recommended_pa",
        Kind::Pressure,
        "Lowest tail-free pressure plus a margin: ",
        "",
        "",
        "method",
    ),
    row(
        "stalled_would_clear_probability",
        Kind::Percent,
        "Chance that the pressure before the trigger opens would clear the tails, if it held: ",
        "",
        "decided at ",
        "method",
    ),
];

/// Words for a sag that is none: "drops by -1 %" would be no sentence.
fn no_drop(sag_ratio: f64) -> Option<&'static str> {
    if sag_ratio > 0.0 {
        None
    } else if sag_ratio > -SAG_DOUBT_RATIO {
        Some("Pressure does not drop from trigger shut to spraying at full control.")
    } else {
        Some(
            "Pressure is higher while spraying at full control than with the trigger shut: it had not come up when \
             the trigger opened, so what it drops by is not known.",
        )
    }
}

/// One evidence line, with a link to the figure or table it stands in.
pub(crate) fn evidence(s: &Subject, index: usize, e: &Evidence) -> (Sentence, &'static str) {
    if e.code == "sag_ratio"
        && let Some(words) = no_drop(e.value)
    {
        return (Sentence::from(words), "supply");
    }
    let known = ROWS.iter().find(|r| r.code == e.code);
    let kind = known.map_or_else(|| kind_by_suffix(&e.code), |r| r.kind);
    let key = |member: &str| s.key(&format!("evidence/{index}/{member}"));
    let half = e
        .low
        .zip(e.high)
        .map_or(0.0, |(low, high)| 0.5 * (high - low));
    let mut out = Sentence::default();
    match known {
        Some(r) => out.push(r.before),
        None => out.push(format!("{}: ", capitalised(&humanise(&e.code)))),
    }
    out.push(if e.code.ends_with("_probability") {
        s.show.probability(e.value, key("value"))
    } else if e.code == "recommended_pa" {
        // Rounded as the pressure to set is shown everywhere else.
        let most = s.group.window.as_ref().map(|w| w.upper_pa);
        s.show.setting(e.value, most, key("value"))
    } else {
        s.show.rounded(kind, e.value, half, key("value"))
    });
    if let (Some(low), Some(high)) = (e.low, e.high)
        && low.is_finite()
        && high.is_finite()
    {
        let range = s
            .show
            .between(kind, (low, key("low_95")), (high, key("high_95")));
        out.push(say![" (", range, ")"]);
    }
    if let Some(r) = known {
        out.push(r.after);
    }
    let against = known.map_or("held against ", |r| r.against);
    if let Some(threshold) = e.threshold.filter(|t| t.is_finite())
        && !against.is_empty()
    {
        let limit = s.show.plain(kind, threshold, key("threshold"));
        out.push(say!["; ", against, limit]);
    }
    out.push(".");
    (out, known.map_or("method", |r| r.anchor))
}

/// What a code that is not in the table is, by the unit in its name.
fn kind_by_suffix(code: &str) -> Kind {
    [
        ("_m3_per_s", Kind::Flow),
        ("_pa", Kind::Pressure),
        ("_ratio", Kind::Percent),
        ("_probability", Kind::Percent),
        ("_hz", Kind::Frequency),
        ("_k", Kind::TemperatureDifference),
        ("_v", Kind::Voltage),
        ("_w", Kind::Power),
        ("_s", Kind::Time),
    ]
    .iter()
    .find(|(suffix, _)| code.ends_with(suffix))
    .map_or(Kind::Plain, |(_, kind)| *kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rise_beyond_doubt_is_not_told_as_no_drop() {
        assert_eq!(no_drop(0.01), None);
        let begins = |sag, words| no_drop(sag).is_some_and(|text: &str| text.starts_with(words));
        assert!(begins(0.0, "Pressure does not drop"));
        assert!(begins(-0.019, "Pressure does not drop"));
        assert!(begins(-0.021, "Pressure is higher while spraying"));
    }
}
