//! Settings as the text of a `session.toml`.

use std::fmt::Write;

use super::{FlowMeter, Limits, Material, PressureSensor, Settings, Tap, Tip};
use crate::recording::decimal::decimal;
use crate::recording::notes::write_moment;
use crate::units::{Kelvin, M3_PER_L, Metre, Pascal};

/// A whole `session.toml`. Reading it gives equal settings.
///
/// Unknown keys are written into the table they came from; those of a list that is itself unknown
/// are written as comments, because where its entries begin is not kept.
#[must_use]
pub fn write(settings: &Settings) -> String {
    let mut text = Text {
        text: String::new(),
        unknown: settings.unknown_keys.clone(),
    };
    let offset_s = settings.utc_offset_s.unwrap_or(0.0);
    let started = settings
        .started_at_unix_s
        .map(|s| write_moment(s, offset_s));
    text.word("date", settings.date.as_deref());
    text.word("started_at", started.as_deref());
    text.word("rig", settings.rig.as_deref());
    text.word("tap", Some(tap(settings.tap)));
    if settings.is_simulated {
        text.line("simulated", "true");
    }
    text.unknown_at_top();
    flow_meter(&mut text, &settings.flow_meter);
    pressure_sensor(&mut text, &settings.pressure_sensor);
    for (i, of) in settings.materials.iter().enumerate() {
        material(&mut text, i, of);
    }
    for (i, of) in settings.tips.iter().enumerate() {
        tip(&mut text, i, of);
    }
    limits(&mut text, &settings.limits);
    text.unknown_left_over();
    text.text
}

/// The text as it grows, and the unknown keys that are not yet in it.
struct Text {
    text: String,
    unknown: Vec<(String, String)>,
}

impl Text {
    fn line(&mut self, key: &str, value: &str) {
        // Writing into a string cannot fail.
        let _ = writeln!(self.text, "{key} = {value}");
    }

    fn word(&mut self, key: &str, word: Option<&str>) {
        if let Some(word) = word {
            self.line(key, &quoted(word));
        }
    }

    fn number(&mut self, key: &str, number: Option<f64>) {
        if let Some(number) = number.filter(|n| n.is_finite()) {
            self.line(key, &decimal(number));
        }
    }

    /// A table: its header, what `fill` writes, then the unknown keys it came with. A table in
    /// which nothing is known is not written.
    fn table(&mut self, header: &str, path: &str, is_entry: bool, fill: impl FnOnce(&mut Self)) {
        let before = self.text.len();
        let _ = write!(self.text, "\n{header}\n");
        let begin = self.text.len();
        fill(self);
        self.unknown_of(path);
        if self.text.len() == begin && !is_entry {
            self.text.truncate(before);
        }
    }

    fn unknown_of(&mut self, path: &str) {
        let prefix = format!("{path}.");
        let (here, elsewhere): (Vec<_>, Vec<_>) = std::mem::take(&mut self.unknown)
            .into_iter()
            .partition(|(key, _)| {
                key.strip_prefix(&prefix)
                    .is_some_and(|rest| !rest.contains('['))
            });
        self.unknown = elsewhere;
        for (key, value) in here {
            self.line(key.strip_prefix(&prefix).unwrap_or(&key), &value);
        }
    }

    fn unknown_at_top(&mut self) {
        const TABLES: [&str; 3] = ["flow_meter.", "pressure_sensor.", "limits."];
        let is_at_top =
            |key: &str| !key.contains('[') && !TABLES.iter().any(|t| key.starts_with(t));
        let (here, elsewhere): (Vec<_>, Vec<_>) = std::mem::take(&mut self.unknown)
            .into_iter()
            .partition(|(key, _)| is_at_top(key));
        self.unknown = elsewhere;
        for (key, value) in here {
            self.line(&key, &value);
        }
    }

    fn unknown_left_over(&mut self) {
        for (key, value) in std::mem::take(&mut self.unknown) {
            let value = value.replace('\n', " ");
            let _ = writeln!(self.text, "# {key} = {value}");
        }
    }
}

fn flow_meter(text: &mut Text, meter: &FlowMeter) {
    text.table("[flow_meter]", "flow_meter", false, |t| {
        let per_litre = meter.k_factor_per_m3.map(|k| k * M3_PER_L);
        t.number("pulses_per_litre", per_litre);
        t.number("std_uncertainty_pct", meter.u_k_factor_ratio.map(pct));
        t.number("lowest_calibrated_hz", meter.lowest_calibrated_hz);
    });
}

fn pressure_sensor(text: &mut Text, sensor: &PressureSensor) {
    text.table("[pressure_sensor]", "pressure_sensor", false, |t| {
        t.number("full_scale_bar", sensor.full_scale_pa.map(bar));
        let accuracy = sensor.accuracy_ratio_of_full_scale.map(pct);
        t.number("accuracy_pct_of_full_scale", accuracy);
        t.number("zero_bar", sensor.zero_pa.map(bar));
        t.number("zero_std_uncertainty_bar", sensor.u_zero_pa.map(bar));
        t.number("gain", sensor.gain_ratio);
        t.number("gain_std_uncertainty_pct", sensor.u_gain_ratio.map(pct));
    });
}

