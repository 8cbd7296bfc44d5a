//! What goes out next.
//!
//! The small and urgent first, so that a slow line delays samples, which can wait in their queue, and
//! not the heartbeat, which cannot.

use tipcurve_protocol::{ClockEcho, Health, Hello, Message, WIRE_VERSION};

use super::{App, Pending};
use crate::commands::Answer;
use crate::limits::{HEALTH_TICKS, HELLO_TICKS};

impl App {
    pub(super) fn load_next(&mut self, device_ticks: u64) {
        let _ = self.load_hello(device_ticks)
            || self.load_answer(device_ticks)
            || self.load_mark()
            || self.load_health(device_ticks)
            || self.load_edges()
            || self.load_samples()
            || self.load_slow();
    }

    fn load_hello(&mut self, device_ticks: u64) -> bool {
        let is_due = device_ticks >= self.progress.hello_due_ticks;
        if is_due {
            self.progress.hello_due_ticks = device_ticks + HELLO_TICKS;
            let hello = self.hello();
            self.sender.load(&Message::Hello(hello));
        }
        is_due
    }

    fn load_answer(&mut self, device_ticks: u64) -> bool {
        let Some(waiting) = self.answers.front_mut() else {
            return false;
        };
        let Pending {
            answer,
            received_ticks,
        } = *waiting;
        if let Answer::Hello(reply) = answer {
            // The reply stays in its place, so that replies keep the order of their commands, and follows the hello.
            waiting.answer = Answer::Reply(reply);
            let hello = self.hello();
            self.sender.load(&Message::Hello(hello));
            return true;
        }
        self.answers.remove_front();
        let message = match answer {
            Answer::Reply(reply) | Answer::Hello(reply) => Message::Reply(reply),
            Answer::ClockEcho { id, token } => Message::ClockEcho(ClockEcho {
                id,
                token,
                received_ticks,
                sent_ticks: device_ticks,
            }),
        };
        self.sender.load(&message);
        true
    }

    fn load_mark(&mut self) -> bool {
        let Some(&mark) = self.marks.front() else {
            return false;
        };
        self.marks.remove_front();
        self.sender.load(&Message::Mark(mark));
        self.progress.sent_marks = mark.first_mark.wrapping_add(1);
        true
    }

    fn load_health(&mut self, device_ticks: u64) -> bool {
        let is_due = device_ticks >= self.progress.health_due_ticks;
        if is_due {
            self.progress.health_due_ticks = device_ticks + HEALTH_TICKS;
            let health = self.health(device_ticks);
            self.progress.heartbeat = health.heartbeat.wrapping_add(1);
            self.sender.load(&Message::Health(health));
        }
        is_due
    }

    fn load_edges(&mut self) -> bool {
        let Some(block) = self.edge_blocks.front() else {
            return false;
        };
        self.sender.load_edges(block);
        self.progress.sent_edges = block.end_edge();
        self.edge_blocks.remove_front();
        true
    }

    fn load_samples(&mut self) -> bool {
        let Some(block) = self.samples.front() else {
            return false;
        };
        self.sender.load_samples(block);
        self.progress.sent_samples = block.end_sample();
        self.samples.remove_front();
        true
    }

    fn load_slow(&mut self) -> bool {
        let Some(&slow) = self.slow_reports.front() else {
            return false;
        };
        self.slow_reports.remove_front();
        self.sender.load(&Message::Slow(slow));
        true
    }

    fn hello(&self) -> Hello {
        Hello {
            version: WIRE_VERSION,
            device_id: self.config.device_id,
            boot_id: self.config.boot_id,
            firmware: self.config.firmware.clone(),
            board: self.config.board.clone(),
            sample_rate_hz: self.state.sample_rate_hz,
            min_sample_rate_hz: self.config.min_sample_rate_hz,
            max_sample_rate_hz: self.config.max_sample_rate_hz,
            debounce_ticks: self.config.debounce_ticks,
            channels: self.config.channels.clone(),
        }
    }

    fn health(&self, device_ticks: u64) -> Health {
        let received = self.commands.counts();
        let bad_frames = received.damaged + received.unknown + received.refused;
        let bad_frames = u32::try_from(bad_frames).unwrap_or(u32::MAX);
        let others = [
            self.slow_reports.dropped(),
            self.marks.dropped(),
            self.answers.dropped(),
        ];
        Health {
            device_ticks,
            boot_id: self.config.boot_id,
            reset_reason: self.config.reset_reason,
            heartbeat: self.progress.heartbeat,
            is_running: self.state.is_running,
            sent_samples: self.progress.sent_samples,
            sent_edges: self.progress.sent_edges,
            sent_marks: self.progress.sent_marks,
            dropped_blocks: self.samples.dropped(),
            dropped_samples: self.sampler.dropped_samples(),
            dropped_edges: self.edges.dropped_edges(),
            dropped_others: others.into_iter().fold(0, u32::saturating_add),
            missed_samples: self.sampler.missed(),
            saturated_samples: self.counts.saturated_samples,
            bus_errors: self.counts.bus_errors,
            absent_channels: self.counts.absent_channels,
            over_captures: self.edges.over_captures(),
            debounce_rejects: self.edges.rejected(),
            bad_frames: bad_frames.saturating_add(self.counts.stray_messages),
            send_errors: self.sender.errors(),
            queue_high_water: self.samples.high_water(),
        }
    }
}
