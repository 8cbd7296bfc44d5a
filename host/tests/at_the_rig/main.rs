//! The program at a rig, with real parts: child processes, pseudo-terminals, sockets, pipes, disks,
//! signals. What needs rights that this user does not have is skipped with a printed word.
#![cfg(unix)]
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    missing_docs,
    unreachable_pub
)]

mod calibrate;
mod disk;
mod kills;
mod notes;
mod program;
mod pty;
mod rig;
#[path = "../../src/scratch.rs"]
#[allow(dead_code)] // Another part of it is used elsewhere.
mod scratch;
mod streams;
mod trouble;
mod unplug;
mod web;
