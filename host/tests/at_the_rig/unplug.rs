//! The plug pulled out and put back at random moments: one recording, nothing but the pause missing.
//!
//! `TIPCURVE_UNPLUGS` sets how many (50 is the full count).

use std::time::{Duration, Instant};

use tipcurve::recording::Data;
use tipcurve::recording::load::load;

use crate::kills::{Chance, count_of};
use crate::program::{Program, log_of, text, wait_until};
use crate::pty;
use crate::rig::{Plugged, Rig};
use crate::scratch::Scratch;

/// Pulls without the variable.
const FEW: usize = 6;

#[test]
fn a_recording_goes_on_after_every_unplugging() {
    let pulls = count_of("TIPCURVE_UNPLUGS", FEW);
    let folder = Scratch::new("unplug");
    let port = folder.join("logger");
    let recording = folder.join("one");
    let mut chance = Chance::new(u64::from(std::process::id()));
    let mut rig = plug(&port, 1);
    let program = Program::start(&[
        "record",
        text(&recording),
        "--no-page",
        "--port",
        text(&port),
        "--json",
    ]);
    let mut worst = Duration::ZERO;
    for k in 0..pulls {
        let before = log_of(&recording).len();
        wait_until("the log grows", || log_of(&recording).len() > before + 600);
        std::thread::sleep(chance.up_to(Duration::from_millis(700)));
        // What had gone out a moment ago is in the log, whatever becomes of the port.
        let pulled = Instant::now();
        let sent = std::sync::Arc::clone(&rig.sent);
        pty::unplug(&port, rig);
        let (settled, newest) = {
            let sent = sent.lock().unwrap();
            let by = sent.by(pulled.checked_sub(Duration::from_millis(200)).unwrap());
            (by, sent.bytes[by.saturating_sub(200)..by].to_vec())
        };
        if settled > 200 {
            wait_until("what had been sent is in the log", || {
                let log = log_of(&recording);
                log.windows(newest.len()).any(|part| part == newest)
            });
        }
        std::thread::sleep(chance.up_to(Duration::from_millis(600)));
        let length = log_of(&recording).len();
        let back = Instant::now();
        rig = plug(&port, u32::try_from(k).unwrap() + 2);
        wait_until("it goes on", || log_of(&recording).len() > length + 100);
        worst = worst.max(back.elapsed());
    }
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    let last: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(last["reconnects"], pulls, "{last}");
    let Data::Device(log) = load(&recording).unwrap().data else {
        panic!("no log of a device")
    };
    assert!(log.t_s.to_vec().windows(2).all(|pair| pair[0] < pair[1]));
    println!("{pulls} unpluggings: one recording, back after at most {worst:?}");
}

/// Every time another port, and the device starts anew as one on USB power does.
fn plug(port: &std::path::Path, boot_id: u32) -> Rig {
    pty::plug(
        port,
        Plugged {
            boot_id,
            ..Plugged::default()
        },
    )
}
