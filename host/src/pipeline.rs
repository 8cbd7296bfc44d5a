//! A recording to its findings: the order of the steps, nothing else.
//!
//! 1. [`signal_of`]: codes or rows to one signal in SI.
//! 2. Zero, bursts, health.
//! 3. Each burst's steady means.
//! 4. Notes to bursts ([`notes_of`]), settings carried forward.
//! 5. Groups ([`states`]): one nozzle curve each, parted where temperature or the curve itself stepped.
//! 6. Supply, tail threshold, window, verdict ([`conclude`]).
//! 7. Air and timed catches ([`apply`]).

mod apply;
pub mod class_of;
mod clock_of;
pub mod compare_days;
mod conclude;
pub mod endurance_of;
mod energy_of;
mod notes_of;
pub mod plan_box;
pub mod plan_job;
pub mod plan_tip;
mod signal_of;
mod slips;
mod states;
pub mod summarise;

pub(crate) use notes_of::setting_cells;
pub(crate) use signal_of::{flow_meter, pressure_sensor};

use crate::analysis::align::{Alignment, align_notes};
use crate::analysis::burst::{Burst, detect_bursts};
use crate::analysis::group::{Setting, carry_forward};
use crate::analysis::health::{self, Defect, DefectKind};
use crate::analysis::nozzle_curve::CommonUncertainty;
use crate::analysis::signal::Signal;
use crate::analysis::steady::{Exclusion, SteadyMeasurement, measure_burst};
use crate::estimate::Estimate;
use crate::findings::{BurstFinding, Findings};
use crate::processors::on_all_processors;
use crate::recording::Recording;
use crate::recording::notes::{Note, in_force};

/// What the signal alone says: bursts with their means, zero and health.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The signal; a live page keeps only what its sensors are.
    pub signal: Signal,
    /// Zero to take off every pressure, Pa.
    pub zero_pa: Estimate,
    /// Bursts in order of time.
    pub bursts: Vec<Burst>,
    /// Their means, zero taken off; as long.
    pub steady: Vec<SteadyMeasurement>,
    /// Health.
    pub defects: Vec<Defect>,
}

/// Fewer bursts than this are measured sooner than threads are started and transforms planned on each.
const FEWEST_TO_SHARE_OUT: usize = 64;

/// Everything that can be found in one recording.
///
/// Never fails: what cannot be found is a refusal or a defect inside the findings. Takes the recording: its
/// columns become the signal's, and hours of them are too large to be held twice.
#[must_use]
pub fn analyse(mut recording: Recording) -> Findings {
    let (signal, bounce) = signal_of::signal_of(&mut recording);
    let bursts = detect_bursts(&signal);
    let zero = health::read_zero(&signal);
    let mut defects = health::find_defects(&signal, &bursts, &zero);
    defects.extend(bounce);
    let measure = |b: &Burst| measure_burst(&signal, b, zero.zero_pa.value);
    let steady: Vec<SteadyMeasurement> = if bursts.len() < FEWEST_TO_SHARE_OUT {
        bursts.iter().map(measure).collect()
    } else {
        on_all_processors(&bursts, measure)
    };
    conclude_measured(
        &recording,
        Measured {
            signal,
            zero_pa: zero.zero_pa,
            bursts,
            steady,
            defects,
        },
    )
}

/// The steps after the signal. Reads settings and notes of the recording and none of its data, so
/// that a live page can call it with the bursts that it has measured so far.
#[must_use]
pub fn conclude_measured(recording: &Recording, measured: Measured) -> Findings {
    let settings = &recording.settings;
    // Taken-back notes keep their place and say nothing.
    let notes = in_force(&recording.notes);
    let Measured {
        mut signal,
        zero_pa,
        bursts,
        steady,
        mut defects,
    } = measured;

    let cells: Vec<Setting> = notes.iter().map(notes_of::setting_cells).collect();
    let carried = carry_forward(&cells);
    let align_bursts = notes_of::align_bursts(&bursts, &steady);
    let clock = clock_of::clock_model(recording);
    let (align_list, prior) = notes_of::align_list(recording, clock.as_ref(), &notes, &carried);
    let alignment = align_notes(&align_list, &align_bursts, prior);

    let mut found = note_bursts(&notes, &bursts, steady, &alignment, &carried);
    defects.extend(states::find_scale_change(&found));
    exclude_by_health(&mut found, &defects);
    // A catch judges the meter as it was stated: against one of which nothing is believed it could not disagree.
    let stated_meter = signal.flow_meter;
    if let Some(defect) = slips::implausible_flow(&found, settings, &signal) {
        signal.flow_meter.u_pulse_volume_ratio = signal_of::U_UNKNOWN_METER_RATIO;
        signal.flow_meter.is_nominal = true;
        // The few percent of a nominal constant are not what it is off by.
        defects.retain(|d| d.kind != DefectKind::NominalMeter);
        defects.push(defect);
    }

    let common = common_uncertainty(&signal, zero_pa.u_common, &found);
    let groups = states::form_states(&mut found, &common);
    let concluded = conclude::conclude(conclude::Inputs {
        settings,
        bursts: &found,
        groups,
        defects: &defects,
        alignment: &alignment,
        common: &common,
    });
    let has_electric = !signal.slow.supply_v.value.is_empty();
    let energy = has_electric.then(|| {
        energy_of::energy_of(energy_of::Sources {
            signal: &signal,
            bursts: &found,
            supply: &concluded.supply,
            notes: &notes,
        })
    });
    Findings {
        name: recording.name.clone(),
        is_simulated: recording.is_simulated,
        settings: settings.clone(),
        clock,
        air: apply::air(&signal),
        catches: apply::check_catches(settings, &notes, &found, &stated_meter),
        notes: recording.notes.clone(),
        load_defects: [
            &recording.defects[..],
            &slips::mistyped_tips(&found, settings),
        ]
        .concat(),
        signal,
        zero_pa,
        defects,
        alignment,
        bursts: found,
        groups: concluded.groups,
        supply: concluded.supply,
        verdicts: concluded.verdicts,
        energy,
    }
}

