//! Reading of `session.toml`: what is accepted, and every refusal with its whole message.

use super::read;
use crate::recording::fault::FileFaults;
use crate::recording::settings::{Settings, Tap};

#[track_caller]
fn check_refused(text: &str, message: &str) {
    let faults = read(text.as_bytes()).expect_err("must be refused");
    let file = "session.toml".to_owned();
    assert_eq!(FileFaults { file, faults }.to_string(), message);
}

#[track_caller]
fn accept(text: &str) -> Settings {
    match read(text.as_bytes()) {
        Ok(settings) => settings,
        Err(faults) => panic!("{faults:?}"),
    }
}

#[test]
fn every_key_is_read_into_si() {
    let settings = accept(
        r#"
date = "2024-04-27"
started_at = "2024-04-27T11:45:08+01:00"
rig = "bench pump"
tap = "gun_inlet"
simulated = true
[flow_meter]
pulses_per_litre = 2952.0
std_uncertainty_pct = 1.0
lowest_calibrated_hz = 4
[pressure_sensor]
full_scale_bar = 160
accuracy_pct_of_full_scale = 1.0
[[material]]
name = "hull primer"
density_kg_m3 = 1213
volume_solids_pct = 38
max_thinner_pct = 5
max_pressure_bar = 200
max_temperature_c = 35
[[material.viscosity]]
temperature_c = 20
shear_rate_per_s = 100
viscosity_mpa_s = 900
[[tip]]
code = "415"
orifice_thou = 15
fan_width_mm = 203
reference_distance_mm = 305
hours_used_h = 2
family = "standard"
[limits]
working_pressure_bar = 145
power_w = 1_600
battery_v = 36.0
battery_ah = 7
hose_length_m = 2.4
hose_bore_mm = 6.4
"#,
    );
    assert_eq!(settings.date.as_deref(), Some("2024-04-27"));
    // 2024-04-27T10:45:08Z (`date -u -d ... +%s`).
    assert_eq!(settings.started_at_unix_s, Some(1_714_214_708.0));
    assert_eq!(settings.utc_offset_s, Some(3600.0));
    assert_eq!((settings.tap, settings.is_simulated), (Tap::GunInlet, true));
    assert_eq!(settings.flow_meter.k_factor_per_m3, Some(2_952_000.0));
    assert_eq!(settings.flow_meter.u_k_factor_ratio, Some(0.01));
    assert_eq!(settings.pressure_sensor.full_scale_pa, Some(1.6e7));
    assert_eq!(
        settings.pressure_sensor.accuracy_ratio_of_full_scale,
        Some(0.01)
    );
    let primer = &settings.materials[0];
    assert_eq!(primer.volume_solids_ratio, Some(0.38));
    assert_eq!(primer.max_pressure_pa, Some(2.0e7));
    assert_eq!(primer.viscosity[0].temperature_k, 293.15);
    assert!((primer.viscosity[0].dynamic_viscosity_pa_s - 0.9).abs() < 1e-15);
    let tip = &settings.tips[0];
    assert!((tip.orifice_diameter_m.unwrap() - 3.81e-4).abs() < 1e-15);
    assert_eq!(tip.used_s, Some(7200.0));
    assert_eq!(settings.limits.power_w, Some(1600.0));
    assert_eq!(settings.limits.battery_a_s, Some(25_200.0));
    assert!(settings.unknown_keys.is_empty());
}

#[test]
fn dates_may_be_written_without_quotation_marks() {
    let settings = accept("date = 2024-04-27\nstarted_at = 2024-04-27T11:45:08-05:30\n");
    assert_eq!(settings.date.as_deref(), Some("2024-04-27"));
    assert_eq!(settings.utc_offset_s, Some(-19_800.0));
}

#[test]
fn nothing_known_is_a_session_too() {
    assert_eq!(accept(""), Settings::default());
    assert_eq!(accept("# nothing yet\n"), Settings::default());
}

