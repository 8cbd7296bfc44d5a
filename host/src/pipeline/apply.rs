//! What the recording says beside its curves: the air against the dew point, catches against the meter.

use crate::analysis::calibration::k_factor::{CatchConditions, TimedCatch, metered_over_caught};
use crate::analysis::dew_point::{MARGIN_K, find_dew_point};
use crate::analysis::signal::{FlowMeter, Series, Signal};
use crate::estimate::Estimate;
use crate::findings::{Air, BurstFinding, CatchCheck};
use crate::recording::notes::Note;
use crate::recording::settings::Settings;

/// Standard uncertainty of a logger's air thermometer in a workshop, K (common practice, no source).
const U_AIR_K: f64 = 0.3;
/// The same of its hygrometer, 0 to 1 (common practice, no source).
const U_HUMIDITY: f64 = 0.02;
/// Standard uncertainty of one weighing of a catch: reading, drips, splash (common practice, no source).
const U_CAUGHT_KG: f64 = 0.002;
/// Standard uncertainty of a stopwatch in the hand, begin and end together (common practice, no source).
const U_CATCH_S: f64 = 0.2;
/// Relative standard uncertainty of a kitchen scale (common practice, no source).
const U_SCALE_RATIO: f64 = 0.002;
/// Relative standard uncertainty of a data sheet's density.
const U_DENSITY_RATIO: f64 = 0.01;

/// Mean air, its dew point and the least surface temperature; `None` where either channel is missing or
/// out of range.
pub(super) fn air(signal: &Signal) -> Option<Air> {
    let air_k = mean(&signal.slow.air_k, U_AIR_K)?;
    let humidity_ratio = mean(&signal.slow.rh_ratio, U_HUMIDITY)?;
    let dew_point_k = find_dew_point(air_k, humidity_ratio).ok()?;
    Some(Air {
        air_k,
        humidity_ratio,
        dew_point_k,
        least_surface_k: dew_point_k.value + dew_point_k.expanded_95() + MARGIN_K,
    })
}

