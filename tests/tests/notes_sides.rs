//! Notes edited from three sides in any order: the page, `tipcurve note`, and a spreadsheet that saves the whole file
//! as it knew it. No row and no correction is lost, and taking back deletes nothing.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use proptest::prelude::*;
use proptest::sample::select;
use tipcurve::live::desk::{Desk, DeskError};
use tipcurve::live::feed::NoteBook;
use tipcurve::live::notebook::{FolderDesk, FolderNotes};
use tipcurve::recording::folder;
use tipcurve::recording::load::{LoadError, load};
use tipcurve::recording::notes::{self, Note, NoteTime};
use tipcurve_tests::disk::{Sector, cut_power};
use tipcurve_tests::scratch::Scratch;
use tipcurve_tests::sheet::{Sheet, Style};

const OFFSET_S: f64 = 3_600.0;

#[derive(Debug, Clone)]
enum Step {
    /// The page, or the verb in a process of its own, adds a note or takes one back.
    Note {
        by_page: bool,
    },
    Undo {
        by_page: bool,
    },
    /// The page looks after the file.
    Poll,
    /// The spreadsheet opens the file anew.
    Open,
    /// A row is typed, a grade is corrected; nobody sees it before it is saved.
    Type {
        has_date: bool,
    },
    Correct {
        row: usize,
        tails: u8,
    },
    Save(Style),
}

fn style() -> impl Strategy<Value = Style> {
    (any::<[bool; 4]>(), 0..12_u8).prop_map(|(is, last)| Style {
        has_mark: is[0],
        has_crlf: is[1],
        quotes_all: is[2],
        renames: is[3],
        // Rare, as such a file is waited for.
        lacks_last_break: last == 0,
    })
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => any::<bool>().prop_map(|by_page| Step::Note { by_page }),
        2 => any::<bool>().prop_map(|by_page| Step::Undo { by_page }),
        1 => Just(Step::Poll),
        1 => Just(Step::Open),
        2 => any::<bool>().prop_map(|has_date| Step::Type { has_date }),
        2 => (0..8_usize, 0..4_u8).prop_map(|(row, tails)| Step::Correct { row, tails }),
        3 => style().prop_map(Step::Save),
    ]
}

/// The three sides, and what must stand in the end.
struct Sides {
    folder: Scratch,
    page: FolderDesk,
    book: FolderNotes,
    sheet: Sheet,
    n: usize,
    now_s: f64,
    /// Grade of every note by its text.
    grades: BTreeMap<String, u8>,
    /// What the spreadsheet has not saved yet.
    unsaved: BTreeMap<String, u8>,
    taken_back: BTreeSet<String>,
}

impl Sides {
    fn new() -> Self {
        static N: AtomicUsize = AtomicUsize::new(0);
        let folder = Scratch::in_memory(&format!("sides-{}", N.fetch_add(1, Ordering::Relaxed)));
        folder.write(folder::NOTES, notes::write(&[], OFFSET_S));
        let path = folder.path().to_owned();
        let mut sides = Self {
            page: FolderDesk::new(path.clone(), OFFSET_S),
            book: FolderNotes::new(path, OFFSET_S),
            folder,
            sheet: Sheet::default(),
            n: 0,
            now_s: 1.7e9,
            grades: BTreeMap::new(),
            unsaved: BTreeMap::new(),
            taken_back: BTreeSet::new(),
        };
        sides.sheet = Sheet::open(&sides.path());
        sides
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join(folder::NOTES)
    }

    fn read(&self) -> Vec<Note> {
        notes::read(&self.folder.read(folder::NOTES)).unwrap()
    }

    fn desk(&self, by_page: bool) -> Option<FolderDesk> {
        // A verb is a process of its own: it knows of no other.
        let path = self.folder.path().to_owned();
        (!by_page).then(|| FolderDesk::new(path, OFFSET_S))
    }

