//! Advice for errors: what the person can do next, where the message itself does not say it.

/// The advice for a message, where there is some.
pub(super) fn hint_for(message: &str) -> Option<&'static str> {
    const HINTS: &[(&str, &str)] = &[
        (
            "class.toml: not found",
            "`tipcurve class FOLDER --template` writes one to fill in, with a block for each recording",
        ),
        (
            "there is a report already",
            "add --force to replace it, or choose another folder with --output",
        ),
        (
            "no such folder",
            "name a folder with a recording; `tipcurve demo` makes some to look at",
        ),
        (
            "no recording",
            "`tipcurve record FOLDER` fills one from a logger, `tipcurve import` from tables; of a folder of recordings name \
             each (FOLDER/*)",
        ),
        (
            "already exists",
            "choose another folder with --output; nothing was overwritten",
        ),
        (
            "nothing was imported",
            "mend the file and import again; the columns and units are in the README under \"Tables of your own\"",
        ),
    ];
    HINTS
        .iter()
        .find(|(part, _)| message.contains(part))
        .map(|(_, hint)| *hint)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_earlier_report_is_met_with_the_two_ways_on() {
        let hint = hint_for("x/report.html: there is a report already; nothing was overwritten");
        assert!(hint.unwrap().contains("--force"));
        assert_eq!(hint_for("something else"), None);
    }
}
