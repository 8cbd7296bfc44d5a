//! The known word nearest to a mistyped one.

/// Two words closer than this (0 to 1, Jaro and Winkler) are likely the same word mistyped: the least at
/// which the option parser itself suggests one.
const LIKE: f64 = 0.7;

/// `; did you mean "..."?`, or nothing when no known word is near.
pub(super) fn suggestion<'a>(asked: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let asked = asked.trim().to_lowercase();
    let near = known
        .into_iter()
        .filter(|word| !word.trim().is_empty())
        .map(|word| {
            (
                strsim::jaro_winkler(&asked, &word.trim().to_lowercase()),
                word,
            )
        })
        .filter(|(like, _)| *like > LIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    near.map_or_else(String::new, |(_, word)| {
        format!("; did you mean \u{201c}{word}\u{201d}?")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_answered_with_the_word_and_something_else_is_not() {
        let known = ["cabin enamel", "hull primer", "locker stain"];
        assert_eq!(
            suggestion("cabin enamal", known),
            "; did you mean \u{201c}cabin enamel\u{201d}?"
        );
        assert_eq!(
            suggestion("Hullprimer", known),
            "; did you mean \u{201c}hull primer\u{201d}?"
        );
        assert_eq!(suggestion("zzz", known), "");
        assert_eq!(suggestion("415", []), "");
    }
}