    fn take(&mut self, step: &Step) -> Result<(), TestCaseError> {
        self.n += 1;
        match step {
            Step::Note { by_page } => self.note(*by_page),
            Step::Undo { by_page } => self.undo(*by_page)?,
            Step::Poll => self.poll()?,
            Step::Open => {
                self.sheet = Sheet::open(&self.path());
                self.unsaved.clear();
            }
            Step::Type { has_date } => {
                let text = format!("sheet, row \"{}\"", self.n);
                let (minute, second) = (self.n / 60, self.n % 60);
                let date = if *has_date { "2023-11-15T" } else { "" };
                let offset = if *has_date { "+01:00" } else { "" };
                let time = format!("{date}09:{minute:02}:{second:02}{offset}");
                self.sheet
                    .add_row(&[("time", &time), ("tails", "0"), ("text", &text)]);
                self.unsaved.insert(text, 0);
            }
            Step::Correct { row, tails } => {
                let rows = 0..self.sheet.rows.len();
                let notes: Vec<usize> = rows
                    .filter(|i| self.sheet.get(*i, "event") != notes::UNDO)
                    .collect();
                if let Some(row) = notes.get(*row) {
                    self.sheet.set(*row, "tails", &tails.to_string());
                    let text = self.sheet.get(*row, "text").to_owned();
                    self.unsaved.insert(text, *tails);
                }
            }
            Step::Save(style) => {
                self.sheet.save(&self.path(), *style);
                self.grades.append(&mut self.unsaved);
            }
        }
        Ok(())
    }

    fn note(&mut self, by_page: bool) {
        // Two of three come at the very moment of the one before.
        self.now_s += if self.n.is_multiple_of(3) { 1.25 } else { 0.0 };
        let text = format!("{}, note {}", if by_page { "page" } else { "verb" }, self.n);
        let note = Note {
            time: NoteTime::Absolute {
                unix_s: self.now_s,
                resolution_s: 1.0e-3,
            },
            tails: Some(1),
            text: Some(text.clone()),
            ..Note::default()
        };
        let verb = self.desk(by_page);
        let desk = verb.as_ref().unwrap_or(&self.page);
        desk.add_note(note, &format!("note-{:04}", self.n)).unwrap();
        self.grades.insert(text, 1);
    }

    fn undo(&mut self, by_page: bool) -> Result<(), TestCaseError> {
        let verb = self.desk(by_page);
        let desk = verb.as_ref().unwrap_or(&self.page);
        let done = desk.undo(self.now_s, &format!("undo-{:04}", self.n));
        let now = self.read();
        let back = texts_taken_back(&now);
        if done == Err(DeskError::NothingToUndo) {
            prop_assert!(standing(&now).is_empty());
            return Ok(());
        }
        done.unwrap();
        let new: Vec<&String> = back.difference(&self.taken_back).collect();
        prop_assert_eq!(new.len(), 1, "one note is taken back, not {:?}", new);
        // It was the last one standing: nothing that still stands is below it.
        let at = |text: &str| now.iter().position(|n| n.text.as_deref() == Some(text));
        for other in standing(&now) {
            prop_assert!(at(&other) < at(new[0]), "{other} is later than {}", new[0]);
        }
        self.taken_back = back;
        Ok(())
    }

    /// The page has looked: everything ever written stands there once, as it was last corrected.
    fn poll(&mut self) -> Result<(), TestCaseError> {
        self.book.poll();
        let now = self.read();
        let mut found: BTreeMap<String, u8> = BTreeMap::new();
        for note in now
            .iter()
            .filter(|n| n.event.as_deref() != Some(notes::UNDO))
        {
            let text = note.text.clone().unwrap();
            let twice = found.insert(text, note.tails.unwrap());
            prop_assert!(twice.is_none(), "twice: {:?}", note);
        }
        prop_assert_eq!(&found, &self.grades);
        prop_assert_eq!(&texts_taken_back(&now), &self.taken_back);
        Ok(())
    }
}