#[test]
fn unknown_keys_are_kept_in_order() {
    let settings = accept(
        "weather = \"dry\"\n[limits]\npower_w = 5\nworking_pressure_psi = 2000\n[[tip]]\ncode = \"415\"\nshop = [1, 2]\n[other]\na = 1\n[[more]]\nb = \"x\"\n",
    );
    let expected = [
        ("weather", "\"dry\""),
        ("limits.working_pressure_psi", "2000"),
        ("tip[1].shop", "[1, 2]"),
        ("other.a", "1"),
        ("more[1].b", "\"x\""),
    ];
    let found: Vec<_> = settings
        .unknown_keys
        .iter()
        .map(|(k, v)| (k.as_str(), v.as_str()))
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn a_wrong_type_is_named_with_its_line() {
    check_refused(
        "rig = 3\n[limits]\npower_w = \"1600\"\n[[tip]]\ncode = 415\n",
        "session.toml, line 1, key rig: a number, a text in quotation marks is needed\n\
         session.toml, line 5, key tip[1].code: a number, a text in quotation marks is needed\n\
         session.toml, line 3, key limits.power_w: a text, a number is needed",
    );
    check_refused(
        "flow_meter = 3\ntip = \"415\"\nmaterial = [1]\nsimulated = 1\n",
        "session.toml, line 4, key simulated: a number, true or false is needed\n\
         session.toml, line 1, key flow_meter: a number, a table is needed\n\
         session.toml, line 3, key material: a number, a list of tables is needed\n\
         session.toml, line 2, key tip: a text, a list of tables is needed",
    );
}

#[test]
fn values_that_cannot_be_are_refused() {
    check_refused(
        "tap = \"gun\"\ndate = \"27.4.2024\"\nstarted_at = \"2024-04-27T11:45:08\"\n",
        "session.toml, line 3, key started_at: \"2024-04-27T11:45:08\" is not a date-time with its offset from \
         UTC, such as 2024-05-03T14:20:00+02:00\n\
         session.toml, line 2, key date: \"27.4.2024\" is not a date, such as 2024-05-03\n\
         session.toml, line 1, key tap: \"gun\" is not one of pump_outlet, gun_inlet",
    );
    check_refused(
        "[flow_meter]\npulses_per_litre = 0\nstd_uncertainty_pct = 101\nlowest_calibrated_hz = inf\n",
        "session.toml, line 2, key flow_meter.pulses_per_litre: 0 is not above 0\n\
         session.toml, line 3, key flow_meter.std_uncertainty_pct: 101 is outside 0 to 100\n\
         session.toml, line 4, key flow_meter.lowest_calibrated_hz: \"inf\" is not a number (the decimal sign is \".\")",
    );
}

#[test]
fn contradictions_and_gaps_in_lists_are_refused() {
    check_refused(
        "[[tip]]\ncode = \"415\"\norifice_mm = 0.381\norifice_thou = 19\n[[tip]]\ncode = \"415\"\n[[tip]]\nfan_width_mm = 3\n",
        "session.toml, line 4, key tip[1].orifice_thou: disagrees with orifice_mm: 19 against 15\n\
         session.toml, line 6, key tip[2].code: \"415\" stands twice in the list\n\
         session.toml, line 7, key tip[3].code: missing in this entry",
    );
}

#[test]
fn what_is_no_toml_is_named_with_its_line() {
    check_refused(
        "rig = \"a\"\nthis is a letter\n",
        "session.toml, line 2: not TOML: key with no value, expected `=`",
    );
    check_refused(
        "rig = \"a\"\nrig = \"b\"\n",
        "session.toml, line 2: not TOML: duplicate key",
    );
}

#[test]
fn a_rating_in_psi_is_refused_before_it_guards_nothing() {
    check_refused(
        "[pressure_sensor]\nfull_scale_bar = 5000\n[limits]\nworking_pressure_bar = 3000.0\n",
        "session.toml, line 2, key pressure_sensor.full_scale_bar: 5000 is outside 1 to 1000\n\
         session.toml, line 4, key limits.working_pressure_bar: 3000 is outside 1 to 1000",
    );
    let rated = accept("[limits]\nworking_pressure_bar = 500\n").limits;
    assert_eq!(rated.working_pressure_pa, Some(5.0e7));
}