/// Leakage of a positive-displacement meter as a share of the flow it was calibrated at: constant
/// in volume per time, so that it bends the curve at low flow (common practice, no source).
const U_METER_SLIP_RATIO: f64 = 0.005;

fn common_uncertainty(
    signal: &Signal,
    u_pressure_zero_pa: f64,
    found: &[BurstFinding],
) -> CommonUncertainty {
    let flows: Vec<f64> = found
        .iter()
        .filter(|b| b.steady.exclusion.is_none())
        .filter_map(|b| b.steady.flow_m3_per_s.map(|q| q.value))
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let mean_flow = flows.iter().sum::<f64>() / (flows.len() as f64).max(1.0);
    CommonUncertainty {
        u_pressure_zero_pa,
        u_pressure_span_ratio: signal.pressure_sensor.u_span_ratio,
        u_flow_ratio: signal.flow_meter.u_pulse_volume_ratio,
        u_flow_offset_m3_per_s: U_METER_SLIP_RATIO * mean_flow,
    }
}

/// Puts notes to their bursts and says of each burst what was set.
fn note_bursts(
    notes: &[Note],
    bursts: &[Burst],
    steady: Vec<SteadyMeasurement>,
    alignment: &Alignment,
    carried: &[Setting],
) -> Vec<BurstFinding> {
    let mut found: Vec<BurstFinding> = bursts
        .iter()
        .zip(steady)
        .map(|(burst, steady)| BurstFinding {
            burst: *burst,
            steady,
            setting: Setting::default(),
            note_indices: Vec::new(),
            tails: None,
            runs: None,
            comb_m: None,
            group_index: None,
        })
        .collect();
    for m in &alignment.matches {
        let Some(burst) = m.burst_index.and_then(|i| found.get_mut(i)) else {
            continue;
        };
        let note = &notes[m.note_index];
        burst.setting = carried[m.note_index].clone();
        if m.is_ambiguous {
            continue;
        }
        burst.note_indices.push(m.note_index);
        burst.tails = burst.tails.max(note.tails);
        burst.runs = match (burst.runs, note.runs) {
            (Some(a), Some(b)) => Some(a || b),
            (a, b) => a.or(b),
        };
        burst.comb_m = note.comb_m.or(burst.comb_m);
    }
    for i in &alignment.sync_bursts {
        if let Some(burst) = found.get_mut(*i) {
            burst.steady.exclusion.get_or_insert(Exclusion::Sync);
        }
    }
    settle_unnoted(&mut found, alignment);
    for i in &alignment.uncertain_bursts {
        if let Some(burst) = found.get_mut(*i) {
            burst.steady.exclusion = Some(Exclusion::AmbiguousNote);
        }
    }
    found
}

/// A burst without a note takes the setting of its neighbours when both agree on tip and coating;
/// otherwise nobody knows what it was.
fn settle_unnoted(found: &mut [BurstFinding], alignment: &Alignment) {
    let is_noted: Vec<bool> = found.iter().map(|b| b.setting.tip.is_some()).collect();
    for i in 0..found.len() {
        if is_noted[i] || alignment.sync_bursts.contains(&i) {
            continue;
        }
        let before = (0..i).rev().find(|j| is_noted[*j]);
        let after = (i + 1..found.len()).find(|j| is_noted[*j]);
        let neighbours: Vec<Setting> = [before, after]
            .into_iter()
            .flatten()
            .map(|j| found[j].setting.clone())
            .collect();
        let agree = neighbours
            .windows(2)
            .all(|w| w[0].group_key() == w[1].group_key());
        match neighbours.first() {
            Some(setting) if agree => {
                found[i].setting = Setting {
                    dial: None,
                    ..setting.clone()
                };
            }
            Some(_) => {
                found[i].steady.exclusion.get_or_insert(Exclusion::NotNoted);
            }
            None => {
                found[i].steady.exclusion.get_or_insert(Exclusion::NoNote);
            }
        }
    }
}

fn exclude_by_health(found: &mut [BurstFinding], defects: &[Defect]) {
    for burst in found {
        let (from_s, to_s) = (burst.steady.from_s, burst.steady.to_s);
        if let Some(defect) = defects
            .iter()
            .find(|d| d.is_fatal && d.overlaps(from_s, to_s))
        {
            burst.steady.exclusion = Some(Exclusion::Health {
                code: defect_code(defect),
            });
        }
    }
}

/// The defect's stable word, as the JSON writes it.
fn defect_code(defect: &Defect) -> String {
    serde_json::to_value(defect.kind)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}
