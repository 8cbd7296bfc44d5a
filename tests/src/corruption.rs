//! Damage to frames and recordings on the line, and what becomes of it.
//!
//! Two questions: does any damaged frame pass for data ([`damage_frames`]), and how much is lost beside what
//! was hit, and is all of that known by count ([`damage_recordings`], [`truncate_recording`])?

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tipcurve_protocol::frame::{self, MAX_FRAME_BYTES};
use tipcurve_protocol::sequence::{Run, Tracker};
use tipcurve_protocol::{Block, Edges, Event, Health, Mark, Message, Reader, Samples, Slow, delta};

use crate::wire_log::LogBuilder;

/// One way to damage bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Damage {
    /// One bit.
    Flip,
    /// Two bits anywhere.
    TwoFlips,
    /// Up to 32 bits in a row: the ends are wrong, the bits between them wrong or right by chance.
    Burst,
    /// One byte is missing.
    Dropped,
    /// One byte comes twice.
    Doubled,
    /// Two neighbours in the wrong order.
    Swapped,
    /// One byte is another.
    Replaced,
    /// Up to 64 bytes in a row are others.
    Overwritten,
}

impl Damage {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Flip,
        Self::TwoFlips,
        Self::Burst,
        Self::Dropped,
        Self::Doubled,
        Self::Swapped,
        Self::Replaced,
        Self::Overwritten,
    ];

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Flip => "one bit",
            Self::TwoFlips => "two bits",
            Self::Burst => "burst of 2 to 32 bits",
            Self::Dropped => "byte dropped",
            Self::Doubled => "byte doubled",
            Self::Swapped => "bytes swapped",
            Self::Replaced => "byte replaced",
            Self::Overwritten => "2 to 64 bytes overwritten",
        }
    }

    /// Damages `bytes` somewhere from `from` on and before `to`.
    pub fn apply(self, bytes: &mut Vec<u8>, (from, to): (usize, usize), random: &mut impl Rng) {
        let at = random.random_range(from..to);
        match self {
            Self::Flip => bytes[at] ^= 1 << random.random_range(0..8),
            Self::TwoFlips => {
                bytes[at] ^= 1 << random.random_range(0..8);
                let at = random.random_range(from..to);
                bytes[at] ^= 1 << random.random_range(0..8);
            }
            Self::Burst => burst(bytes, (from, to), random),
            Self::Dropped => {
                bytes.remove(at);
            }
            Self::Doubled => bytes.insert(at, bytes[at]),
            Self::Swapped => {
                if at + 1 < to {
                    bytes.swap(at, at + 1);
                }
            }
            Self::Replaced => bytes[at] = random.random(),
            Self::Overwritten => {
                let end = to.min(at + random.random_range(2..=64));
                bytes[at..end]
                    .iter_mut()
                    .for_each(|byte| *byte = random.random());
            }
        }
    }
}

fn burst(bytes: &mut [u8], (from, to): (usize, usize), random: &mut impl Rng) {
    let n_bits = 8 * (to - from);
    let length = random.random_range(2..=32).min(n_bits);
    let start = 8 * from + random.random_range(0..=n_bits - length);
    for bit in 0..length {
        if bit == 0 || bit + 1 == length || random.random() {
            bytes[(start + bit) / 8] ^= 1 << ((start + bit) % 8);
        }
    }
}

/// What became of damaged frames.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct FrameTally {
    /// Frames that were not what they had been.
    pub damaged: u64,
    /// Frames that passed for data and were not what was sent.
    pub undetected: u64,
}

/// Frames of every kind with random content, as a device sends them.
fn random_frames(n: usize, random: &mut impl Rng) -> Vec<Vec<u8>> {
    (0..n).map(|i| random_frame(i, random)).collect()
}

fn random_frame(i: usize, random: &mut impl Rng) -> Vec<u8> {
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let level: i32 = random.random_range(0..26_400);
    let n = [4, 12, 40, 250][i / 5 % 4];
    let codes: Vec<i32> = (0..n)
        .map(|_| level + random.random_range(-3..=3))
        .collect();
    let block = Block::encode(&codes, &mut planes).expect("a block fits");
    let device_ticks = u64::from(random.random::<u32>()) * 64;
    let message = match i % 5 {
        0 => Message::Samples(Samples {
            first_sample: random.random(),
            base_ticks: device_ticks,
            period_ticks: 2_000,
            block,
        }),
        1 => Message::Edges(Edges {
            first_edge: random.random(),
            base_ticks: device_ticks,
            over_captures: 0,
            rejected: 0,
            intervals: block,
        }),
        2 => Message::Slow(Slow {
            device_ticks,
            coating_temperature_code: Some(level),
            supply_voltage_code: Some(random.random_range(0..40_000)),
            ..Slow::default()
        }),
        3 => Message::Mark(Mark {
            first_mark: random.random_range(0..1_000),
            device_ticks,
        }),
        _ => Message::Health(Health {
            device_ticks,
            boot_id: random.random(),
            sent_samples: random.random(),
            ..Health::default()
        }),
    };
    let mut buffer = [0; MAX_FRAME_BYTES];
    frame::encode(&message, &mut buffer)
        .expect("a message fits its frame")
        .to_vec()
}

