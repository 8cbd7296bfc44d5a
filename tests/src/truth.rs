//! A recording's truth file: what a test may ask after the analysis has answered.

use std::path::Path;

use serde_json::Value;

/// One state with one nozzle curve.
#[derive(Debug, Clone, PartialEq)]
pub struct TruthGroup {
    /// Tip code.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, per cent.
    pub thinner_pct: f64,
    /// Flow in L/min at 1 bar of the log-log fit.
    pub k: f64,
    /// Its exponent.
    pub n: f64,
    /// Where a perfect grader sees the tails vanish, bar.
    pub p_clear_bar: f64,
    /// Bursts of the state, in the truth's own numbering.
    pub bursts: Vec<usize>,
}

/// One burst of the truth.
#[derive(Debug, Clone, PartialEq)]
pub struct TruthBurst {
    /// Trigger opens, s.
    pub start_s: f64,
    /// Trigger closes, s.
    pub end_s: f64,
    /// `spray`, `test` or `sync`.
    pub kind: String,
}

/// A truth file.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Kind of situation.
    pub family: String,
    /// Labels that count as right.
    pub accept_labels: Vec<String>,
    /// Whether a refusal is the right answer.
    pub refusal_expected: bool,
    /// `clear` or `ambiguous`.
    pub alignment: String,
    /// States.
    pub groups: Vec<TruthGroup>,
    /// Bursts.
    pub bursts: Vec<TruthBurst>,
    /// Each scored note: row and burst.
    pub notes: Vec<(usize, Option<usize>)>,
    /// Advice that would be wrong.
    pub forbidden: Vec<String>,
    /// Tip that the verdict is about.
    pub subject_tip: String,
    /// The tip to predict with its pressure (bar) and flow (L/min) at full dial.
    pub plan: Option<(String, f64, f64)>,
    /// The note taker's clock less true time, s.
    pub watch_offset_s: f64,
}

/// Reads a truth file; a missing key is a panic, for the files are the tests' own.
///
/// # Panics
/// When the file cannot be read or a key is missing.
#[must_use]
#[allow(clippy::missing_panics_doc, clippy::expect_used)]
pub fn read_truth(path: &Path) -> Truth {
    let text = std::fs::read_to_string(path).expect("truth file");
    let v: Value = serde_json::from_str(&text).expect("truth JSON");
    let list = |v: &Value| v.as_array().cloned().unwrap_or_default();
    let word = |v: &Value| v.as_str().unwrap_or_default().to_owned();
    let number = |v: &Value| v.as_f64().unwrap_or(f64::NAN);
    let index = |v: &Value| v.as_u64().and_then(|i| usize::try_from(i).ok());
    Truth {
        family: word(&v["family"]),
        accept_labels: list(&v["accept_labels"]).iter().map(word).collect(),
        refusal_expected: v["refusal"]["expected"].as_bool().unwrap_or(false),
        alignment: word(&v["alignment"]),
        groups: list(&v["groups"])
            .iter()
            .map(|g| TruthGroup {
                tip: word(&g["tip"]),
                material: word(&g["material"]),
                thinner_pct: number(&g["thinner_pct"]),
                k: number(&g["k"]),
                n: number(&g["n"]),
                p_clear_bar: number(&g["p_clear_bar"]),
                bursts: list(&g["bursts"]).iter().filter_map(index).collect(),
            })
            .collect(),
        bursts: list(&v["bursts"])
            .iter()
            .map(|b| TruthBurst {
                start_s: number(&b["start_s"]),
                end_s: number(&b["end_s"]),
                kind: word(&b["kind"]),
            })
            .collect(),
        notes: list(&v["notes"])
            .iter()
            .filter(|n| n["scored"].as_bool().unwrap_or(false))
            .filter_map(|n| Some((index(&n["row"])?, index(&n["burst"]))))
            .collect(),
        forbidden: list(&v["advice"]["forbidden"]).iter().map(word).collect(),
        subject_tip: word(&v["subject"]["tip"]),
        plan: v["plan"]["tip"].as_str().map(|tip| {
            (
                tip.to_owned(),
                number(&v["plan"]["pressure_bar"]),
                number(&v["plan"]["flow_l_min"]),
            )
        }),
        watch_offset_s: number(&v["grader"]["watch_offset_s"]),
    }
}
