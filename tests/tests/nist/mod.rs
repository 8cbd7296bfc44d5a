//! Reader of the `nist_*.csv` files in `checks/`, and the count of certified digits met.
//!
//! Source of every value: NIST Statistical Reference Datasets (StRD), certified values.

// Each test file uses its own part of this module.
#![allow(dead_code, unreachable_pub)]
// Unwrapping is how a test fails.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::path::PathBuf;

/// One data set: certified values by name, starting values, and rows of ordinate and abscissas.
pub struct DataSet {
    pub certified: BTreeMap<String, f64>,
    pub certified_sd: BTreeMap<String, f64>,
    pub starts: [Vec<f64>; 2],
    pub y: Vec<f64>,
    pub x: Vec<Vec<f64>>,
}

impl DataSet {
    /// Read `checks/nist_<name>.csv`.
    pub fn read(name: &str) -> Self {
        let file = format!("checks/nist_{name}.csv");
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(file);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
        let mut rows = text
            .lines()
            .map(|line| line.split(',').collect::<Vec<&str>>());
        let header = rows.next().unwrap();
        let y_column = header.iter().position(|h| *h == "y").unwrap();
        let mut set = Self {
            certified: BTreeMap::new(),
            certified_sd: BTreeMap::new(),
            starts: [Vec::new(), Vec::new()],
            y: Vec::new(),
            x: Vec::new(),
        };
        for row in rows {
            let number = |i: usize| row.get(i).and_then(|t| t.parse::<f64>().ok());
            match row[0] {
                "certified" => {
                    set.certified.insert(row[1].into(), number(2).unwrap());
                    if let (true, Some(sd)) = (y_column > 3, number(3)) {
                        set.certified_sd.insert(row[1].into(), sd);
                    }
                }
                "start1" => set.starts[0].push(number(2).unwrap()),
                "start2" => set.starts[1].push(number(2).unwrap()),
                "data" => {
                    set.y.push(number(y_column).unwrap());
                    let x = (y_column + 1..header.len()).map(|i| number(i).unwrap());
                    set.x.push(x.collect());
                }
                other => panic!("{name}: unknown row kind {other}"),
            }
        }
        set
    }

    /// Certified parameters `b0, b1, ...` in order, with their standard deviations.
    pub fn parameters(&self) -> Vec<(f64, f64)> {
        let names = self.certified.keys().filter(|k| k.starts_with('b'));
        names
            .map(|k| (self.certified[k], self.certified_sd[k]))
            .collect()
    }
}

/// Number of digits that agree: minus the decimal logarithm of the relative (for a certified zero, the
/// absolute) difference.
pub fn digits(value: f64, certified: f64) -> f64 {
    let difference = (value - certified).abs();
    let relative = if certified == 0.0 {
        difference
    } else {
        difference / certified.abs()
    };
    if relative == 0.0 {
        16.0
    } else {
        -relative.log10()
    }
}

/// Fail unless at least `needed` digits agree.
#[track_caller]
pub fn assert_digits(what: &str, value: f64, certified: f64, needed: f64) {
    let met = digits(value, certified);
    assert!(
        met >= needed,
        "{what}: {value} against certified {certified}: {met:.1} digits"
    );
}
