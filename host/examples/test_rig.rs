//! Serves the test rig on a loopback socket, for the browser tests: prints its address, plays to each
//! recorder that connects, ends when standard input does.
//!
//! `test_rig [--rate HZ]`
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    dead_code,
    missing_docs,
    unreachable_pub
)]

#[path = "../tests/at_the_rig/rig.rs"]
mod rig;

use std::io::Read;
use std::net::TcpListener;

use rig::{Plugged, Rig};

fn main() {
    let rate = std::env::args().skip_while(|arg| arg != "--rate").nth(1);
    let plugged = Plugged {
        sample_rate_hz: rate.map_or(500, |hz| hz.parse().unwrap()),
        ..Plugged::default()
    };
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    println!("tcp:{}", listener.local_addr().unwrap());
    std::thread::spawn(move || {
        for (index, stream) in (1..).zip(listener.incoming()) {
            let stream = stream.unwrap();
            let boot = Plugged {
                boot_id: index,
                ..plugged
            };
            Rig::play(boot, stream.try_clone().unwrap(), stream).wait();
        }
    });
    let mut rest = Vec::new();
    let _ = std::io::stdin().read_to_end(&mut rest);
}
