//! `kill -9` at random moments: every recording opens, and at most a second of it is missing.
//!
//! `TIPCURVE_KILLS` sets how many (200 is the full count).

use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use tipcurve::recording::Data;
use tipcurve::recording::load::load;

use crate::program::{Program, Socket, log_of, text, wait_until};
use crate::rig::{Plugged, Rig};
use crate::scratch::Scratch;

/// Kills without the variable.
const FEW: usize = 12;

/// Recorders that run and die at the same time.
const AT_ONCE: usize = 4;

/// Most that may be missing.
const MOST_MISSING: Duration = Duration::from_secs(1);

pub fn count_of(variable: &str, otherwise: usize) -> usize {
    std::env::var(variable).map_or(otherwise, |n| n.parse().expect("a count"))
}

/// Numbers that are spread well; the seed is printed so that a failure can be had again.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// A duration from zero to `most`.
    pub fn up_to(&mut self, most: Duration) -> Duration {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let share = f64::from(u32::try_from(self.0 >> 40).unwrap()) / f64::from(1u32 << 24);
        most.mul_f64(share)
    }
}

/// Records, kills, and checks what the disk has. Gives how late the last byte on the disk is.
fn kill_once(recording: &Path, resumes: bool, wait: Duration) -> Duration {
    let socket = Socket::open();
    let before = log_of(recording).len();
    let mut args = vec!["record", text(recording), "--port", &socket.address];
    // Every other one with the page, which must not matter.
    if resumes {
        args.extend(["--resume", "--no-page"]);
    }
    let program = Program::start(&args);
    let rig: Rig = socket.plug(Plugged {
        sample_rate_hz: 1_000,
        ..Plugged::default()
    });
    wait_until("the first bytes", || log_of(recording).len() > before + 100);
    std::thread::sleep(wait);
    // A process that waits for the disk is gone from this moment on, but is buried only afterwards.
    let killed = Instant::now();
    program.kill();
    let sent = rig.sent.lock().unwrap();
    let log = &log_of(recording)[before..];
    // A resumed log may begin with the delimiter that ends what was torn.
    let own = if sent.bytes.starts_with(log) {
        log
    } else {
        &log[1..]
    };
    assert!(sent.bytes.starts_with(own), "the log is not what was sent");
    let missing = sent
        .marks
        .iter()
        .find(|(_, total)| *total > own.len())
        .map_or(Duration::ZERO, |(at, _)| {
            killed.saturating_duration_since(*at)
        });
    assert!(missing <= MOST_MISSING, "{missing:?} missing");
    missing
}

#[test]
fn every_recording_opens_after_a_kill_and_misses_a_second_at_most() {
    let kills = count_of("TIPCURVE_KILLS", FEW);
    let folder = Scratch::in_memory("kills");
    let seed = u64::from(std::process::id());
    let worst = Mutex::new(Duration::ZERO);
    let folder = &folder;
    std::thread::scope(|scope| {
        for lane in 0..AT_ONCE {
            let worst = &worst;
            scope.spawn(move || {
                let mut chance = Chance::new(seed + lane as u64);
                // Every fourth lane goes on with one recording, torn again and again.
                let resumes = lane == 0;
                for k in (lane..kills).step_by(AT_ONCE) {
                    let name = if resumes { 0 } else { k };
                    let recording = folder.join(&format!("kill-{lane}-{name}"));
                    let wait = chance.up_to(Duration::from_millis(1_500));
                    let missing = kill_once(&recording, resumes && recording.exists(), wait);
                    let mut worst = worst.lock().unwrap();
                    *worst = missing.max(*worst);
                    drop(worst);
                    check_opens(&recording);
                }
            });
        }
    });
    println!(
        "{kills} kills (seed {seed}): every recording opens, most missing {:.0} ms",
        worst.into_inner().unwrap().as_secs_f64() * 1e3
    );
}

fn check_opens(recording: &Path) {
    let loaded = load(recording).unwrap_or_else(|error| panic!("it does not open: {error}"));
    let Data::Device(log) = loaded.data else {
        panic!("no log of a device")
    };
    assert!(log.t_s.to_vec().windows(2).all(|pair| pair[0] < pair[1]));
}
