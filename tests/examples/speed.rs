//! What `tests/bench` measures on our side; one JSON object a run on standard output.
//!
//! `speed make FOLDER HOURS` writes a recording at 1 kHz of that many hours, `speed decode FOLDER` times the
//! reading of its log against a copy and a check sum of the same bytes, `speed fit` the fit of one nozzle curve.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::cast_precision_loss)]

use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use crc::{CRC_32_ISO_HDLC, Crc, Table};
use serde_json::json;
use tipcurve::analysis::fit::power_law::{CommonParts, Observation, fit_power_law};
use tipcurve::analysis::nozzle_curve::{
    CommonUncertainty, CurveConditions, CurvePoint, fit_nozzle_curve,
};
use tipcurve::estimate::{Estimate, coverage_factor_95};
use tipcurve::recording::decode::read_log;
use tipcurve::recording::notes::{self, Note, NoteTime};
use tipcurve::recording::{folder, settings};
use tipcurve::simulate::record::{run, to_recording};
use tipcurve::simulate::scenario::{Logging, TrialKind, trial};
use tipcurve_protocol::{Event, Message, Reader};
use tipcurve_tests::long_log::{extent, repeat};
use tipcurve_tests::scratch::Scratch;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let result = match words[..] {
        ["make", path, hours] => make(Path::new(path), hours.parse().unwrap()),
        ["decode", path] => decode(Path::new(path)),
        ["fit"] => fit(),
        _ => panic!("speed make FOLDER HOURS | decode FOLDER | fit"),
    };
    println!("{result}");
}

/// A trial at 1 kHz over and over; the notes go along.
fn make(path: &Path, hours: f64) -> serde_json::Value {
    let mut scenario = trial(TrialKind::HealthyWindow, 3);
    scenario.logging = Logging::Device {
        sample_rate_hz: 1000,
    };
    let scratch = Scratch::new("speed");
    let one_path = scratch.path().join("one");
    run(&scenario, &one_path).unwrap();
    let (recording, truth) = to_recording(&scenario);
    let log = std::fs::read(one_path.join(folder::FRAMES)).unwrap();
    let one = extent(&log);
    let one_s = one.ticks as f64 * 1e-6;
    let times = (hours * 3600.0 / one_s).ceil();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let whole = repeat(&log, times as u32);

    let noted: Vec<(f64, &Note)> = truth
        .notes
        .iter()
        .filter_map(|n| {
            Some((
                truth.bursts.get(n.burst?)?.end_s,
                recording.notes.get(n.row)?,
            ))
        })
        .collect();
    let mut rows: Vec<Note> = Vec::new();
    let mut copy = 0.0;
    while copy < times {
        rows.extend(noted.iter().map(|(end_s, note)| Note {
            time: NoteTime::Logger {
                t_s: copy * one_s + end_s + 2.0,
            },
            ..(*note).clone()
        }));
        copy += 1.0;
    }
    std::fs::create_dir_all(path).unwrap();
    std::fs::write(path.join(folder::FRAMES), &whole).unwrap();
    std::fs::write(path.join(folder::NOTES), notes::write(&rows, 0.0)).unwrap();
    std::fs::write(
        path.join(folder::SESSION),
        settings::write(&recording.settings),
    )
    .unwrap();
    json!({
        "hours": times * one_s / 3600.0,
        "bytes": whole.len(),
        "samples": f64::from(one.samples) * times,
        "bursts": truth.bursts.len() as f64 * times,
        "notes": rows.len(),
    })
}

