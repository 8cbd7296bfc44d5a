//! `plan`, `compare` and `export` as a person calls them: the built program, its words, JSON and exit codes.
//!
//! Good input is the repository's fixtures (made by an independent simulator, every name invented) and recordings of
//! the simulated rig; bad input and none are made here. The environment is cleared; nothing touches the network.
#![allow(
    clippy::unwrap_used,
    reason = "a test fails by unwrapping, its helpers too"
)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tipcurve::recording::folder::{NOTES, SAMPLES, SESSION};
use tipcurve::simulate;
use tipcurve::simulate::scenario::{Scenario, TrialKind, trial};

/// A folder of this test's own, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("tipcurve-verbs-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn join(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn fixture(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures");
    folder.join(name)
}

/// Runs the program in a folder with an empty environment.
fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipcurve"))
        .args(args)
        .current_dir(folder)
        .env_clear()
        .output()
        .unwrap()
}

#[track_caller]
fn done(output: &Output) -> String {
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{error}");
    assert_eq!(error, "", "quiet when piped");
    String::from_utf8(output.stdout.clone()).unwrap()
}

#[track_caller]
fn refused(output: &Output) -> String {
    let error = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(output.status.code(), Some(2), "{error}");
    assert!(output.stdout.is_empty(), "{output:?}");
    assert!(!error.contains('\u{1b}'), "no colour when piped");
    error
}

fn text(path: &Path) -> String {
    path.to_str().unwrap().to_owned()
}

fn json(output: &Output) -> Value {
    let said = done(output);
    assert!(!said.contains("NaN"), "{said}");
    serde_json::from_str(&said).unwrap()
}

/// Copies a fixture, with its session file changed.
fn changed(name: &str, to: &Path, change: impl Fn(String) -> String) {
    fs::create_dir_all(to).unwrap();
    for file in [SAMPLES, NOTES] {
        fs::copy(fixture(name).join(file), to.join(file)).unwrap();
    }
    let session = fs::read_to_string(fixture(name).join(SESSION)).unwrap();
    fs::write(to.join(SESSION), change(session)).unwrap();
}

/// A trial of the simulated rig, days later, its tip opened by a factor on the diameter.
fn day(folder: &Path, name: &str, days: f64, opened: f64) -> PathBuf {
    let mut scenario: Scenario = trial(TrialKind::HealthyWindow, 11);
    scenario.name = name.to_owned();
    scenario.start.unix_s += days * 86_400.0;
    scenario.start.is_told = true;
    for tip in &mut scenario.tips {
        tip.orifice.diameter_m *= opened;
    }
    let path = folder.join(name);
    simulate::run(&scenario, &path).unwrap();
    path
}

#[test]
fn the_asked_tip_of_a_fixture_is_planned_within_the_truth() {
    let scratch = Scratch::new("plan");
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(fixture("rec-19.truth.json")).unwrap()).unwrap();
    let asked = truth["plan"]["tip"].as_str().unwrap();
    let folder = text(&fixture("rec-19"));
    let plan = json(&run(
        &scratch.0,
        &["plan", &folder, "--tip", asked, "--json"],
    ));
    assert_eq!(plan["schema"], "tipcurve-plan");
    let tip = &plan["tips"][0];
    assert_eq!(tip["tip"], asked);
    assert_eq!(tip["measured_in"], Value::Null);
    let held = &tip["held"];
    let bar = truth["plan"]["pressure_bar"].as_f64().unwrap();
    let (low, high) = (
        held["low_pa"].as_f64().unwrap() / 1e5,
        held["high_pa"].as_f64().unwrap() / 1e5,
    );
    assert!(low <= bar && bar <= high, "{bar} in {low} to {high}");
    // The same in words, with the caution.
    let said = done(&run(&scratch.0, &["plan", &folder, "--tip", asked]));
    assert!(said.starts_with("Plan for wall white"), "{said}");
    assert!(said.contains("Not measured: predicted from tip"), "{said}");
    assert!(said.contains("surgical emergency"), "{said}");
}

