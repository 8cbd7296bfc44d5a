//! The help, the completions, the manual and the examples in them.

use crate::scratch::Scratch;
use crate::{done, refused, run};

#[test]
fn help_has_examples_and_completions_and_manual_know_the_verbs() {
    let scratch = Scratch::new("help");
    for verb in ["plan", "compare", "export"] {
        let said = done(&run(scratch.path(), &[verb, "--help"]));
        assert!(said.contains("Examples"), "{verb}: {said}");
        let manual = done(&run(scratch.path(), &["man"]));
        assert!(manual.contains(verb), "{verb} in the manual");
        for shell in ["bash", "zsh", "fish"] {
            let completions = done(&run(scratch.path(), &["completions", shell]));
            assert!(completions.contains(verb), "{verb} in {shell}");
        }
    }
}

/// Every example that the help shows is run as it stands, in the folder of a demo.
#[test]
fn the_examples_of_the_help_run() {
    let scratch = Scratch::new("examples");
    done(&run(scratch.path(), &["demo", "--output", "demo"]));
    let folder = scratch.join("demo");
    let mut n = 0;
    for verb in ["plan", "compare", "export"] {
        let help = done(&run(&folder, &[verb, "--help"]));
        for line in help.lines().filter(|l| l.starts_with("  tipcurve ")) {
            let args: Vec<&str> = line.split_whitespace().skip(1).collect();
            let needs_parquet = args.contains(&"parquet") || args.contains(&"--season");
            let output = run(&folder, &args);
            if needs_parquet && !cfg!(feature = "tables") {
                let said = refused(&output);
                assert!(said.contains("has no Parquet"), "{line}: {said}");
            } else {
                assert_eq!(output.status.code(), Some(0), "{line}: {output:?}");
            }
            n += 1;
        }
    }
    assert_eq!(n, 10);
}
