//! `tipcurve calibrate` beside a logger, through options, and on the page; and its file in use.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ChildStdin;
use std::sync::atomic::{AtomicU8, Ordering};

use serde_json::json;
use tipcurve::recording::settings;

use crate::program::{Program, Socket, log_of, run, text, wait_until};
use crate::rig::Plugged;
use crate::scratch::Scratch;
use crate::web::Page;

/// What the rig does now: one rig at a time, so that one number will do.
static DOES: AtomicU8 = AtomicU8::new(RELIEVED);
const RELIEVED: u8 = 0;
const HELD: u8 = 1;
const SPRAYED: u8 = 2;

/// A sensor that shows 0.1 bar at rest, 98 bar at 100.
fn rig_at_hand(_t_s: f64) -> (f64, f64) {
    match DOES.load(Ordering::Relaxed) {
        RELIEVED => (1.0e4, 0.0),
        HELD => (1.0e4 + 1.0e7 / 1.02, 0.0),
        _ => (9.0e6, 2.0e-5),
    }
}

fn plugged() -> Plugged {
    Plugged {
        draw: rig_at_hand,
        ..Plugged::default()
    }
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap();
    let is_own = |path: &PathBuf| {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        name.starts_with("calibration-")
    };
    let mut found: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).filter(is_own).collect();
    found.sort();
    found
}

/// Waits for a question, then answers it.
#[track_caller]
fn answer(program: &Program, input: &mut ChildStdin, question: &str, times: usize, line: &str) {
    wait_until(question, || {
        program.out().matches(question).count() == times
    });
    writeln!(input, "{line}").unwrap();
}

/// Terminal and page one after the other: they share the rig at hand.
#[test]
fn zero_span_and_constant_are_found_beside_the_logger() {
    guided_in_the_terminal();
    on_the_page();
}

fn guided_in_the_terminal() {
    DOES.store(RELIEVED, Ordering::Relaxed);
    let folder = Scratch::new("guided");
    let kept = folder.join("kept");
    let socket = Socket::open();
    let args = [
        "calibrate",
        "--port",
        &socket.address,
        "--output",
        text(&kept),
        "--full-scale",
        "250",
        "--gauge-accuracy",
        "0.25",
        "--json",
    ];
    let (program, mut input) = Program::start_piped(&args);
    let _rig = socket.plug(plugged());
    let mut say = |question: &str, times, line: &str| {
        answer(&program, &mut input, question, times, line);
    };
    say("(type yes)", 1, "yes");
    say("Your initials", 1, "AB");
    say("Press Enter to take the zero (", 1, "");
    say("or s to leave both out", 1, "");
    wait_until("zero", || program.out().contains("the sensor shows 0.10"));
    DOES.store(HELD, Ordering::Relaxed);
    std::thread::sleep(std::time::Duration::from_secs(1));
    say("The reference gauge shows", 1, "100");
    say("The reference gauge shows", 2, "");
    for k in 1..=2 {
        say("to start catch", k, "");
        wait_until("the count begins", || {
            program.out().matches("Close the trigger").count() == k
        });
        DOES.store(SPRAYED, Ordering::Relaxed);
        std::thread::sleep(std::time::Duration::from_secs(4));
        DOES.store(HELD, Ordering::Relaxed);
        std::thread::sleep(std::time::Duration::from_secs(1));
        say("Close the trigger", k, "");
        wait_until("pulses", || {
            program.out().matches(" pulses in ").count() == k
        });
        let said = program.out();
        let before = said.rsplit_once(" pulses in ").unwrap().0;
        let pulses: f64 = before
            .rsplit(char::is_whitespace)
            .next()
            .unwrap()
            .parse()
            .unwrap();
        // What that many pulses of 2500 a litre weigh, of water at 20 degrees Celsius.
        let grams = pulses / 2_500.0 * 998.2 * 0.99895;
        say("Caught, g", k, &format!("{grams:.2}"));
    }
    say("to start catch", 3, "d");
    say("Density of the liquid", 1, "");
    say("Temperature of the water", 1, "20");
    DOES.store(RELIEVED, Ordering::Relaxed);
    say("lock the trigger again", 1, "yes");
    say("to take the zero once more", 1, "");
    let said = program.end();
    assert_eq!(said.code, Some(0), "{}\n{}", said.out, said.err);
    let start = said.out.find("{\"").unwrap();
    let result: serde_json::Value = serde_json::from_str(&said.out[start..]).unwrap();
    let sensor = &result["pressure_sensor"];
    let near = |value: &serde_json::Value, wanted: f64, by: f64| {
        let value = value.as_f64().unwrap();
        assert!((value - wanted).abs() < by, "{value}, not {wanted}");
    };
    near(&sensor["zero_pa"], 1.0e4, 1_000.0);
    near(&sensor["gain_ratio"], 1.02, 0.001);
    near(&result["flow_meter"]["k_factor_per_m3"], 2.5e6, 5.0e3);
    let file = files(&kept).remove(0);
    let written = std::fs::read_to_string(&file).unwrap();
    assert!(written.contains("device_id = \"51D07E57\""), "{written}");

    // In use: a new recording takes it over, and its page shows the corrected pressure.
    let next = folder.join("next");
    let made = run(&[
        "new",
        text(&next),
        "--no-questions",
        "--calibration",
        text(&file),
    ]);
    assert_eq!(made.code, Some(0), "{}", made.err);
    DOES.store(HELD, Ordering::Relaxed);
    let socket = Socket::open();
    let program = Program::start(&["record", text(&next), "--port", &socket.address]);
    let _rig = socket.plug(plugged());
    let page = Page::of(&program);
    wait_until("100 bar on the page", || {
        let (_, state) = page.get("/api/state");
        let shown = state["figures"]["pressure_pa"].as_f64();
        shown.is_some_and(|pa| (pa - 1.0e7).abs() < 2.0e4)
    });
    assert_eq!(program.stop().code, Some(0));
}