#[test]
fn a_box_is_a_table_and_nothing_is_set_above_the_rating() {
    let scratch = Scratch::new("box");
    let folder = text(&fixture("rec-19"));
    let plan = json(&run(
        &scratch.0,
        &["plan", &folder, "--tips", "308,935", "--json"],
    ));
    let tips = plan["tips"].as_array().unwrap();
    let codes: Vec<&str> = tips.iter().map(|t| t["tip"].as_str().unwrap()).collect();
    assert!(codes.contains(&"611") && codes.contains(&"308") && codes.contains(&"935"));
    let sizes: Vec<f64> = tips
        .iter()
        .filter_map(|t| t["orifice_diameter_m"].as_f64())
        .collect();
    assert!(sizes.windows(2).all(|w| w[0] <= w[1]), "{sizes:?}");
    let rated = plan["rated_pa"].as_f64().unwrap();
    for tip in tips {
        if let Some(set) = tip["set_pa"].as_f64() {
            assert!(set <= rated, "{tip}");
            assert_eq!(tip["answer"], "yes");
        }
        if tip["closes"] == "atomisation" {
            let text = tip["changes"].to_string();
            assert!(!text.contains("orifice_at_most"), "{tip}");
        }
    }
    // Far larger than any tip measured: no number at all.
    let far = tips.iter().find(|t| t["tip"] == "935").unwrap();
    assert!(
        far["refusal"].as_str().unwrap().contains("more than twice"),
        "{far}"
    );
    assert_eq!(far["held"], Value::Null);
    let said = done(&run(&scratch.0, &["plan", &folder, "--tips", "308,935"]));
    assert!(
        said.lines()
            .any(|l| l.starts_with("Tip  ") && l.contains("Enough?")),
        "{said}"
    );
}

#[test]
fn an_area_gives_litres_time_and_charges_or_says_what_is_missing() {
    let scratch = Scratch::new("area");
    let folder = text(&fixture("rec-10"));
    let plan = json(&run(
        &scratch.0,
        &[
            "plan",
            &folder,
            "--area",
            "20",
            "--coverage",
            "10",
            "--json",
        ],
    ));
    let with_job: Vec<&Value> = plan["tips"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|t| t["answer"] == "yes")
        .collect();
    assert!(!with_job.is_empty(), "{plan}");
    for tip in with_job {
        // 20 m2 at 10 m2/L are 2 L on the wall, and 0.7 of what is sprayed gets there.
        let mixed = tip["job"]["mixed_m3"]["value"].as_f64().unwrap() * 1e3;
        assert!((mixed - 2.0 / 0.7).abs() < 1e-6, "{mixed}");
        let seconds = tip["job"]["spraying_s"]["value"].as_f64().unwrap();
        let flow = tip["flow_at_set_m3_per_s"]["value"].as_f64().unwrap();
        assert!((seconds * flow * 1e3 - mixed).abs() < 1e-6);
    }
}

#[test]
fn bad_questions_are_refused_in_words_with_the_nearest_name() {
    let scratch = Scratch::new("bad-plan");
    let folder = text(&fixture("rec-19"));
    let plan = |more: &[&str]| {
        let mut args = vec!["plan", folder.as_str()];
        args.extend(more);
        refused(&run(&scratch.0, &args))
    };
    let said = plan(&["--material", "wall whte"]);
    assert!(
        said.contains("did you mean \u{201c}wall white\u{201d}?"),
        "{said}"
    );
    let said = plan(&["--dial", "maxx"]);
    assert!(said.contains("did you mean \u{201c}max\u{201d}?"), "{said}");
    let said = plan(&["--tip", "fine"]);
    assert!(said.contains("is not in the session file"), "{said}");
    let said = plan(&["--thinner", "12"]);
    assert!(
        said.contains("was not measured with 12 % thinner"),
        "{said}"
    );
    let said = plan(&["--area", "0"]);
    assert!(said.contains("it must be above zero"), "{said}");
    let said = plan(&["--film-um", "80"]);
    assert!(said.contains("--area"), "{said}");
    let said = refused(&run(&scratch.0, &["plan"]));
    assert!(said.contains("RECORDING"), "{said}");
    let said = refused(&run(&scratch.0, &["plan", "nowhere"]));
    assert!(
        said.contains("no such folder") && said.contains("hint:"),
        "{said}"
    );
    let said = refused(&run(&scratch.0, &["plann", "x"]));
    assert!(said.contains("plan"), "{said}");
}

#[test]
fn recordings_of_two_rigs_make_no_plan() {
    let scratch = Scratch::new("two-rigs");
    changed("rec-19", &scratch.join("other"), |s| {
        s.replace("bench pump", "shed pump")
    });
    let said = refused(&run(
        &scratch.0,
        &["plan", &text(&fixture("rec-19")), "other"],
    ));
    assert!(
        said.contains("shed pump") && said.contains("one rig"),
        "{said}"
    );
}