fn texts_taken_back(notes: &[Note]) -> BTreeSet<String> {
    let back = notes::taken_back(notes);
    let texts = notes.iter().zip(back).filter(|(_, is_back)| *is_back);
    texts.map(|(note, _)| note.text.clone().unwrap()).collect()
}

/// Notes that are no corrections and were not taken back.
fn standing(notes: &[Note]) -> Vec<String> {
    let back = notes::taken_back(notes);
    let texts = notes.iter().zip(back);
    texts
        .filter(|(note, is_back)| !is_back && note.event.as_deref() != Some(notes::UNDO))
        .map(|(note, _)| note.text.clone().unwrap())
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 96,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn page_verb_and_spreadsheet_lose_no_update(
        steps in prop::collection::vec(step(), 1..30)
    ) {
        let mut sides = Sides::new();
        for step in &steps {
            sides.take(step)?;
        }
        sides.poll()?;
        // A file that agrees is left alone.
        let before = sides.folder.read(folder::NOTES);
        sides.book.poll();
        prop_assert_eq!(sides.folder.read(folder::NOTES), before);
    }

    /// The power goes while a note is added: those before it are there, and more can be added.
    #[test]
    fn notes_outlive_a_power_cut(
        n_before in 0..6_usize,
        is_placed in any::<bool>(),
        sector_bytes in select(vec![16_usize, 512]),
        fates in prop::collection::vec(select(vec![Sector::Written, Sector::Zeroed, Sector::Missing]), 1..6),
    ) {
        let mut sides = Sides::new();
        for _ in 0..n_before {
            sides.take(&Step::Note { by_page: true })?;
        }
        let before = sides.grades.clone();
        let read_added = |sides: &Sides| {
            std::fs::read(sides.folder.path().join(folder::NOTES_ADDED)).unwrap_or_default()
        };
        let (old, synced) = (sides.folder.read(folder::NOTES), read_added(&sides).len());
        sides.take(&Step::Note { by_page: false })?;
        let added = cut_power(&read_added(&sides), synced, sector_bytes, &fates);
        sides.folder.write(folder::NOTES_ADDED, added);
        if !is_placed {
            // Neither the row nor the file that was to take the place is there, the latter perhaps in part.
            sides.folder.write("notes.csv.new", &old[..old.len() / 2]);
            sides.folder.write(folder::NOTES, old);
        }
        sides.take(&Step::Note { by_page: true })?;
        sides.book.poll();
        // The spreadsheet, saved from before, overwrites all of it; all of it comes back.
        sides.sheet.save(&sides.path(), Style::default());
        sides.book.poll();
        let now: BTreeSet<String> = sides.read().into_iter().filter_map(|n| n.text).collect();
        let last = sides.grades.keys().filter(|text| text.starts_with("page"));
        for text in before.keys().chain(last) {
            prop_assert!(now.contains(text), "{text} of {now:?}");
        }
    }

    /// A spreadsheet does not sync what it saves. What it lost is refused by name, and what programs added is back
    /// once the file is gone.
    #[test]
    fn a_spreadsheets_save_that_the_power_cut_took_costs_no_added_note(
        fates in prop::collection::vec(select(vec![Sector::Written, Sector::Zeroed, Sector::Missing]), 1..6),
    ) {
        let mut sides = Sides::new();
        sides.folder.write(folder::SAMPLES, "t_s,pressure_bar,flow_pulses\n0,1,0\n");
        for _ in 0..4 {
            sides.take(&Step::Note { by_page: true })?;
        }
        let saved = sides.folder.read(folder::NOTES);
        sides.folder.write(folder::NOTES, cut_power(&saved, 0, 64, &fates));
        match load(sides.folder.path()) {
            Ok(_) => {}
            Err(LoadError::Faulty { files }) => {
                prop_assert!(files.iter().all(|f| f.file == folder::NOTES), "{:?}", files);
                std::fs::remove_file(sides.path()).unwrap();
            }
            Err(other) => prop_assert!(false, "{other}"),
        }
        sides.book.poll();
        prop_assert_eq!(sides.read().len(), 4);
    }
}
