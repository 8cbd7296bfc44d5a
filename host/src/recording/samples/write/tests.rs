//! What is written reads back equal.

use super::*;
use crate::recording::samples::read;
use crate::recording::{DeviceLog, PressureScale};

fn text_of(data: &Data) -> String {
    let mut bytes = Vec::new();
    write(data, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

#[test]
fn a_table_is_written_as_it_was_read() {
    let text = "t_s,pressure_bar,flow_pulses,pulse_t_s,supply_v,material_c,rh_pct,note\n\
                0.0195,0.586,0,,18.2,,55,\n\
                0.0391,-0.391,2,0.0381,,12.9,,\"a, b\"\n\
                0.0595,,,,,,,\n";
    assert_eq!(
        text_of(&Data::Samples(read(text.as_bytes()).unwrap())),
        text.to_owned()
    );
    // A clock's seconds, a thousandth apart.
    let epoch = "t_s,pressure_bar,flow_l_min\n1732752000.001,61.5,2.345\n1732752000.002,62,\n";
    assert_eq!(
        text_of(&Data::Samples(read(epoch.as_bytes()).unwrap())),
        epoch
    );
    let rate = "t_s,pressure_bar,flow_l_min\n0,61.5,2.345\n1,62,\n";
    assert_eq!(
        text_of(&Data::Samples(read(rate.as_bytes()).unwrap())),
        rate
    );
}

#[test]
fn a_loggers_data_keep_every_edge_and_reading() {
    let series = |t_s: &[f64], value: &[f64]| SlowSeries {
        t_s: t_s.to_vec(),
        value: value.to_vec(),
    };
    let log = DeviceLog {
        t_s: [0.0, 0.01, 0.02, 0.5, 0.51].into_iter().collect(),
        pressure_code: vec![0, 100, 100, 205, 206],
        pressure_scale: PressureScale {
            pa_per_code: 10_000.0,
            ..PressureScale::default()
        },
        sample_rate_hz: 100.0,
        // One edge of a row, two of a row, one while samples were lost, one after the end.
        edge_t_s: vec![0.0085, 0.0155, 0.0175, 0.3, 0.6],
        slow: SlowChannels {
            supply_v: series(&[0.015, 0.35, 0.45], &[18.0, 18.1, 18.2]),
            material_k: series(&[0.35], &[293.15]),
            ..SlowChannels::default()
        },
        ..DeviceLog::default()
    };
    let text = text_of(&Data::Device(log.clone()));
    assert_eq!(
        text,
        "t_s,pressure_bar,flow_pulses,pulse_t_s,supply_v,material_c\n\
         0,0,0,,,\n\
         0.01,10,1,0.0085,,\n\
         0.0155,,1,0.0155,18,\n\
         0.02,10,1,0.0175,,\n\
         0.3,,1,0.3,,\n\
         0.35,,0,,18.1,20\n\
         0.45,,0,,18.2,\n\
         0.5,20.5,0,,,\n\
         0.51,20.6,0,,,\n\
         0.6,,1,0.6,,\n"
    );
    let table = read(text.as_bytes()).unwrap();
    let edges: Vec<f64> = table
        .pulse_t_s
        .into_iter()
        .filter(|t| t.is_finite())
        .collect();
    assert_eq!(edges, log.edge_t_s);
}
