//! `tipcurve note`: a note from another terminal, into the same file as the page's buttons.

use std::fs::File;
use std::path::Path;

use super::Stop;
use super::args::NoteArgs;
use crate::live::desk::{Desk, NoteRequest};
use crate::live::notebook::FolderDesk;
use crate::record::host_clock::system_unix_s;
use crate::recording::folder;
use crate::recording::notes::KnownEvent;

pub(super) fn run(args: &NoteArgs) -> Result<(), Stop> {
    let path = &args.recording;
    if !is_recording(path) {
        return Err(Stop::bad_input(format!(
            "{}: no recording is there (no {}, {} or {}); make one with tipcurve new or tipcurve record; \
             nothing was written",
            path.display(),
            folder::FRAMES,
            folder::SAMPLES,
            folder::SESSION
        )));
    }
    let now_unix_s = system_unix_s();
    let offset_s = super::local::utc_offset_s(now_unix_s);
    let desk = if is_being_recorded(path) {
        FolderDesk::new(path.clone(), offset_s)
    } else {
        FolderDesk::of_ended(path.clone(), offset_s)
    };
    let id = format!("terminal-{}", std::process::id());
    if args.undo {
        desk.undo(now_unix_s, &id).map_err(Stop::bad_input)?;
        println!("the latest note of {} is taken back", path.display());
    } else {
        let note = request(args, &id)
            .into_note(now_unix_s)
            .map_err(Stop::bad_input)?;
        desk.add_note(note, &id).map_err(Stop::failed)?;
        println!("noted in {}", path.join(folder::NOTES).display());
    }
    if !is_being_recorded(path) {
        eprintln!("no recorder is writing into {} at present", path.display());
    }
    Ok(())
}

fn request(args: &NoteArgs, id: &str) -> NoteRequest {
    let text = args.text.join(" ");
    // A tip or coating that is set anew describes no burst; a grade that comes with it does.
    let observes = args.tails.is_some() || args.ran || args.comb.is_some();
    let event = match (&args.event, &args.tip) {
        (Some(event), _) => Some(event.clone()),
        (None, Some(_)) if !observes => Some(KnownEvent::TipChanged.code().to_owned()),
        (None, None) if !observes && (args.material.is_some() || args.dial.is_some()) => {
            Some(KnownEvent::Setup.code().to_owned())
        }
        _ => None,
    };
    NoteRequest {
        id: id.to_owned(),
        age_s: args.ago,
        tip: args.tip.clone(),
        tip_family: args.tip_family.clone(),
        material: args.material.clone(),
        thinner_pct: args.thinner,
        dial: args.dial.clone(),
        tails: args.tails,
        runs: args.ran.then_some(true),
        comb_um: args.comb,
        event,
        text: (!text.is_empty()).then_some(text),
    }
}

fn is_recording(path: &Path) -> bool {
    [folder::FRAMES, folder::SAMPLES, folder::SESSION]
        .iter()
        .any(|name| path.join(name).is_file())
}

/// A recorder holds the lock of its log.
fn is_being_recorded(path: &Path) -> bool {
    File::open(path.join(folder::FRAMES)).is_ok_and(|file| file.try_lock_shared().is_err())
}
