//! The steps of a calibration, one question at a time: caution, zero, span, catches, zero again.

use std::io::{BufRead, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, Builder};
use std::time::Duration;

use crate::calibrate::entries::{CatchEntry, Entries, Indication, SpanEntry};
use crate::calibrate::{CAUTION, PRESSURE_CAUTION};
use crate::cli::Stop;
use crate::cli::prompt::line_or_end;
use crate::live::readings::{CaughtEdges, ReadingFault, RestMean};
use crate::units::Pascal;

/// What is measured with.
pub(super) trait Instrument: Sync {
    /// Mean of the pressure over the next seconds.
    fn mean(&self) -> Result<RestMean, ReadingFault>;
    /// Begins a catch.
    fn start_catch(&self) -> Result<(), ReadingFault>;
    /// Pulses of the catch so far.
    fn pulses(&self) -> u32;
    /// Ends a catch.
    fn stop_catch(&self) -> Result<CaughtEdges, ReadingFault>;
}

/// Goes through all steps. Nothing is written here; stopping anywhere leaves nothing behind.
pub(super) fn ask_all(
    start: Entries,
    instrument: &dyn Instrument,
    input: &mut impl BufRead,
    out: &mut impl Write,
    is_terminal: bool,
) -> Result<Entries, Stop> {
    let mut guide = Guide {
        entries: start,
        instrument,
        input,
        out,
        is_terminal,
    };
    guide.caution()?;
    guide.operator()?;
    guide.entries.zero =
        guide.zero("Press Enter to take the zero (five seconds), or s to leave it out")?;
    if guide.wants_pressure()? {
        if guide.entries.zero.is_some() {
            guide.span()?;
        }
        guide.catches()?;
        if guide.entries.zero.is_some() {
            guide.zero_after()?;
        }
    }
    Ok(guide.entries)
}

struct Guide<'a, I, O> {
    entries: Entries,
    instrument: &'a dyn Instrument,
    input: &'a mut I,
    out: &'a mut O,
    is_terminal: bool,
}

