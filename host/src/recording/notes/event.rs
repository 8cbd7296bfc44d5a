//! The events that every part of the program knows.

use super::Note;

/// An event of the interchange format. Any other word in that column is the user's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KnownEvent {
    /// Three short pulls in a row.
    Sync,
    /// A battery was swapped.
    BatterySwap,
    /// A filter was cleaned.
    FilterCleaned,
    /// Another tip is in the gun.
    TipChanged,
    /// Coating, thinner or control position were set.
    Setup,
    /// The line was relieved of pressure.
    Relieved,
}

impl KnownEvent {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Sync,
        Self::BatterySwap,
        Self::FilterCleaned,
        Self::TipChanged,
        Self::Setup,
        Self::Relieved,
    ];

    /// As it stands in `notes.csv`.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Sync => "sync",
            Self::BatterySwap => "battery_swap",
            Self::FilterCleaned => "filter_cleaned",
            Self::TipChanged => "tip_changed",
            Self::Setup => "setup",
            Self::Relieved => "relieved",
        }
    }

    /// As it is told to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Sync => "sync pulls",
            Self::BatterySwap => "battery swapped",
            Self::FilterCleaned => "filter cleaned",
            Self::TipChanged => "tip changed",
            Self::Setup => "set up",
            Self::Relieved => "line relieved",
        }
    }

    /// The event of a cell; `None` for the user's own words.
    #[must_use]
    pub fn of(cell: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|event| event.code() == cell)
    }
}

impl Note {
    /// The event, where it is one that every part knows.
    #[must_use]
    pub fn known_event(&self) -> Option<KnownEvent> {
        self.event.as_deref().and_then(KnownEvent::of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_of_the_files_lists_them_all() {
        let page = include_str!("../../../docs/files.md");
        let row = page.lines().find(|line| line.starts_with("| `event` |"));
        for event in KnownEvent::ALL {
            let code = format!("`{}`", event.code());
            assert!(row.is_some_and(|row| row.contains(&code)), "{code}");
        }
    }

    #[test]
    fn a_known_event_has_words_and_any_other_is_the_users_own() {
        for event in KnownEvent::ALL {
            assert_eq!(KnownEvent::of(event.code()), Some(event));
            assert!(!event.words().contains('_'), "{event:?}");
        }
        for own in ["lunch_break", "Sync", "", "sync "] {
            assert_eq!(KnownEvent::of(own), None, "{own}");
        }
    }
}
