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

/// Reads a truth file.
///
/// # Panics
/// When the file cannot be read or a key is missing: the files are the tests' own.
#[must_use]
pub fn read_truth(path: &Path) -> Truth {
    let whole = || -> Result<Value, Box<dyn std::error::Error>> {
        Ok(serde_json::from_str(&std::fs::read_to_string(path)?)?)
    };
    let value = whole().unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
    truth_of(&value)
}

/// Reads the truth of a JSON object.
///
/// # Panics
/// When a key is missing; the message names it.
#[must_use]
pub fn truth_of(v: &Value) -> Truth {
    Truth {
        family: word(v, "family"),
        accept_labels: words(v, "accept_labels"),
        refusal_expected: flag(&v["refusal"], "expected"),
        alignment: word(v, "alignment"),
        groups: list(v, "groups").iter().map(group).collect(),
        bursts: list(v, "bursts").iter().map(burst).collect(),
        notes: list(v, "notes")
            .iter()
            .filter(|note| flag(note, "scored"))
            .map(|note| {
                let row = index(&note["row"]);
                let row = row.unwrap_or_else(|| missing(note, "row"));
                (row, optional(note, "burst").and_then(index))
            })
            .collect(),
        forbidden: words(&v["advice"], "forbidden"),
        subject_tip: word(&v["subject"], "tip"),
        plan: optional(v, "plan").map(|plan| {
            let at = |key| number(plan, key);
            (word(plan, "tip"), at("pressure_bar"), at("flow_l_min"))
        }),
        watch_offset_s: number(&v["grader"], "watch_offset_s"),
    }
}

fn group(g: &Value) -> TruthGroup {
    TruthGroup {
        tip: word(g, "tip"),
        material: word(g, "material"),
        thinner_pct: number(g, "thinner_pct"),
        k: number(g, "k"),
        n: number(g, "n"),
        p_clear_bar: number(g, "p_clear_bar"),
        bursts: {
            let all: Option<Vec<usize>> = list(g, "bursts").iter().map(index).collect();
            all.unwrap_or_else(|| missing(g, "bursts"))
        },
    }
}

fn burst(b: &Value) -> TruthBurst {
    TruthBurst {
        start_s: number(b, "start_s"),
        end_s: number(b, "end_s"),
        kind: word(b, "kind"),
    }
}

fn missing(v: &Value, key: &str) -> ! {
    panic!("the truth has no usable `{key}` in {v}")
}

/// A key that must be there and may be `null`.
fn optional<'a>(v: &'a Value, key: &str) -> Option<&'a Value> {
    let value = v.get(key).unwrap_or_else(|| missing(v, key));
    (!value.is_null()).then_some(value)
}

fn list<'a>(v: &'a Value, key: &str) -> &'a [Value] {
    v[key].as_array().unwrap_or_else(|| missing(v, key))
}

fn word(v: &Value, key: &str) -> String {
    let text = v[key].as_str().unwrap_or_else(|| missing(v, key));
    text.to_owned()
}

fn words(v: &Value, key: &str) -> Vec<String> {
    let text = |item: &Value| item.as_str().map(str::to_owned);
    let all: Option<Vec<String>> = list(v, key).iter().map(text).collect();
    all.unwrap_or_else(|| missing(v, key))
}

fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap_or_else(|| missing(v, key))
}

fn flag(v: &Value, key: &str) -> bool {
    v[key].as_bool().unwrap_or_else(|| missing(v, key))
}

fn index(v: &Value) -> Option<usize> {
    v.as_u64().and_then(|i| usize::try_from(i).ok())
}
