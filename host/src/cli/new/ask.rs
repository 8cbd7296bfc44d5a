//! The few questions of `tipcurve new`, at a terminal. An empty answer leaves an example to fill in.

use std::io::{BufRead, IsTerminal, Write};

use super::session::Answers;
use crate::cli::Stop;
use crate::cli::prompt::{list, number, text};

/// Asks for what was not given. Without a terminal nothing is asked.
pub(super) fn complete(given: Answers) -> Result<Answers, Stop> {
    let input = std::io::stdin();
    if !input.is_terminal() {
        return Ok(given);
    }
    println!("An empty answer leaves an example in session.toml to fill in later.");
    ask_all(given, &mut input.lock(), &mut std::io::stdout())
}

fn ask_all(
    mut answers: Answers,
    input: &mut impl BufRead,
    out: &mut impl Write,
) -> Result<Answers, Stop> {
    if answers.rig.is_none() {
        answers.rig = text(input, out, "Rig, in your own words")?;
    }
    if answers.working_pressure_bar.is_none() {
        answers.working_pressure_bar = number(
            input,
            out,
            "Lowest rated working pressure of pump, hose, gun and fittings, bar",
        )?;
    }
    if answers.full_scale_bar.is_none() {
        answers.full_scale_bar = number(input, out, "Full scale of the pressure sensor, bar")?;
    }
    if answers.pulses_per_litre.is_none() {
        answers.pulses_per_litre = number(input, out, "Pulses of the flow meter per litre")?;
    }
    if answers.materials.is_empty() {
        answers.materials = list(input, out, "Coatings, with commas between")?;
    }
    if answers.tips.is_empty() {
        answers.tips = list(input, out, "Tip codes, with commas between")?;
    }
    Ok(answers)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_taken_one_by_one_and_a_wrong_number_is_asked_again() {
        let typed = "bench pump\nmany\n210\n\n2500,5\nhull primer, enamel\n311,415\n";
        let mut said = Vec::new();
        let answers = ask_all(Answers::default(), &mut typed.as_bytes(), &mut said).unwrap();
        assert_eq!(answers.rig.as_deref(), Some("bench pump"));
        assert_eq!(answers.working_pressure_bar, Some(210.0));
        assert_eq!(answers.full_scale_bar, None);
        assert_eq!(answers.pulses_per_litre, Some(2500.5));
        assert_eq!(answers.materials, ["hull primer", "enamel"]);
        assert_eq!(answers.tips, ["311", "415"]);
        let said = String::from_utf8(said).unwrap();
        assert!(said.contains("\"many\" is not a number above zero"));
    }
}