impl<I: BufRead, O: Write> Guide<'_, I, O> {
    fn say(&mut self, words: &str) -> Result<(), Stop> {
        writeln!(self.out, "{words}")
            .map_err(|e| Stop::failed(format!("the terminal is gone: {e}; nothing was written")))
    }

    /// An answer; the end of the input stops everything.
    fn ask(&mut self, question: &str) -> Result<String, Stop> {
        line_or_end(self.input, self.out, question)?.ok_or_else(|| {
            Stop::bad_input("the answers ended before the calibration did; nothing was written")
        })
    }

    /// A number above zero; `None` for an empty answer.
    fn number(&mut self, question: &str) -> Result<Option<f64>, Stop> {
        loop {
            let answer = self.ask(question)?;
            if answer.is_empty() {
                return Ok(None);
            }
            match answer.replace(',', ".").parse::<f64>() {
                Ok(value) if value > 0.0 && value.is_finite() => return Ok(Some(value)),
                _ => self.say(&format!("\"{answer}\" is not a number above zero"))?,
            }
        }
    }

    fn confirm(&mut self, question: &str) -> Result<(), Stop> {
        let answer = self.ask(question)?;
        if answer.eq_ignore_ascii_case("yes") {
            return Ok(());
        }
        Err(Stop::bad_input(
            "stopped: pressure was not confirmed to be relieved; nothing was written",
        ))
    }

    fn caution(&mut self) -> Result<(), Stop> {
        self.say(CAUTION)?;
        self.confirm("Pressure is relieved and the trigger locked (type yes)")?;
        self.entries.relieved = true;
        Ok(())
    }

    fn operator(&mut self) -> Result<(), Stop> {
        while self.entries.operator.is_empty() {
            self.entries.operator = self.ask("Your initials")?;
        }
        Ok(())
    }

    fn zero(&mut self, question: &str) -> Result<Option<Indication>, Stop> {
        loop {
            if self.ask(question)?.eq_ignore_ascii_case("s") {
                return Ok(None);
            }
            if let Some(mean) = self.mean()? {
                return Ok(Some(Indication {
                    indicated_pa: mean.indicated_pa,
                    u_indicated_pa: mean.u_indicated_pa,
                }));
            }
        }
    }

    fn mean(&mut self) -> Result<Option<RestMean>, Stop> {
        self.say("reading ...")?;
        match self.instrument.mean() {
            Ok(mean) => {
                let bar = Pascal(mean.indicated_pa).as_bar();
                self.say(&format!("the sensor shows {bar:.3} bar"))?;
                Ok(Some(mean))
            }
            Err(fault) => {
                self.say(&fault.to_string())?;
                Ok(None)
            }
        }
    }

    fn wants_pressure(&mut self) -> Result<bool, Stop> {
        self.say(PRESSURE_CAUTION)?;
        let answer =
            self.ask("Press Enter to go on with span and catches, or s to leave both out")?;
        Ok(!answer.eq_ignore_ascii_case("s"))
    }

    fn span(&mut self) -> Result<(), Stop> {
        self.say("Span: hold a pressure with the gun closed, and read the reference gauge.")?;
        loop {
            let question = "The reference gauge shows, bar (empty when there are no more)";
            let Some(gauge_bar) = self.number(question)? else {
                return Ok(());
            };
            if let Some(mean) = self.mean()? {
                self.entries.span.push(SpanEntry {
                    reference_pa: Pascal::from_bar(gauge_bar).si(),
                    indicated_pa: mean.indicated_pa,
                    u_indicated_pa: mean.u_indicated_pa,
                });
            }
        }
    }

    fn catches(&mut self) -> Result<(), Stop> {
        self.say(
            "Catches: four or more, at different flows, half a minute or longer each. Start with the \
             trigger closed, spray into the vessel, close the trigger, then stop.",
        )?;
        loop {
            let n = self.entries.catches.len() + 1;
            let question = format!("Press Enter to start catch {n}, or d when done");
            if self.ask(&question)?.eq_ignore_ascii_case("d") {
                break;
            }
            if let Err(fault) = self.instrument.start_catch() {
                self.say(&fault.to_string())?;
                continue;
            }
            self.counting()?;
            match self.instrument.stop_catch() {
                Ok(caught) => self.weigh(caught)?,
                Err(fault) => self.say(&fault.to_string())?,
            }
        }
        if self.entries.catches.is_empty() {
            return Ok(());
        }
        self.liquid()
    }

    /// Waits for Enter while the pulses run up on a terminal.
    fn counting(&mut self) -> Result<(), Stop> {
        let is_over = AtomicBool::new(false);
        let (instrument, shows) = (self.instrument, self.is_terminal);
        thread::scope(|scope| {
            // Without a thread nothing is shown meanwhile; the pulses are counted all the same.
            let _ = Builder::new().spawn_scoped(scope, || {
                while shows && !is_over.load(Ordering::Relaxed) {
                    let mut err = std::io::stderr().lock();
                    // A terminal that is gone shows at the next question.
                    let _ = write!(err, "\r{} pulses, Enter when closed ", instrument.pulses());
                    let _ = err.flush();
                    drop(err);
                    thread::sleep(Duration::from_millis(200));
                }
            });
            let answer = self.ask("Close the trigger, then press Enter");
            is_over.store(true, Ordering::Relaxed);
            answer.map(drop)
        })
    }

    fn weigh(&mut self, caught: CaughtEdges) -> Result<(), Stop> {
        let (n, s) = (caught.n_edges, caught.duration_s);
        self.say(&format!("{n} pulses in {s:.1} s"))?;
        let grams = self.number("Caught, g, vessel subtracted (empty to drop this catch)")?;
        if let Some(grams) = grams {
            self.entries.catches.push(CatchEntry {
                caught_kg: grams * 1.0e-3,
                n_edges: n,
                duration_s: s,
            });
        }
        Ok(())
    }

    fn liquid(&mut self) -> Result<(), Stop> {
        if self.entries.density_kg_per_m3.is_none() {
            let question = "Density of the liquid, kg/m3 (empty for water)";
            self.entries.density_kg_per_m3 = self.number(question)?;
        }
        if self.entries.density_kg_per_m3.is_none() && self.entries.liquid_c.is_none() {
            let question = "Temperature of the water, degrees Celsius (empty for about 20)";
            self.entries.liquid_c = self.number(question)?;
        }
        Ok(())
    }

    /// The zero again, once the line is relieved; left out when nothing was under pressure.
    fn zero_after(&mut self) -> Result<(), Stop> {
        self.confirm("Relieve pressure and lock the trigger again (type yes)")?;
        let question =
            "Press Enter to take the zero once more, which shows its drift, or s to leave it out";
        self.entries.zero_after = self.zero(question)?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;

    /// Gives its means in order.
    struct Bench(Mutex<Vec<Result<f64, ReadingFault>>>);

    impl Instrument for Bench {
        fn mean(&self) -> Result<RestMean, ReadingFault> {
            self.0.lock().unwrap().remove(0).map(|bar| RestMean {
                indicated_pa: bar * 1.0e5,
                u_indicated_pa: 200.0,
                n_samples: 2_500,
            })
        }

        fn start_catch(&self) -> Result<(), ReadingFault> {
            Ok(())
        }

        fn pulses(&self) -> u32 {
            7
        }

        fn stop_catch(&self) -> Result<CaughtEdges, ReadingFault> {
            Ok(CaughtEdges {
                n_edges: 1_250,
                duration_s: 31.2,
            })
        }
    }

    fn guided(
        typed: &str,
        means: Vec<Result<f64, ReadingFault>>,
    ) -> (Result<Entries, String>, String) {
        let mut said = Vec::new();
        let bench = Bench(Mutex::new(means));
        let outcome = ask_all(
            Entries::default(),
            &bench,
            &mut typed.as_bytes(),
            &mut said,
            false,
        );
        let outcome = outcome.map_err(|stop| stop.message);
        (outcome, String::from_utf8(said).unwrap())
    }

    #[test]
    fn the_caution_comes_first_and_without_a_yes_nothing_happens() {
        let (outcome, said) = guided("no\n", Vec::new());
        assert!(said.starts_with("Relieve pressure at the gun"), "{said}");
        assert!(outcome.unwrap_err().contains("nothing was written"));
        let (ended, _) = guided("yes\n", Vec::new());
        assert!(ended.unwrap_err().starts_with("the answers ended"));
    }

    #[test]
    fn every_step_ends_in_the_entries() {
        let moving = ReadingFault::Moving {
            moved_pa: 3.0e5,
            seconds: 5.0,
        };
        let typed = "yes\nAB\n\n\n\n50\nfifty\n150\n\n\n\n498,5\nd\n\n21\nyes\n\n";
        let means = vec![Err(moving), Ok(0.1), Ok(49.0), Ok(147.0), Ok(0.12)];
        let (outcome, said) = guided(typed, means);
        let entries = outcome.unwrap();
        assert_eq!(entries.operator, "AB");
        assert!(entries.relieved);
        assert_eq!(entries.zero.unwrap().indicated_pa, 1.0e4);
        assert_eq!(entries.span.len(), 2);
        assert!((entries.span[1].reference_pa - 1.5e7).abs() < 1e-6);
        assert_eq!(entries.catches[0].n_edges, 1_250);
        assert!((entries.catches[0].caught_kg - 0.4985).abs() < 1e-12);
        assert_eq!(entries.liquid_c, Some(21.0));
        assert_eq!(entries.zero_after.unwrap().indicated_pa, 1.2e4);
        let under_pressure = said.find("The line comes under pressure now").unwrap();
        assert!(under_pressure < said.find("Span:").unwrap());
        for words in [
            "let the line come to rest",
            "\"fifty\" is not a number",
            "1250 pulses in 31.2 s",
        ] {
            assert!(said.contains(words), "no \"{words}\" in\n{said}");
        }
    }

    #[test]
    fn a_zero_alone_is_a_calibration() {
        let (outcome, _) = guided("yes\nAB\n\ns\n", vec![Ok(0.1)]);
        let entries = outcome.unwrap();
        assert!(entries.zero.is_some() && entries.span.is_empty() && entries.catches.is_empty());
    }
}