/// Damages `n` frames and reads each; every eighth has a sound one behind it, which a lost delimiter may swallow.
#[must_use]
pub fn damage_frames(damage: Damage, n: u64, number: u64) -> FrameTally {
    let mut random = ChaCha8Rng::seed_from_u64(number);
    let frames = random_frames(500, &mut random);
    let mut tally = FrameTally::default();
    let mut reader = Reader::new();
    let mut bytes = Vec::with_capacity(2 * MAX_FRAME_BYTES);
    for turn in 0..n {
        let sent = &frames[random.random_range(0..frames.len())];
        bytes.clear();
        bytes.extend_from_slice(sent);
        damage.apply(&mut bytes, (0, sent.len()), &mut random);
        if bytes == *sent {
            continue;
        }
        tally.damaged += 1;
        let next = (turn % 8 == 0).then(|| &frames[random.random_range(0..frames.len())]);
        bytes.extend(next.into_iter().flatten());
        // Ends whatever the damage left open.
        bytes.push(frame::DELIMITER);
        let mut input = bytes.as_slice();
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(message) = event {
                let is_sent =
                    is_frame(&message, sent) || next.is_some_and(|f| is_frame(&message, f));
                tally.undetected += u64::from(!is_sent);
            }
        }
    }
    tally
}

fn is_frame(message: &Message<'_>, sent: &[u8]) -> bool {
    let mut buffer = [0; MAX_FRAME_BYTES];
    frame::encode(message, &mut buffer).is_ok_and(|bytes| bytes == sent)
}

/// What became of recordings with one damaged place each.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LossTally {
    /// Recordings.
    pub recordings: u64,
    /// Frames that did not arrive, of all recordings.
    pub frames_lost: u64,
    /// Most frames that one damaged place cost.
    pub most_frames_lost: u64,
    /// Samples that did not arrive.
    pub samples_lost: u64,
    /// Most samples that one damaged place cost.
    pub most_samples_lost: u64,
    /// Samples whose loss the sequence numbers do not tell.
    pub samples_unknown: u64,
    /// Messages that nobody sent.
    pub undetected: u64,
}

/// Damages one place of a minute's recording, `n` times. The first and last seconds stay whole, for what is missing
/// before the first number and behind the last nobody can know.
#[must_use]
pub fn damage_recordings(damage: Damage, n: u64, number: u64) -> LossTally {
    let mut random = ChaCha8Rng::seed_from_u64(number);
    let mut log = LogBuilder::new();
    log.hello();
    (0..60).for_each(|_| log.second());
    let sent = Read::of(&log.bytes);
    let range = (log.bytes.len() / 60, log.bytes.len() * 59 / 60);
    let mut tally = LossTally::default();
    for _ in 0..n {
        let mut bytes = log.bytes.clone();
        damage.apply(&mut bytes, range, &mut random);
        let read = Read::of(&bytes);
        let frames = sent.messages - read.messages.min(sent.messages);
        let samples = sent.samples - read.samples.min(sent.samples);
        tally.recordings += 1;
        tally.frames_lost += frames;
        tally.most_frames_lost = tally.most_frames_lost.max(frames);
        tally.samples_lost += samples;
        tally.most_samples_lost = tally.most_samples_lost.max(samples);
        tally.samples_unknown += samples.abs_diff(read.known_lost);
        tally.undetected += u64::from(!read.is_part_of(&sent));
    }
    tally
}

/// Cuts a short recording at every byte. Gives how many cuts lost more than the frame that was cut, or told it wrong.
///
/// *Shape*: number of cuts, number of bad ones.
#[must_use]
pub fn truncate_recording() -> (usize, usize) {
    let mut log = LogBuilder::new();
    log.hello();
    (0..3).for_each(|_| log.second());
    let cuts = 0..=log.bytes.len();
    let bad = cuts.clone().filter(|cut| {
        let read = Read::of(&log.bytes[..*cut]);
        let whole = log.ends.iter().filter(|end| *end <= cut).count() as u64;
        read.messages != whole || read.known_lost != 0
    });
    (cuts.count(), bad.count())
}

/// What a host knows of a recording: every message by its bytes' check, the samples by count.
struct Read {
    messages: u64,
    samples: u64,
    known_lost: u64,
    digests: Vec<u32>,
}

impl Read {
    fn of(bytes: &[u8]) -> Self {
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
        let mut read = Self {
            messages: 0,
            samples: 0,
            known_lost: 0,
            digests: Vec::new(),
        };
        let mut tracker = Tracker::new();
        let mut reader = Reader::new();
        let mut input = bytes;
        while let Some(event) = reader.next(&mut input) {
            let Event::Message(message) = event else {
                continue;
            };
            read.messages += 1;
            let mut buffer = [0; MAX_FRAME_BYTES];
            let frame = frame::encode(&message, &mut buffer).unwrap_or_default();
            read.digests.push(crc.checksum(frame));
            if let Message::Samples(samples) = message {
                let count = samples.block.len() as u64;
                read.samples += count;
                tracker.observe(Run {
                    first: samples.first_sample,
                    count: count.try_into().unwrap_or(u32::MAX),
                    start_ticks: samples.base_ticks,
                    end_ticks: samples.end_ticks(),
                });
            }
        }
        read.known_lost = tracker.totals().lost;
        read
    }

    /// Whether these messages are some of the other's, in the same order.
    fn is_part_of(&self, other: &Self) -> bool {
        let mut rest = other.digests.iter();
        self.digests.iter().all(|digest| rest.any(|d| d == digest))
    }
}