fn on_the_page() {
    DOES.store(RELIEVED, Ordering::Relaxed);
    let folder = Scratch::new("page");
    let recording = folder.join("one");
    let socket = Socket::open();
    let program = Program::start(&["record", text(&recording), "--port", &socket.address]);
    let _rig = socket.plug(plugged());
    let page = Page::of(&program);
    wait_until("six seconds of log", || log_of(&recording).len() > 5_000);
    let (status, zero) = page.post("/api/calibrate/mean", &json!({"seconds": 5}));
    assert_eq!(status, 200, "{zero}");
    let (status, _) = page.post("/api/calibrate/start", &json!({}));
    assert_eq!(status, 200);
    DOES.store(SPRAYED, Ordering::Relaxed);
    std::thread::sleep(std::time::Duration::from_secs(2));
    let (status, turning) = page.post("/api/calibrate/stop", &json!({}));
    assert_eq!(status, 409, "{turning}");
    DOES.store(RELIEVED, Ordering::Relaxed);
    std::thread::sleep(std::time::Duration::from_secs(2));
    let (status, begun) = page.post("/api/calibrate/start", &json!({}));
    assert_eq!(status, 200, "{begun}");
    DOES.store(SPRAYED, Ordering::Relaxed);
    std::thread::sleep(std::time::Duration::from_secs(2));
    DOES.store(RELIEVED, Ordering::Relaxed);
    std::thread::sleep(std::time::Duration::from_millis(1_200));
    let (status, caught) = page.post("/api/calibrate/stop", &json!({}));
    assert_eq!(status, 200, "{caught}");
    let mass = caught["n_edges"].as_f64().unwrap() / 2.5e6 * 998.2;
    let mut body = json!({
        "operator": "CD",
        "relieved": true,
        "zero": zero,
        "catches": [{"caught_kg": mass, "n_edges": caught["n_edges"], "duration_s": caught["duration_s"]}],
        "liquid_c": 20.0,
    });
    for n in 1..=2 {
        let (status, written) = page.post("/api/calibrate/write", &body);
        assert_eq!(status, 200, "{written}");
        assert!(
            written["words"]
                .to_string()
                .contains("Flow constant: 2497.4 pulses/L"),
            "{written}"
        );
        assert_eq!(
            files(&recording).len(),
            n,
            "an earlier calibration was overwritten"
        );
    }
    body["relieved"] = json!(false);
    assert_eq!(page.post("/api/calibrate/write", &body).0, 400);
    assert_eq!(files(&recording).len(), 2);
    assert_eq!(program.stop().code, Some(0));
}

#[test]
fn readings_as_options_need_no_logger_but_the_caution_confirmed() {
    let folder = Scratch::new("options");
    let kept = folder.join("kept");
    let readings = [
        "calibrate",
        "--output",
        text(&kept),
        "--operator",
        "AB",
        "--full-scale",
        "250",
        "--zero",
        "0.12:0.02",
        "--zero-after",
        "0.14:0.02",
        "--span",
        "50:49.1",
        "--span",
        "150:147.2",
        "--catch",
        "498.5:1250:31.2",
        "--catch",
        "601.0:1507:30.0",
        "--catch",
        "402.2:1007:30.4",
        "--catch",
        "799.1:2004:30.1",
    ];
    let refused = run(&readings);
    assert_eq!(refused.code, Some(2));
    assert!(
        refused.err.contains("an injection through the skin"),
        "{}",
        refused.err
    );
    assert!(refused.err.contains("nothing was written") && !kept.exists());
    let confirmed = [&readings[..], &["--relieved"]].concat();
    for n in 1..=3 {
        let said = run(&confirmed);
        assert_eq!(said.code, Some(0), "{}", said.err);
        assert!(
            said.out.contains("Flow constant: 2499.8 pulses/L"),
            "{}",
            said.out
        );
        assert!(said.out.contains("Gain: 1.02"), "{}", said.out);
        assert_eq!(
            files(&kept).len(),
            n,
            "an earlier calibration was overwritten"
        );
    }
    let first = &files(&kept)[0];
    let session = settings::read(&std::fs::read(first).unwrap()).unwrap();
    assert!(session.flow_meter.u_k_factor_ratio.unwrap() < 0.01);
    let as_json = run(&[&confirmed[..], &["--json"]].concat());
    let result: serde_json::Value = serde_json::from_str(&as_json.out).unwrap();
    assert_eq!(result["flow_meter"]["catches"].as_array().unwrap().len(), 4);
    let bad = run(&[
        "calibrate",
        "--relieved",
        "--operator",
        "AB",
        "--catch",
        "500:5:30",
    ]);
    assert_eq!(bad.code, Some(2));
    assert!(
        bad.err.contains("catch 1 has 5 pulses, 20 are needed"),
        "{}",
        bad.err
    );
}