/// Best of several runs, s: the one that the rest of the machine disturbed least.
fn best_s(runs: usize, mut run: impl FnMut()) -> f64 {
    let times = (0..runs).map(|_| {
        let start = Instant::now();
        run();
        start.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

/// One of many runs that are too short to time alone, s.
fn one_s<T>(mut run: impl FnMut() -> T) -> f64 {
    const RUNS: u32 = 500;
    let all_s = best_s(5, || {
        for _ in 0..RUNS {
            black_box(run());
        }
    });
    all_s / f64::from(RUNS)
}

fn decode(path: &Path) -> serde_json::Value {
    let log = std::fs::read(path.join(folder::FRAMES)).unwrap();
    let mut copy = vec![0_u8; log.len()];
    let copy_s = best_s(7, || copy.copy_from_slice(black_box(&log)));
    let crc = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);
    let crc_s = best_s(5, || {
        black_box(crc.checksum(black_box(&log)));
    });
    let frames_s = best_s(5, || {
        let mut reader = Reader::new();
        let mut input = black_box(&log[..]);
        let mut codes = [0; 256];
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(Message::Samples(s)) = event {
                s.block.decode(&mut codes[..s.block.len()]).unwrap();
            }
        }
        black_box(codes);
    });
    let columns = || read_log(black_box(&log[..]), log.len() as u64, []).unwrap();
    let columns_s = best_s(5, || {
        black_box(columns());
    });
    let log_read = columns().log;
    let sum = log_read
        .pressure_code
        .iter()
        .fold(0_i64, |sum, code| sum + i64::from(*code));
    json!({
        "bytes": log.len(),
        "samples": log_read.pressure_code.len(),
        "edges": log_read.edge_t_s.len(),
        "sum_of_codes": sum,
        "copy_s": copy_s,
        "crc_s": crc_s,
        "frames_s": frames_s,
        "columns_s": columns_s,
    })
}

/// Six points about a curve, the same as `tests/baseline/fit.py` reads from our answer.
fn fit() -> serde_json::Value {
    let bar_and_off = [
        (60.0, 1.004),
        (80.0, 0.995),
        (100.0, 1.003),
        (120.0, 0.998),
        (140.0, 1.006),
        (160.0, 0.997),
    ];
    let points: Vec<CurvePoint> = bar_and_off
        .iter()
        .enumerate()
        .map(|(burst_index, (bar, off))| CurvePoint {
            burst_index,
            pressure_pa: Estimate::new(bar * 1e5, bar * 700.0, 0.0),
            flow_m3_per_s: {
                let q = 1.5e-5 * off * f64::powf(bar / 100.0, 0.54);
                Estimate::new(q, 0.006 * q, 0.0)
            },
        })
        .collect();
    let run = || {
        fit_nozzle_curve(
            black_box(&points),
            &CommonUncertainty::default(),
            &CurveConditions::default(),
        )
        .unwrap()
    };
    let curve = run();
    let observations: Vec<Observation> = points.iter().map(Observation::from).collect();
    let law_alone = || {
        let (given, p_ref_pa) = black_box((&observations, curve.power_law.p_ref_pa));
        let fit = fit_power_law(given, p_ref_pa, &CommonParts::default()).unwrap();
        let factor = coverage_factor_95(fit.scatter.dof);
        let half = |variance: f64| factor * variance.sqrt();
        (
            fit.ln_y_ref,
            fit.n,
            half(fit.independent.var_0),
            half(fit.independent.var_1),
        )
    };
    let law = curve.power_law;
    json!({
        "fit_s": one_s(run),
        "law_s": one_s(law_alone),
        "n": law.n.value,
        "q_ref_m3_per_s": law.q_ref_m3_per_s.value,
        "p_ref_pa": law.p_ref_pa,
        "pressure_pa": points.iter().map(|p| p.pressure_pa.value).collect::<Vec<_>>(),
        "u_pressure_pa": points.iter().map(|p| p.pressure_pa.u_independent).collect::<Vec<_>>(),
        "flow_m3_per_s": points.iter().map(|p| p.flow_m3_per_s.value).collect::<Vec<_>>(),
        "u_flow_m3_per_s": points.iter().map(|p| p.flow_m3_per_s.u_independent).collect::<Vec<_>>(),
    })
}
