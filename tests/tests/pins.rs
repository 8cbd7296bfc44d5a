//! `hardware/` against the code of the boards: pins in the table, in the diagrams and in the wiring are the same, the
//! diagrams are what their sources give, and the uncertainty budgets add up.

use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn text_of(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|fault| panic!("{path}: {fault}"))
}

/// Cells of the rows below a heading, the head of the table left out.
fn rows_below(text: &str, start: &str) -> Vec<Vec<String>> {
    let (_, rest) = text
        .split_once(start)
        .unwrap_or_else(|| panic!("no {start:?}"));
    let lines = rest.lines().skip_while(|line| !line.starts_with("| ---"));
    let rows = lines.skip(1).take_while(|line| line.starts_with('|'));
    rows.map(|row| {
        row.trim_matches('|')
            .split('|')
            .map(|cell| cell.trim().to_owned())
            .collect()
    })
    .collect()
}

/// The pin of each signal on a board: `(signal, pin)`.
fn pins(column: usize) -> Vec<(String, String)> {
    let rows = rows_below(&text_of("hardware/README.md"), "## Pins");
    assert_eq!(rows.len(), 8);
    rows.into_iter()
        .map(|row| (row[0].clone(), row[column].clone()))
        .collect()
}

fn pin_of(pins: &[(String, String)], signal: &str) -> String {
    let found = pins.iter().find(|(name, _)| name == signal);
    found.unwrap_or_else(|| panic!("no row {signal}")).1.clone()
}

#[track_caller]
fn check_diagram(name: &str, pins: &[(String, String)]) {
    let source = text_of(&format!("hardware/wiring/{name}.txt"));
    for (signal, pin) in pins {
        let expected = format!("pin board left {pin} {signal}");
        assert!(
            source.lines().any(|line| line == expected),
            "{name}.txt: no line {expected:?}"
        );
        let wire = format!(" board.{pin}");
        assert!(
            source.lines().any(|line| line.contains(&wire)),
            "{name}.txt: no wire to {pin}"
        );
    }
}

/// The code must hold each piece, in this order.
#[track_caller]
fn check_code(path: &str, pieces: &[String]) {
    let code = text_of(path);
    let mut rest = code.as_str();
    for piece in pieces {
        let Some((_, after)) = rest.split_once(piece.as_str()) else {
            panic!("{path}: no {piece:?} after the piece before it");
        };
        rest = after;
    }
}

#[test]
fn stm32f4_is_wired_as_the_table_says() {
    let pins = pins(1);
    check_diagram("stm32f4", &pins);
    let pin = |signal| pin_of(&pins, signal);
    // `PB8` of the table is `b.pb8` in the code.
    let in_code = |signal| {
        let pin = pin(signal).to_lowercase();
        format!("{}.{pin}", &pin[1..2])
    };
    check_code(
        "firmware/boards/stm32f4/src/main.rs",
        &[
            format!("| {} | flow meter", pin("flow")),
            format!(
                "| {}, {} | serial line out and in",
                pin("serial out"),
                pin("serial in")
            ),
            format!("| {} | mark button", pin("button")),
            format!(
                "| {}, {} | clock and data of the pressure",
                pin("clock, pressure"),
                pin("data, pressure")
            ),
            format!(
                "| {}, {} | clock and data of the slow",
                pin("clock, slow"),
                pin("data, slow")
            ),
            format!("scl = {}.", in_code("clock, pressure")),
            format!("sda = {}.", in_code("data, pressure")),
            "chip.I2C1".to_owned(),
            format!("scl = {}.", in_code("clock, slow")),
            format!("sda = {}.", in_code("data, slow")),
            "chip.I2C2".to_owned(),
            format!("({}, {})", in_code("serial out"), in_code("serial in")),
            format!("let _flow = {}.", in_code("flow")),
            format!("button: {}.", in_code("button")),
        ],
    );
}

#[test]
fn rp2040_is_wired_as_the_table_says() {
    let pins = pins(2);
    check_diagram("rp2040", &pins);
    let pin = |signal| pin_of(&pins, signal);
    let in_code = |signal| pin(signal).replace("GP", "pins.gpio");
    check_code(
        "firmware/boards/rp2040/src/main.rs",
        &[
            format!(
                "| {}, {} | serial line out and in",
                pin("serial out"),
                pin("serial in")
            ),
            format!(
                "| {}, {} | data and clock of the pressure",
                pin("data, pressure"),
                pin("clock, pressure")
            ),
            format!(
                "| {}, {} | data and clock of the slow",
                pin("data, slow"),
                pin("clock, slow")
            ),
            format!("| {} | mark button", pin("button")),
            format!("| {} | flow meter", pin("flow")),
            format!("sda = InOutPin::new({})", in_code("data, pressure")),
            format!("scl = InOutPin::new({})", in_code("clock, pressure")),
            "chip.I2C0".to_owned(),
            format!("sda = InOutPin::new({})", in_code("data, slow")),
            format!("scl = InOutPin::new({})", in_code("clock, slow")),
            "chip.I2C1".to_owned(),
            format!(
                "({}.into_function(), {}.into_function())",
                in_code("serial out"),
                in_code("serial in")
            ),
            format!("FlowPin = {}.", in_code("flow")),
            format!("button: {}.", in_code("button")),
        ],
    );
}

#[test]
fn diagrams_are_what_their_sources_give() {
    let drawn = Command::new("python3")
        .arg(root().join("hardware/draw.py"))
        .arg("--check")
        .output();
    let drawn = drawn.expect("python3 starts");
    assert!(
        drawn.status.success(),
        "{}",
        String::from_utf8_lossy(&drawn.stderr)
    );
}

/// Contributions add by squares (JCGM 100:2008, equation 10, uncorrelated), and a limit divided by its divisor is the
/// standard uncertainty beside it.
#[track_caller]
fn check_budget(start: &str) {
    let number = |cell: &str| {
        cell.trim_matches('*')
            .split(' ')
            .next()
            .and_then(|n| n.parse::<f64>().ok())
    };
    let rows = rows_below(&text_of("hardware/README.md"), start);
    let (totals, parts): (Vec<_>, Vec<_>) = rows.iter().partition(|row| row[0].starts_with("**"));
    let mut sum: f64 = 0.0;
    for row in &parts {
        let standard = number(&row[3]).expect("a standard uncertainty");
        if let Some(limit) = number(&row[1]) {
            let divided = limit / number(&row[2]).expect("a divisor");
            assert!(
                (divided - standard).abs() < 0.004,
                "{}: {divided} is not {standard}",
                row[0]
            );
        }
        sum += standard.powi(2);
    }
    let together = number(&totals[0][3]).expect("a total");
    assert!(
        (sum.sqrt() - together).abs() < 0.001,
        "{start}: {} is not {together}",
        sum.sqrt()
    );
    let expanded = number(&totals[1][3]).expect("an expanded uncertainty");
    assert!(
        (2.0 * together - expanded).abs() < 0.05,
        "{start}: twice {together} is not {expanded}"
    );
}

#[test]
fn uncertainty_budgets_add_up() {
    check_budget("Pressure at 150 bar");
    check_budget("Flow at 1.5 L/min");
}
