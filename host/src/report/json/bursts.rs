//! Bursts, notes and how they were matched.

use serde::Serialize;

use super::{Value, finite, finite_or_none};
use crate::analysis::steady::Exclusion;
use crate::findings::{BurstFinding, Findings};
use crate::recording::notes::NoteTime;

#[derive(Debug, Serialize)]
pub(crate) struct Burst {
    number: usize,
    start_s: Option<f64>,
    end_s: Option<f64>,
    duration_s: Option<f64>,
    u_time_s: Option<f64>,
    steady_from_s: Option<f64>,
    steady_to_s: Option<f64>,
    pressure_pa: Option<Value>,
    flow_m3_per_s: Option<Value>,
    flow_is_bound: bool,
    stalled_pa: Option<f64>,
    sag_ratio: Option<f64>,
    stroke_rate_hz: Option<f64>,
    ripple_pa: Option<f64>,
    supply_v: Option<f64>,
    supply_a: Option<f64>,
    material_k: Option<f64>,
    n_edges: usize,
    tip: Option<String>,
    tip_family: Option<String>,
    material: Option<String>,
    thinner_ratio: Option<f64>,
    dial: Option<String>,
    strained: Option<bool>,
    tails: Option<u8>,
    runs: Option<bool>,
    comb_m: Option<f64>,
    group_index: Option<usize>,
    note_indices: Vec<usize>,
    is_used: bool,
    exclusion: Option<ExclusionJson>,
}

/// Why a burst is not used: `reason` is the word, its numbers stand beside it.
#[derive(Debug, Serialize)]
struct ExclusionJson {
    reason: &'static str,
    steady_s: Option<f64>,
    needed_s: Option<f64>,
    drift_ratio: Option<f64>,
    n_edges: Option<usize>,
    from_s: Option<f64>,
    code: Option<String>,
}

impl ExclusionJson {
    fn new(exclusion: &Exclusion) -> Self {
        let word = |reason| Self {
            reason,
            steady_s: None,
            needed_s: None,
            drift_ratio: None,
            n_edges: None,
            from_s: None,
            code: None,
        };
        match exclusion {
            Exclusion::TooShort { steady_s, needed_s } => Self {
                steady_s: finite(*steady_s),
                needed_s: finite(*needed_s),
                ..word("too_short")
            },
            Exclusion::NotSteady { drift_ratio } => Self {
                drift_ratio: finite(*drift_ratio),
                ..word("not_steady")
            },
            Exclusion::TooFewEdges { n_edges } => Self {
                n_edges: Some(*n_edges),
                ..word("too_few_edges")
            },
            Exclusion::Gap { from_s } => Self {
                from_s: finite(*from_s),
                ..word("gap")
            },
            Exclusion::Health { code } => Self {
                code: Some(code.clone()),
                ..word("health")
            },
            Exclusion::Sync => word("sync"),
            Exclusion::NoNote => word("no_note"),
            Exclusion::AmbiguousNote => word("ambiguous_note"),
            Exclusion::NotNoted => word("not_noted"),
        }
    }
}

/// A note as read, with what it was matched to.
#[derive(Debug, Serialize)]
pub(crate) struct Note {
    number: usize,
    line: usize,
    time: NoteTimeJson,
    tip: Option<String>,
    tip_family: Option<String>,
    material: Option<String>,
    thinner_ratio: Option<f64>,
    dial: Option<String>,
    tails: Option<u8>,
    runs: Option<bool>,
    comb_m: Option<f64>,
    strained: Option<bool>,
    catch_kg: Option<f64>,
    catch_s: Option<f64>,
    event: Option<String>,
    text: Option<String>,
    burst_index: Option<usize>,
    burst_number: Option<usize>,
    t_s: Option<f64>,
    other_burst_index: Option<usize>,
    other_burst_number: Option<usize>,
    is_ambiguous: bool,
}

#[derive(Debug, Serialize)]
struct NoteTimeJson {
    kind: &'static str,
    unix_s: Option<f64>,
    since_midnight_s: Option<f64>,
    logger_s: Option<f64>,
    resolution_s: Option<f64>,
    text: String,
}

impl NoteTimeJson {
    fn new(time: &NoteTime) -> Self {
        let text = crate::report::wording::note_time(time);
        let word = |kind| Self {
            kind,
            unix_s: None,
            since_midnight_s: None,
            logger_s: None,
            resolution_s: None,
            text,
        };
        match *time {
            NoteTime::Absolute {
                unix_s,
                resolution_s,
            } => Self {
                unix_s: finite(unix_s),
                resolution_s: finite(resolution_s),
                ..word("absolute")
            },
            NoteTime::Clock {
                since_midnight_s,
                resolution_s,
            } => Self {
                since_midnight_s: finite(since_midnight_s),
                resolution_s: finite(resolution_s),
                ..word("clock")
            },
            NoteTime::About { since_midnight_s } => Self {
                since_midnight_s: finite(since_midnight_s),
                ..word("about")
            },
            NoteTime::Logger { t_s } => Self {
                logger_s: finite(t_s),
                ..word("logger")
            },
            NoteTime::OrderedOnly => word("ordered_only"),
        }
    }
}