fn material(text: &mut Text, index: usize, material: &Material) {
    let path = format!("material[{}]", index + 1);
    text.table("[[material]]", &path, true, |t| {
        t.word("name", Some(&material.name));
        t.number("density_kg_m3", material.density_kg_per_m3);
        t.number("volume_solids_pct", material.volume_solids_ratio.map(pct));
        t.number("max_thinner_pct", material.max_thinner_ratio.map(pct));
        t.number("max_pressure_bar", material.max_pressure_pa.map(bar));
        t.number("max_temperature_c", material.max_temperature_k.map(celsius));
    });
    for (i, reading) in material.viscosity.iter().enumerate() {
        let path = format!("{path}.viscosity[{}]", i + 1);
        text.table("[[material.viscosity]]", &path, true, |t| {
            t.number("temperature_c", Some(celsius(reading.temperature_k)));
            t.number("shear_rate_per_s", reading.shear_rate_per_s);
            t.number(
                "viscosity_mpa_s",
                Some(reading.dynamic_viscosity_pa_s * 1.0e3),
            );
        });
    }
}

fn tip(text: &mut Text, index: usize, tip: &Tip) {
    let path = format!("tip[{}]", index + 1);
    text.table("[[tip]]", &path, true, |t| {
        t.word("code", Some(&tip.code));
        t.word("family", tip.family.as_deref());
        t.number("orifice_mm", tip.orifice_diameter_m.map(mm));
        t.number("fan_width_mm", tip.fan_width_m.map(mm));
        t.number("reference_distance_mm", tip.reference_distance_m.map(mm));
        t.number("hours_used_h", tip.used_s.map(|s| s / 3600.0));
    });
}

fn limits(text: &mut Text, limits: &Limits) {
    text.table("[limits]", "limits", false, |t| {
        t.number("working_pressure_bar", limits.working_pressure_pa.map(bar));
        t.number("power_w", limits.power_w);
        t.number("battery_v", limits.battery_v);
        t.number("battery_ah", limits.battery_a_s.map(|s| s / 3600.0));
        t.number("hose_length_m", limits.hose_length_m);
        t.number("hose_bore_mm", limits.hose_bore_m.map(mm));
    });
}

fn tap(tap: Tap) -> &'static str {
    match tap {
        Tap::PumpOutlet => "pump_outlet",
        Tap::GunInlet => "gun_inlet",
    }
}

fn quoted(word: &str) -> String {
    toml::Value::String(word.to_owned()).to_string()
}

fn pct(ratio: f64) -> f64 {
    ratio * 100.0
}

fn bar(pa: f64) -> f64 {
    Pascal(pa).as_bar()
}

fn mm(m: f64) -> f64 {
    Metre(m).as_mm()
}

fn celsius(k: f64) -> f64 {
    Kelvin(k).as_celsius()
}

#[cfg(test)]
mod tests {
    use super::super::read;
    use super::*;

    #[test]
    fn what_is_written_reads_back_equal() {
        let text = "date = \"2024-04-27\"\nstarted_at = \"2024-04-27T11:45:08+01:00\"\nrig = 'bench \"A\"'\n\
                    tap = \"gun_inlet\"\nsimulated = true\nweather = \"dry\"\nother.a = 1\n\n\
                    [flow_meter]\npulses_per_litre = 2952\nstd_uncertainty_pct = 1\nlowest_calibrated_hz = 4.5\nowner = \"a\"\n\n\
                    [pressure_sensor]\nfull_scale_bar = 160\naccuracy_pct_of_full_scale = 0.5\nzero_bar = 0.12\n\
                    zero_std_uncertainty_bar = 0.02\ngain = 1.003\ngain_std_uncertainty_pct = 0.4\n\n\
                    [[material]]\nname = \"hull primer\"\ndensity_kg_m3 = 1213\nvolume_solids_pct = 38\nmax_thinner_pct = 5\n\
                    max_pressure_bar = 200\nmax_temperature_c = 35\n\n\
                    [[material.viscosity]]\ntemperature_c = 20.5\nshear_rate_per_s = 100\nviscosity_mpa_s = 903.3\n\n\
                    [[tip]]\ncode = \"415\"\nfamily = \"fine\"\norifice_mm = 0.381\nfan_width_mm = 203\n\
                    reference_distance_mm = 305\nhours_used_h = 1.3\nshop = [1, 2]\n\n\
                    [[tip]]\ncode = \"bare\"\n\n\
                    [limits]\nworking_pressure_bar = 145\npower_w = 1667\nbattery_v = 18\nbattery_ah = 7.079\n\
                    hose_length_m = 2.4\nhose_bore_mm = 6.4\n";
        let settings = read(text.as_bytes()).unwrap();
        assert_eq!(write(&settings), text);
        assert_eq!(read(write(&settings).as_bytes()).unwrap(), settings);
    }

    #[test]
    fn unknown_keys_of_any_spelling_read_back_equal() {
        let text = "tipping = 3\n\"own key\" = 1\n\"\" = \"\"\n[own_table]\n[own.\"a.b\"]\nc = [1,\n 2]\n\
                    [[own_list]]\nb = 1\n";
        let settings = read(text.as_bytes()).unwrap();
        let again = read(write(&settings).as_bytes()).unwrap();
        // Entries of a list that is itself unknown are comments.
        let kept = settings
            .unknown_keys
            .iter()
            .filter(|(key, _)| !key.contains('['));
        assert!(kept.eq(again.unknown_keys.iter()), "{}", write(&settings));
        assert_eq!(again.unknown_keys.len(), 5);
    }

    #[test]
    fn unknown_settings_write_a_short_text() {
        assert_eq!(write(&Settings::default()), "tap = \"pump_outlet\"\n");
    }
}
