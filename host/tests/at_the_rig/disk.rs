//! Disks that are full or may not be written. A small file system of its own needs root; without it
//! the test says that it was skipped.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tipcurve::recording::load::load;

use crate::program::{Program, Socket, log_of, run, text, wait_until};
use crate::rig::Plugged;
use crate::scratch::Scratch;

/// A file system in memory, unmounted when it goes out of scope.
struct Disk(PathBuf);

impl Disk {
    /// `None`, with a printed word, where this user may not mount.
    fn mount(at: PathBuf, options: &str) -> Option<Self> {
        std::fs::create_dir_all(&at).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "tipcurve-test"])
            .arg(&at)
            .stderr(Stdio::null())
            .status();
        if mounted.is_ok_and(|status| status.success()) {
            return Some(Self(at));
        }
        println!("SKIPPED: no small file system: this user may not mount one");
        None
    }

    fn remount(&self, options: &str) {
        let options = format!("remount,{options}");
        let done = Command::new("mount")
            .args(["-o", &options])
            .arg(&self.0)
            .status();
        assert!(done.unwrap().success(), "remount");
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

fn fill(path: &Path) {
    let _ = std::fs::write(path, vec![0; 64 << 20]);
}

#[test]
fn a_disk_that_fills_up_loses_nothing_once_there_is_room_again() {
    let folder = Scratch::new("fills");
    let Some(disk) = Disk::mount(folder.join("disk"), "size=8m") else {
        return;
    };
    let recording = disk.0.join("one");
    let socket = Socket::open();
    let program = Program::record(&recording, &socket.address);
    let rig = socket.plug(Plugged::default());
    wait_until("some log", || log_of(&recording).len() > 1_000);
    let ballast = disk.0.join("ballast");
    fill(&ballast);
    program.wait_for("the disk is full: nothing is lost yet");
    let stuck = log_of(&recording).len();
    wait_until("bytes that wait", || {
        rig.sent.lock().unwrap().bytes.len() > stuck + 5_000
    });
    std::fs::remove_file(&ballast).unwrap();
    wait_until("the rest in the log", || {
        log_of(&recording).len() > stuck + 5_000
    });
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    let sent = rig.sent.lock().unwrap();
    assert!(sent.bytes.starts_with(&log_of(&recording)));
    load(&recording).unwrap();
}

#[test]
fn a_disk_that_stays_full_ends_with_what_could_not_be_written() {
    let folder = Scratch::new("full");
    let Some(disk) = Disk::mount(folder.join("disk"), "size=8m") else {
        return;
    };
    let recording = disk.0.join("one");
    let socket = Socket::open();
    let program = Program::record(&recording, &socket.address);
    let rig = socket.plug(Plugged::default());
    wait_until("some log", || log_of(&recording).len() > 1_000);
    fill(&disk.0.join("ballast"));
    program.wait_for("the disk is full");
    let said = program.stop();
    assert_eq!(said.code, Some(1), "{}", said.err);
    assert!(
        said.err
            .contains("bytes received could not be written, everything before them is intact"),
        "{}",
        said.err
    );
    let sent = rig.sent.lock().unwrap();
    assert!(sent.bytes.starts_with(&log_of(&recording)));
}

#[test]
fn a_full_disk_is_refused_before_the_first_byte() {
    let folder = Scratch::new("no-room");
    let Some(disk) = Disk::mount(folder.join("disk"), "size=1m") else {
        return;
    };
    let recording = disk.0.join("one");
    let said = run(&["record", text(&recording), "--no-page", "--port", "-"]);
    assert_eq!(said.code, Some(2));
    assert!(said.err.contains("the disk is full") && said.err.contains("nothing was recorded"));
    assert!(!recording.exists());
}

#[test]
fn a_read_only_disk_is_refused_and_one_that_becomes_so_is_told() {
    let folder = Scratch::new("read-only");
    let Some(disk) = Disk::mount(folder.join("disk"), "size=8m,ro") else {
        return;
    };
    let recording = disk.0.join("one");
    let said = run(&["record", text(&recording), "--no-page", "--port", "-"]);
    assert_eq!(said.code, Some(2));
    assert!(
        said.err.contains(
            "the disk is read-only; choose a folder on another disk; nothing was recorded"
        ),
        "{}",
        said.err
    );
    let new = run(&["new", text(&recording), "--no-questions"]);
    assert_eq!(new.code, Some(2));
    assert!(new.err.contains("nothing was made"), "{}", new.err);
    disk.remount("rw");
    let made = run(&["new", text(&recording), "--no-questions"]);
    assert_eq!(made.code, Some(0), "{}", made.err);
    disk.remount("ro");
    let note = run(&["note", text(&recording), "--tails", "1"]);
    assert_ne!(note.code, Some(0));
    assert!(note.err.contains("the note was not added"), "{}", note.err);
}

#[test]
fn a_folder_that_may_not_be_written_is_refused() {
    let folder = Scratch::new("forbidden");
    let locked = folder.join("locked");
    std::fs::create_dir(&locked).unwrap();
    let mut rights = std::fs::metadata(&locked).unwrap().permissions();
    std::os::unix::fs::PermissionsExt::set_mode(&mut rights, 0o555);
    std::fs::set_permissions(&locked, rights).unwrap();
    if std::fs::write(locked.join("try"), "").is_ok() {
        println!("SKIPPED: a forbidden folder: this user may write everywhere");
        return;
    }
    let recording = locked.join("one");
    let said = run(&["record", text(&recording), "--no-page", "--port", "-"]);
    assert_eq!(said.code, Some(2));
    assert!(
        said.err
            .contains("you may not write here; choose a folder of your own; nothing was recorded"),
        "{}",
        said.err
    );
}

/// The folder is closed, the log deleted and the folder moved while it is recorded into: an open file minds neither
/// closing nor moving, and a deleted one comes back.
#[test]
fn a_folder_that_is_closed_emptied_or_moved_meanwhile_costs_nothing() {
    let folder = Scratch::new("meanwhile");
    let socket = Socket::open();
    let (recording, moved) = (folder.join("one"), folder.join("two"));
    let program = Program::record(&recording, &socket.address);
    let rig = socket.plug(Plugged::default());
    let grows = |path: &Path| {
        let before = log_of(path).len();
        wait_until("it goes on", || log_of(path).len() > before + 500);
    };
    wait_until("some log", || log_of(&recording).len() > 1_000);
    let set_mode = |mode| {
        let mut rights = std::fs::metadata(&recording).unwrap().permissions();
        std::os::unix::fs::PermissionsExt::set_mode(&mut rights, mode);
        std::fs::set_permissions(&recording, rights).unwrap();
    };
    set_mode(0o555);
    grows(&recording);
    set_mode(0o755);
    for name in ["frames.log", "arrivals.csv"] {
        std::fs::remove_file(recording.join(name)).unwrap();
    }
    wait_until("it is back", || log_of(&recording).len() > 1_000);
    grows(&recording);
    std::fs::rename(&recording, &moved).unwrap();
    grows(&moved);
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    let log = log_of(&moved);
    assert!(rig.sent.lock().unwrap().bytes.starts_with(&log) && log.len() > 2_000);
    load(&moved).unwrap();
}

#[test]
fn another_file_in_the_place_of_the_log_is_told_and_left_alone() {
    let folder = Scratch::new("replaced");
    let socket = Socket::open();
    let recording = folder.join("one");
    let program = Program::record(&recording, &socket.address);
    let rig = socket.plug(Plugged::default());
    wait_until("some log", || log_of(&recording).len() > 1_000);
    let (other, place) = (folder.join("other"), recording.join("frames.log"));
    std::fs::write(&other, "mine").unwrap();
    std::fs::rename(&other, &place).unwrap();
    program.wait_for("another file stands in the place of");
    assert_eq!(log_of(&recording), b"mine");
    std::fs::rename(&place, &other).unwrap();
    wait_until("the log is back", || log_of(&recording).len() > 1_000);
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert!(
        rig.sent
            .lock()
            .unwrap()
            .bytes
            .starts_with(&log_of(&recording))
    );
}