#[test]
fn a_worn_tip_moves_the_nozzle_curve_and_the_page_says_so() {
    let scratch = Scratch::new("worn");
    day(&scratch.0, "spring", 0.0, 1.0);
    day(&scratch.0, "autumn", 150.0, 1.08);
    // Given in the wrong order: the dates know better.
    let args = ["compare", "autumn", "spring", "--output", "page"];
    let said = done(&run(&scratch.0, &args));
    assert!(said.contains("Compared with spring"), "{said}");
    assert!(said.contains("Simulated data"), "{said}");
    assert!(said.contains("rose"), "{said}");
    let page = fs::read_to_string(scratch.join("page/compare.html")).unwrap();
    assert!(page.contains("<svg") && page.contains("Which curve moved"));
    let result: Value =
        serde_json::from_str(&fs::read_to_string(scratch.join("page/compare.json")).unwrap())
            .unwrap();
    let nozzle = &result["comparisons"][0]["nozzles"][0];
    assert_eq!(nozzle["change"], "moved_up", "{nozzle}");
    // The area grew by 16.6 %; the flow by that, or a little more in a viscous coating.
    let low = nozzle["flow_change"]["low_95"].as_f64().unwrap();
    let high = nozzle["flow_change"]["high_95"].as_f64().unwrap();
    assert!(low < 0.23 && high > 0.15 && low > 0.05, "{nozzle}");
    every_number_of_the_page_is_in_the_result(&page, &result);
    // Never over an earlier page.
    let said = refused(&run(&scratch.0, &args));
    assert!(said.contains("nothing was overwritten"), "{said}");
    let again = ["compare", "autumn", "spring", "--output", "page", "--force"];
    done(&run(&scratch.0, &again));
}

/// Follows each `data-key` of a page to its value.
#[track_caller]
fn every_number_of_the_page_is_in_the_result(page: &str, result: &Value) {
    let mut n = 0;
    for part in page.split("<data value=\"").skip(1) {
        let (value, rest) = part.split_once('"').unwrap();
        let key = rest.split("data-key=\"").nth(1).unwrap();
        let key = key.split_once('"').unwrap().0;
        let found = result.pointer(key).unwrap_or_else(|| panic!("{key}"));
        let (shown, kept) = (value.parse::<f64>().unwrap(), found.as_f64().unwrap());
        assert!(
            (shown - kept).abs() <= 1e-12 * kept.abs(),
            "{key}: {shown} {kept}"
        );
        n += 1;
    }
    assert!(n > 5, "{n} numbers");
}

#[test]
fn the_same_day_twice_did_not_move() {
    let scratch = Scratch::new("same");
    let folder = text(&fixture("rec-10"));
    let compared = json(&run(&scratch.0, &["compare", &folder, &folder, "--json"]));
    let comparison = &compared["comparisons"][0];
    assert_eq!(comparison["calibration"], "shared");
    for nozzle in comparison["nozzles"].as_array().unwrap() {
        assert_eq!(nozzle["flow_change"]["value"], 0.0, "{nozzle}");
        assert_ne!(nozzle["change"], "moved_up");
        assert_ne!(nozzle["change"], "moved_down");
    }
}

#[test]
fn recordings_that_have_nothing_in_common_are_refused_with_what_each_has() {
    let scratch = Scratch::new("nothing");
    changed("rec-10", &scratch.join("other"), |s| s);
    let said = refused(&run(
        &scratch.0,
        &[
            "compare",
            &text(&fixture("rec-10")),
            &text(&fixture("rec-28")),
        ],
    ));
    assert!(said.contains("baseline") || said.contains("unit"), "{said}");
    assert!(said.contains("tip "), "{said}");
}

#[test]
fn a_pressure_in_another_unit_is_found_out() {
    let scratch = Scratch::new("unit");
    let to = scratch.join("psi");
    changed("rec-10", &to, |s| s);
    // psi written into the column that says bar.
    let samples = fs::read_to_string(to.join(SAMPLES)).unwrap();
    let mut lines = samples.lines();
    let header = lines.next().unwrap();
    let column = header.split(',').position(|c| c == "pressure_bar").unwrap();
    let mut out = vec![header.to_owned()];
    for line in lines {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        if let Ok(bar) = cells[column].parse::<f64>() {
            cells[column] = format!("{}", bar * 14.5038);
        }
        out.push(cells.join(","));
    }
    fs::write(to.join(SAMPLES), out.join("\n") + "\n").unwrap();
    let said = refused(&run(
        &scratch.0,
        &["compare", &text(&fixture("rec-10")), "psi"],
    ));
    assert!(
        said.contains("psi and bar") && said.contains("nothing was compared"),
        "{said}"
    );
}

