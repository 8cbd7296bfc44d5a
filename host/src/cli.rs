//! What the program says and reads at the terminal: the only place that prints.
//
// NOTE from the lead (13:57): main will have host/src/cli (args.rs, terminal.rs, hints.rs, main.rs) by about 14:10:
// `git merge main` then, and add only cli/record.rs, cli/note.rs, cli/calibrate.rs, cli/new.rs as verbs there.
