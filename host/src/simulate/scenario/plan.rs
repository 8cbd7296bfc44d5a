//! Building a plan: the habits of a session, so that each scenario says only what is special in it.
//!
//! A session starts and ends with the line relieved, which gives the zero; the dial is turned while the
//! trigger is shut; a tip is changed on a relieved line and noted.

use super::super::random::RandomStream;
use super::super::restriction::Restriction;
use super::{Action, PullKind};

/// A plan in the making.
#[derive(Debug)]
pub struct PlanBuilder<'a> {
    actions: Vec<Action>,
    random: &'a mut RandomStream,
    mark: Option<usize>,
    /// Shortest and longest pull, s.
    pull_s: (f64, f64),
    /// Shortest and longest rest between pulls, s.
    rest_s: (f64, f64),
    /// Whether the line is bled when the dial is lowered.
    bleeds: bool,
}

impl<'a> PlanBuilder<'a> {
    /// A plan whose pulls last within `pull_s` and whose rests within `rest_s`.
    #[must_use]
    pub fn new(random: &'a mut RandomStream, pull_s: (f64, f64), rest_s: (f64, f64)) -> Self {
        let bleeds = random.chance(0.5);
        Self {
            actions: Vec::new(),
            random,
            mark: None,
            pull_s,
            rest_s,
            bleeds,
        }
    }

    /// The plan as it stands.
    #[must_use]
    pub fn finish(self) -> Vec<Action> {
        self.actions
    }

    /// One action as it is.
    pub fn act(&mut self, action: Action) {
        self.actions.push(action);
    }

    /// The random numbers of the plan.
    pub const fn random(&mut self) -> &mut RandomStream {
        self.random
    }

    /// Relieved line for a while, then pressure at a mark.
    pub fn open(&mut self, mark: usize) {
        let rest_s = self.random.uniform(5.0, 9.0);
        self.act(Action::Wait(rest_s));
        self.press(mark);
    }

    /// Pressure on again at a mark.
    pub fn press(&mut self, mark: usize) {
        self.turn(mark);
        let rise_s = self.random.uniform(4.0, 8.0);
        self.act(Action::Pressurise(rise_s));
    }

    /// Turns the dial where it is not there yet.
    pub fn turn(&mut self, mark: usize) {
        let is_lower = self.mark.is_some_and(|before| mark < before);
        if self.mark != Some(mark) {
            self.act(Action::Turn {
                mark,
                bleed: is_lower && self.bleeds,
            });
        }
        self.mark = Some(mark);
    }

    /// Three short pulls and their note.
    pub fn sync(&mut self) {
        for _ in 0..3 {
            let duration_s = self.random.uniform(0.38, 0.6);
            self.pull(PullKind::Sync, duration_s, false);
            let gap_s = self.random.uniform(0.6, 0.9);
            self.act(Action::Wait(gap_s));
        }
        self.act(Action::Write {
            event: "sync",
            text: "three short pulls",
            states_setting: false,
        });
    }

    /// One pull that is sprayed and noted at a mark.
    pub fn spray(&mut self, mark: usize) {
        self.spray_noted(mark, true);
    }

    /// One pull that is sprayed at a mark, noted or not.
    pub fn spray_noted(&mut self, mark: usize, is_noted: bool) {
        self.rest();
        self.turn(mark);
        let settle_s = self.random.uniform(2.0, 4.0);
        self.act(Action::Wait(settle_s));
        let duration_s = self.random.uniform(self.pull_s.0, self.pull_s.1);
        self.pull(PullKind::Spray, duration_s, is_noted);
    }

    /// A short try that nobody writes down.
    pub fn test_pull(&mut self) {
        self.rest();
        let duration_s = self.random.uniform(0.5, 1.0);
        self.pull(PullKind::Test, duration_s, false);
    }

    /// Sprays of each mark in order, then so many rounds of all marks in random order.
    pub fn rounds(&mut self, marks: &[usize], count: usize) {
        for _ in 0..count {
            let mut order = marks.to_vec();
            self.random.shuffle(&mut order);
            for mark in order {
                self.spray(mark);
            }
        }
    }

    /// A blockage begins.
    pub fn block(&mut self, restriction: Restriction) {
        self.act(Action::Block(restriction));
    }

    /// Another tip on a relieved line, then pressure again at a mark.
    pub fn change_tip(&mut self, tip: usize, mark: usize, is_noted: bool) {
        self.relieve();
        self.act(Action::Fit(tip));
        if is_noted {
            self.act(Action::Write {
                event: "tip_changed",
                text: "",
                states_setting: true,
            });
        }
        let work_s = self.random.uniform(8.0, 20.0);
        self.act(Action::Wait(work_s));
        self.press(mark);
    }

    /// The line relieved.
    pub fn relieve(&mut self) {
        self.rest();
        let relieved_s = self.random.uniform(4.0, 6.0);
        self.act(Action::Relieve(relieved_s));
    }

    /// The end: line relieved, perhaps noted, a few seconds of zero.
    pub fn close(&mut self) {
        self.relieve();
        if self.random.chance(0.6) {
            self.act(Action::Write {
                event: "relieved",
                text: "",
                states_setting: false,
            });
        }
        let rest_s = self.random.uniform(3.0, 6.0);
        self.act(Action::Wait(rest_s));
    }

    fn pull(&mut self, kind: PullKind, duration_s: f64, is_noted: bool) {
        self.act(Action::Pull {
            kind,
            duration_s,
            is_noted,
        });
    }

    fn rest(&mut self) {
        let rest_s = self.random.uniform(self.rest_s.0, self.rest_s.1);
        self.act(Action::Wait(rest_s));
    }
}