#[test]
fn other_rigs_meters_and_kinds_are_said() {
    let scratch = Scratch::new("other");
    changed("rec-10", &scratch.join("rig"), |s| {
        let line = s.lines().find(|l| l.starts_with("rig")).unwrap().to_owned();
        s.replace(&line, "rig = \"another pump\"")
    });
    changed("rec-10", &scratch.join("meter"), |s| {
        let line = s
            .lines()
            .find(|l| l.starts_with("std_uncertainty_pct"))
            .unwrap()
            .to_owned();
        s.replace(&line, "std_uncertainty_pct = 2.5")
    });
    changed("rec-10", &scratch.join("made-up"), |s| {
        format!("simulated = true\n{s}")
    });
    let base = text(&fixture("rec-10"));
    let rig = json(&run(&scratch.0, &["compare", &base, "rig", "--json"]));
    let comparison = &rig["comparisons"][0];
    assert_eq!(comparison["differences"][0], "rig");
    assert_eq!(comparison["calibration"], "separate");
    assert_eq!(comparison["supply"], Value::Null);
    assert!(
        comparison["supply_refusal"]
            .as_str()
            .unwrap()
            .contains("two rigs")
    );
    let meter = json(&run(&scratch.0, &["compare", &base, "meter", "--json"]));
    assert_eq!(meter["comparisons"][0]["differences"][0], "flow_meter");
    let said = refused(&run(&scratch.0, &["compare", &base, "made-up"]));
    assert!(said.contains("made by the simulated rig"), "{said}");
    let said = refused(&run(&scratch.0, &["compare", &base]));
    assert!(said.contains("nothing to be compared with"), "{said}");
    refused(&run(&scratch.0, &["compare"]));
}

#[test]
fn what_is_exported_comes_back_with_the_same_verdict() {
    let scratch = Scratch::new("export");
    // A logger's own recording: frames, not rows.
    let mut scenario = trial(TrialKind::SupplyLimitPower, 5);
    scenario.name = "logged".to_owned();
    scenario.logging = simulate::scenario::Logging::Device {
        sample_rate_hz: 200,
    };
    simulate::run(&scenario, &scratch.join("logged")).unwrap();
    let said = done(&run(&scratch.0, &["export", "logged"]));
    assert!(
        said.contains("samples.csv, notes.csv, session.toml"),
        "{said}"
    );
    done(&run(
        &scratch.0,
        &["import", "logged-export", "--output", "back"],
    ));
    let verdicts = |name: &str| {
        let said = json(&run(&scratch.0, &["report", name, "--json"]));
        let list = said[0]["verdicts"].as_array().unwrap().clone();
        list.iter()
            .map(|v| (v["kind"].clone(), v["group_index"].clone()))
            .collect::<Vec<_>>()
    };
    assert_eq!(verdicts("logged"), verdicts("back"));
    // Never over anything.
    let before = fs::read(scratch.join("logged-export").join(SAMPLES)).unwrap();
    let said = refused(&run(&scratch.0, &["export", "logged"]));
    assert!(said.contains("nothing was exported"), "{said}");
    assert_eq!(
        fs::read(scratch.join("logged-export").join(SAMPLES)).unwrap(),
        before
    );
    let said = refused(&run(&scratch.0, &["export", "nowhere"]));
    assert!(said.contains("no such folder"), "{said}");
    let said = refused(&run(
        &scratch.0,
        &["export", "logged", "--format", "parket"],
    ));
    assert!(said.contains("parquet"), "{said}");
}

#[cfg(not(feature = "tables"))]
#[test]
fn without_parquet_the_verbs_say_that_they_need_it_and_make_nothing() {
    let scratch = Scratch::new("no-parquet");
    let folder = text(&fixture("rec-10"));
    let said = refused(&run(
        &scratch.0,
        &["export", &folder, "--output", "out", "--format", "parquet"],
    ));
    assert!(said.contains("has no Parquet"), "{said}");
    assert!(!scratch.join("out").exists());
    let said = refused(&run(&scratch.0, &["compare", "--season", "."]));
    assert!(said.contains("the season view needs it"), "{said}");
}

