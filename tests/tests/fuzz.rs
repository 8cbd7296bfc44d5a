//! The committed corpus of every fuzz target, and a fixed number of mutations of it, in the ordinary suite.
//!
//! libFuzzer looks for more (`tests/fuzz`): what it found is in the corpus, and so stays mended.

use std::path::{Path, PathBuf};

use rand::seq::IndexedRandom;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tipcurve_tests::fuzz::{TARGETS, Target};

/// Mutations of each target, and the variable that asks for another number: `TIPCURVE_MUTATIONS=1000000 cargo test --test fuzz`.
const N_MUTATIONS: u64 = 4_000;
const MORE: &str = "TIPCURVE_MUTATIONS";

fn corpus(target: &Target) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/corpus")
        .join(target.name);
    let entries = std::fs::read_dir(&folder);
    let entries = entries.unwrap_or_else(|fault| panic!("{}: {fault}", folder.display()));
    let mut files: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    files.sort();
    assert!(!files.is_empty(), "{}: no corpus", target.name);
    files
        .into_iter()
        .map(|path| {
            let bytes = std::fs::read(&path).expect("a file of the corpus");
            (path, bytes)
        })
        .collect()
}

/// One to eight small changes, as libFuzzer makes them.
fn mutate(bytes: &mut Vec<u8>, others: &[Vec<u8>], random: &mut impl Rng) {
    for _ in 0..random.random_range(1..=8) {
        let at = random.random_range(0..=bytes.len());
        let end = bytes.len().min(at + random.random_range(0..=16));
        match random.random_range(0..7) {
            0 if at < bytes.len() => bytes[at] ^= 1 << random.random_range(0..8),
            1 if at < bytes.len() => bytes[at] = random.random(),
            2 => bytes.insert(at, random.random()),
            3 => drop(bytes.drain(at..end)),
            4 => {
                let piece = bytes[at..end].to_vec();
                let to = random.random_range(0..=bytes.len());
                bytes.splice(to..to, piece);
            }
            5 => {
                let other = others.choose(random).map_or(&[][..], |other| other);
                let from = random.random_range(0..=other.len());
                let to = other.len().min(from + random.random_range(0..=64));
                bytes.splice(at..end, other[from..to].iter().copied());
            }
            _ => {
                let words: [&[u8]; 8] = [
                    b"nan",
                    b"-1",
                    b"1e309",
                    b"\"",
                    b",",
                    b"\n",
                    b"\0",
                    b"\xff\xff\xff\xff\x0f",
                ];
                let word = words.choose(random).copied().unwrap_or_default();
                bytes.splice(at..end, word.iter().copied());
            }
        }
    }
}

/// Runs one input; the file or the bytes are named if it fails.
fn run(target: &Target, what: &str, bytes: &[u8]) {
    let outcome = std::panic::catch_unwind(|| (target.check)(bytes));
    if outcome.is_err() {
        let escaped = bytes.escape_ascii();
        panic!("target {}, {what}: \"{escaped}\"", target.name);
    }
}

fn run_target(name: &str) {
    let target = TARGETS.iter().find(|target| target.name == name);
    let target = target.expect("a target of the list");
    let files = corpus(target);
    for (path, bytes) in &files {
        run(target, &path.display().to_string(), bytes);
    }
    let inputs: Vec<Vec<u8>> = files.into_iter().map(|(_, bytes)| bytes).collect();
    let asked = std::env::var(MORE).ok().and_then(|n| n.parse().ok());
    let n_mutations = asked.unwrap_or(N_MUTATIONS);
    // Another number of mutations begins elsewhere, so that a long run is not the short one again.
    let mut random = ChaCha8Rng::seed_from_u64(n_mutations);
    for turn in 0..n_mutations {
        let mut bytes = inputs.choose(&mut random).cloned().unwrap_or_default();
        mutate(&mut bytes, &inputs, &mut random);
        run(target, &format!("mutation {turn}"), &bytes);
    }
}

/// A test for each target, so that they run side by side and fail by name.
macro_rules! targets {
    ($($name:ident),*) => {
        $(#[test]
        fn $name() {
            run_target(stringify!($name));
        })*

        #[test]
        fn every_target_is_tried_here_and_has_its_libfuzzer_program() {
            let mut tried = vec![$(stringify!($name)),*];
            let mut listed: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
            tried.sort_unstable();
            listed.sort_unstable();
            assert_eq!(tried, listed);
            let fuzz = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz");
            let manifest = std::fs::read_to_string(fuzz.join("Cargo.toml")).expect("its manifest");
            for name in listed {
                assert!(manifest.contains(&format!("name = \"{name}\"")), "{name}");
                assert!(fuzz.join(format!("fuzz_targets/{name}.rs")).exists(), "{name}");
            }
        }
    };
}

targets!(
    stream,
    block,
    frames,
    log,
    core,
    notes,
    samples,
    session,
    calibration,
    http
);