/// Mean of a channel over the recording. What it varied by counts as independent, the sensor as common.
fn mean(series: &Series, u_sensor: f64) -> Option<Estimate> {
    let values: Vec<f64> = series
        .value
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let n = values.len() as f64;
    if values.is_empty() {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
    Some(Estimate::new(mean, variance.sqrt(), u_sensor))
}

/// Each noted catch of a burst against what the meter says of that burst.
///
/// A catch with thinner in the coating uses the coating's own density with an uncertainty that covers
/// a thinner of 800 kg/m3 in that share.
pub(super) fn check_catches(
    settings: &Settings,
    notes: &[Note],
    bursts: &[BurstFinding],
    meter: &FlowMeter,
) -> Vec<CatchCheck> {
    let noted = bursts.iter().enumerate().flat_map(|(burst_index, burst)| {
        let notes_of = burst.note_indices.iter().copied();
        notes_of.map(move |note_index| (burst_index, burst, note_index))
    });
    noted
        .filter_map(|(burst_index, burst, note_index)| {
            let note = notes.get(note_index)?;
            let caught_kg = note.catch_kg?;
            Some(CatchCheck {
                note_index,
                burst_index,
                metered_over_caught: check_one(settings, burst, caught_kg, note.catch_s, meter),
            })
        })
        .collect()
}

fn check_one(
    settings: &Settings,
    burst: &BurstFinding,
    caught_kg: f64,
    duration_s: Option<f64>,
    meter: &FlowMeter,
) -> Result<Estimate, String> {
    let duration_s = duration_s.ok_or("the catch has no duration; add catch_s to its note")?;
    let metered = burst
        .steady
        .flow_m3_per_s
        .filter(|_| !burst.steady.flow_is_bound)
        .ok_or("the meter gave no flow for this burst; catch a longer pull")?;
    let coating = burst.setting.material.as_deref().unwrap_or_default();
    let density = settings
        .materials
        .iter()
        .find(|m| m.name == coating)
        .and_then(|m| m.density_kg_per_m3)
        .ok_or_else(|| {
            format!("the density of {coating} is not known; add density_kg_m3 to session.toml")
        })?;
    let thinner = burst.setting.thinner_ratio.unwrap_or(0.0).clamp(0.0, 1.0);
    let thinned = (density + thinner * 800.0) / (1.0 + thinner);
    let u_density = (U_DENSITY_RATIO * density).hypot((density - thinned) / 3f64.sqrt());
    let one = TimedCatch {
        caught_kg,
        u_caught_kg: U_CAUGHT_KG,
        duration_s,
        u_duration_s: U_CATCH_S,
        n_edges: 0,
    };
    let conditions = CatchConditions {
        density_kg_per_m3: Estimate::new(thinned, 0.0, u_density),
        u_scale_ratio: U_SCALE_RATIO,
    };
    let metered = Estimate {
        u_common: metered.value * meter.u_pulse_volume_ratio,
        ..metered
    };
    metered_over_caught(metered, &one, &conditions).map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::group::Setting;
    use crate::recording::settings::Material;

    fn series(value: &[f64]) -> Series {
        Series {
            t_s: (0..value.len()).map(|i| i as f64).collect(),
            value: value.to_vec(),
        }
    }

    #[test]
    fn a_surface_must_be_three_kelvin_and_the_doubt_above_the_dew_point() {
        let mut signal = Signal::default();
        assert_eq!(air(&signal), None);
        signal.slow.air_k = series(&[293.15, 293.15, f64::NAN]);
        signal.slow.rh_ratio = series(&[0.5, 0.5]);
        let a = air(&signal).unwrap();
        // 20 degrees Celsius and 50 %: 9.27 degrees Celsius (WMO-No. 8, annex 4.B, worked by hand).
        assert!((a.dew_point_k.value - 273.15 - 9.27).abs() < 0.05, "{a:?}");
        let expected = a.dew_point_k.value + a.dew_point_k.expanded_95() + 3.0;
        assert!((a.least_surface_k - expected).abs() < 1e-9);
        signal.slow.rh_ratio = series(&[-1.0]);
        assert_eq!(air(&signal), None);
    }

    fn burst(flow_l_min: Option<f64>) -> BurstFinding {
        let steady = crate::analysis::steady::SteadyMeasurement {
            flow_m3_per_s: flow_l_min.map(|q| Estimate::new(q / 6e4, q / 6e6, 0.0)),
            ..crate::analysis::steady::SteadyMeasurement::default()
        };
        BurstFinding {
            burst: crate::analysis::burst::Burst::default(),
            steady,
            setting: Setting {
                material: Some("cabin enamel".into()),
                ..Setting::default()
            },
            note_indices: vec![0],
            tails: None,
            runs: None,
            comb_m: None,
            group_index: None,
        }
    }

    fn check(
        settings: &Settings,
        flow: Option<f64>,
        catch_s: Option<f64>,
    ) -> Result<Estimate, String> {
        let note = Note {
            catch_kg: Some(0.2),
            catch_s,
            ..Note::default()
        };
        let list = check_catches(settings, &[note], &[burst(flow)], &FlowMeter::default());
        assert_eq!(list.len(), 1);
        list[0].metered_over_caught.clone()
    }

    #[test]
    fn a_catch_is_held_against_the_meter_or_says_what_is_missing() {
        let mut settings = Settings::default();
        let without = check(&settings, Some(1.0), Some(10.0)).unwrap_err();
        assert!(without.contains("density_kg_m3"), "{without}");
        settings.materials.push(Material {
            name: "cabin enamel".into(),
            density_kg_per_m3: Some(1200.0),
            ..Material::default()
        });
        // 0.2 kg in 10 s at 1.2 kg/L are 1 L/min.
        let ratio = check(&settings, Some(1.0), Some(10.0)).unwrap();
        assert!((ratio.value - 1.0).abs() < 0.002, "{ratio:?}");
        assert!(ratio.interval_95().contains(1.0));
        let off = check(&settings, Some(1.2), Some(10.0)).unwrap();
        assert!(!off.interval_95().contains(1.0), "{off:?}");
        assert!(
            check(&settings, None, Some(10.0))
                .unwrap_err()
                .contains("longer")
        );
        assert!(
            check(&settings, Some(1.0), None)
                .unwrap_err()
                .contains("catch_s")
        );
        assert!(check(&settings, Some(1.0), Some(0.0)).is_err());
    }
}