#[derive(Debug, Serialize)]
pub(crate) struct Alignment {
    cost: Option<f64>,
    runner_up_cost: Option<f64>,
    clock_offset_s: Option<f64>,
    u_clock_offset_s: Option<f64>,
    expanded_95_clock_offset_s: Option<f64>,
    is_start_known: bool,
    n_matched: usize,
    n_ambiguous: usize,
    n_unmatched: usize,
    sync_bursts: Vec<usize>,
    is_ambiguous: bool,
}

impl Alignment {
    pub(crate) fn new(f: &Findings) -> Self {
        let a = &f.alignment;
        let count = |test: fn(&crate::analysis::align::NoteMatch) -> bool| {
            a.matches.iter().filter(|m| test(m)).count()
        };
        Self {
            cost: finite(a.cost),
            runner_up_cost: finite_or_none(a.runner_up_cost),
            clock_offset_s: finite_or_none(a.clock_offset_s),
            u_clock_offset_s: finite_or_none(a.u_clock_offset_s),
            expanded_95_clock_offset_s: finite_or_none(a.u_clock_offset_s.map(|u| 2.0 * u)),
            is_start_known: a.is_start_known,
            n_matched: count(|m| m.burst_index.is_some() && !m.is_ambiguous),
            n_ambiguous: count(|m| m.is_ambiguous),
            n_unmatched: count(|m| m.burst_index.is_none() && !m.is_ambiguous),
            sync_bursts: a.sync_bursts.clone(),
            is_ambiguous: a.is_ambiguous,
        }
    }
}

/// Bursts in order of time; `number` counts from 1, as the page does.
pub(crate) fn mirror(f: &Findings) -> Vec<Burst> {
    f.bursts
        .iter()
        .enumerate()
        .map(|(i, b)| mirror_one(i, b))
        .collect()
}

fn mirror_one(index: usize, b: &BurstFinding) -> Burst {
    let (s, set) = (&b.steady, &b.setting);
    Burst {
        number: index + 1,
        start_s: finite(b.burst.start_s),
        end_s: finite(b.burst.end_s),
        duration_s: finite(b.burst.duration_s()),
        u_time_s: finite(b.burst.u_time_s),
        steady_from_s: finite(s.from_s),
        steady_to_s: finite(s.to_s),
        pressure_pa: s.pressure_pa.as_ref().map(Value::from),
        flow_m3_per_s: s.flow_m3_per_s.as_ref().map(Value::from),
        flow_is_bound: s.flow_is_bound,
        stalled_pa: finite_or_none(s.stalled_pa),
        sag_ratio: finite_or_none(s.sag_ratio),
        stroke_rate_hz: finite_or_none(s.stroke_rate_hz),
        ripple_pa: finite_or_none(s.ripple_pa),
        supply_v: finite_or_none(s.supply_v),
        supply_a: finite_or_none(s.supply_a),
        material_k: finite_or_none(s.material_k),
        n_edges: s.n_edges,
        tip: set.tip.clone(),
        tip_family: set.tip_family.clone(),
        material: set.material.clone(),
        thinner_ratio: finite_or_none(set.thinner_ratio),
        dial: set.dial.clone(),
        strained: set.strained,
        tails: b.tails,
        runs: b.runs,
        comb_m: finite_or_none(b.comb_m),
        group_index: b.group_index,
        note_indices: b.note_indices.clone(),
        is_used: s.exclusion.is_none(),
        exclusion: s.exclusion.as_ref().map(ExclusionJson::new),
    }
}

/// Notes in the order of the file, each with its match.
pub(crate) fn mirror_notes(f: &Findings) -> Vec<Note> {
    f.notes
        .iter()
        .enumerate()
        .map(|(i, n)| {
            let m = f.alignment.matches.iter().find(|m| m.note_index == i);
            let burst_index = m.and_then(|m| m.burst_index);
            let other_burst_index = m.and_then(|m| m.other_burst_index);
            Note {
                number: i + 1,
                line: n.line,
                time: NoteTimeJson::new(&n.time),
                tip: n.tip.clone(),
                tip_family: n.tip_family.clone(),
                material: n.material.clone(),
                thinner_ratio: finite_or_none(n.thinner_ratio),
                dial: n.dial.clone(),
                tails: n.tails,
                runs: n.runs,
                comb_m: finite_or_none(n.comb_m),
                strained: n.strained,
                catch_kg: finite_or_none(n.catch_kg),
                catch_s: finite_or_none(n.catch_s),
                event: n.event.clone(),
                text: n.text.clone(),
                burst_index,
                burst_number: burst_index.map(|b| b + 1),
                t_s: finite_or_none(m.and_then(|m| m.t_s)),
                other_burst_index,
                other_burst_number: other_burst_index.map(|b| b + 1),
                is_ambiguous: m.is_some_and(|m| m.is_ambiguous),
            }
        })
        .collect()
}
