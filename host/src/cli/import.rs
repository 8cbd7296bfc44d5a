//! `tipcurve import`: the plain-text interchange to a recording folder, all or nothing.

use std::fs;
use std::path::Path;

use crate::interchange::{SourceFiles, import_files};
use crate::recording::folder::{NOTES, SAMPLES, SESSION, name_of};
use crate::recording::{Data, FlowColumn};

use super::Stop;
use super::args::ImportArgs;

pub(super) fn run(args: &ImportArgs) -> Result<(), Stop> {
    if args.output.exists() {
        return Err(Stop::bad_input(format!(
            "{} already exists; nothing was imported",
            args.output.display()
        )));
    }
    let files = SourceFiles::in_folder(&args.source);
    // Everything is read and checked before the first byte is written.
    let recording = import_files(&files, &name_of(&args.output)).map_err(Stop::bad_input)?;
    copy_all(args).map_err(|e| {
        Stop::failed(format!(
            "{}: cannot write: {e}; nothing was imported",
            args.output.display()
        ))
    })?;
    let (n_rows, has_pulses) = match &recording.data {
        Data::Samples(table) => (table.t_s.len(), matches!(table.flow, FlowColumn::Pulses(_))),
        Data::Device(log) => (log.t_s.len(), true),
    };
    if args.json {
        let value = serde_json::json!({
            "recording": args.output,
            "samples": n_rows,
            "notes": recording.notes.len(),
            "flow": if has_pulses { "pulses" } else { "rate" },
            "unknown_keys": recording.settings.unknown_keys.iter().map(|(k, _)| k).collect::<Vec<_>>(),
        });
        println!("{value}");
        return Ok(());
    }
    println!(
        "{}: {n_rows} samples, {} notes",
        args.output.display(),
        recording.notes.len()
    );
    for (key, _) in &recording.settings.unknown_keys {
        println!("session.toml: the key {key} is not known here; it was kept");
    }
    println!("next: tipcurve report {}", args.output.display());
    Ok(())
}

/// Copies the files as they are into a folder beside the wanted one, then moves that into place.
fn copy_all(args: &ImportArgs) -> std::io::Result<()> {
    let mut part = args.output.clone().into_os_string();
    part.push(".part");
    let part = Path::new(&part);
    if part.exists() {
        fs::remove_dir_all(part)?;
    }
    fs::create_dir_all(part)?;
    for name in [SAMPLES, NOTES, SESSION] {
        fs::copy(args.source.join(name), part.join(name))?;
    }
    fs::rename(part, &args.output)
}