#[cfg(feature = "tables")]
#[test]
fn a_season_is_read_from_its_summaries_and_only_what_is_new_is_analysed() {
    let scratch = Scratch::new("season");
    let season = scratch.join("season");
    fs::create_dir_all(&season).unwrap();
    for (i, opened) in [1.0, 1.01, 1.02, 1.03, 1.04].into_iter().enumerate() {
        let name = format!("week-{i}");
        day(&season, &name, 7.0 * i as f64, opened);
    }
    let first = json(&run(
        &scratch.0,
        &["compare", "--season", "season", "--json"],
    ));
    assert_eq!(first["n_recordings"], 5);
    let tip = &first["tips"][0];
    assert_eq!(
        (&tip["n_on_line"], &tip["change"]),
        (&5.into(), &"moved_up".into()),
        "{tip}"
    );
    let summary = season.join("week-0/report/curves.parquet");
    let written = fs::metadata(&summary).unwrap().modified().unwrap();
    // Read again: nothing is made anew, and the answer is the same.
    let second = json(&run(
        &scratch.0,
        &["compare", "--season", "season", "--json"],
    ));
    assert_eq!(second, first);
    assert_eq!(fs::metadata(&summary).unwrap().modified().unwrap(), written);
    // A recording that changed is read afresh.
    let session = season.join("week-0").join(SESSION);
    let more = fs::read_to_string(&session).unwrap() + "# looked through\n";
    fs::write(&session, more).unwrap();
    done(&run(
        &scratch.0,
        &["compare", "--season", "season", "--output", "page"],
    ));
    assert_ne!(fs::metadata(&summary).unwrap().modified().unwrap(), written);
    let page = fs::read_to_string(scratch.join("page/season.html")).unwrap();
    let result: Value =
        serde_json::from_str(&fs::read_to_string(scratch.join("page/season.json")).unwrap())
            .unwrap();
    every_number_of_the_page_is_in_the_result(&page, &result);
}

#[cfg(feature = "tables")]
#[test]
fn a_recording_exported_to_parquet_has_its_rows() {
    let scratch = Scratch::new("parquet");
    let folder = text(&fixture("rec-10"));
    done(&run(
        &scratch.0,
        &["export", &folder, "--output", "out", "--format", "parquet"],
    ));
    for name in ["samples.parquet", "notes.parquet", SESSION] {
        assert!(scratch.join("out").join(name).is_file(), "{name}");
    }
    assert!(!scratch.join("out").join(SAMPLES).exists());
}

#[test]
fn help_has_examples_and_completions_and_manual_know_the_verbs() {
    let scratch = Scratch::new("help");
    for verb in ["plan", "compare", "export"] {
        let said = done(&run(&scratch.0, &[verb, "--help"]));
        assert!(said.contains("Examples"), "{verb}: {said}");
        let manual = done(&run(&scratch.0, &["man"]));
        assert!(manual.contains(verb), "{verb} in the manual");
        for shell in ["bash", "zsh", "fish"] {
            let completions = done(&run(&scratch.0, &["completions", shell]));
            assert!(completions.contains(verb), "{verb} in {shell}");
        }
    }
}

/// Every example that the help shows is run as it stands, in the folder of a demo.
#[test]
fn the_examples_of_the_help_run() {
    let scratch = Scratch::new("examples");
    done(&run(&scratch.0, &["demo", "--output", "demo"]));
    let folder = scratch.join("demo");
    let mut n = 0;
    for verb in ["plan", "compare", "export"] {
        let help = done(&run(&folder, &[verb, "--help"]));
        for line in help.lines().filter(|l| l.starts_with("  tipcurve ")) {
            let args: Vec<&str> = line.split_whitespace().skip(1).collect();
            let needs_parquet = args.contains(&"parquet") || args.contains(&"--season");
            let output = run(&folder, &args);
            if needs_parquet && !cfg!(feature = "tables") {
                let said = refused(&output);
                assert!(said.contains("has no Parquet"), "{line}: {said}");
            } else {
                assert_eq!(output.status.code(), Some(0), "{line}: {output:?}");
            }
            n += 1;
        }
    }
    assert_eq!(n, 10);
}
