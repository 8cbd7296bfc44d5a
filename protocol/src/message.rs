//! The messages and their kind codes. One type a file; how they become bytes is elsewhere.

mod command;
mod edges;
mod health;
mod hello;
mod mark;
mod samples;
mod slow;

pub use command::{Action, ClockEcho, Command, Outcome, Reply};
pub use edges::{Edges, MAX_EDGES};
pub use health::{Health, ResetReason};
pub use hello::{Channel, Hello, MAX_CHANNELS, MAX_NAME_BYTES, Name, Quantity};
pub use mark::Mark;
pub use samples::Samples;
pub use slow::Slow;

/// Everything that can stand in a frame.
#[derive(Clone, Debug, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "there is no heap to put the hello on, and one message exists at a time"
)]
pub enum Message<'a> {
    /// Who the device is and how its codes are scaled.
    Hello(Hello),
    /// A block of pressure codes.
    Samples(Samples<'a>),
    /// A block of flow-meter edges.
    Edges(Edges<'a>),
    /// One reading of the slow channels.
    Slow(Slow),
    /// The button was pressed.
    Mark(Mark),
    /// Heartbeat and counters.
    Health(Health),
    /// Answer to a command.
    Reply(Reply),
    /// Answer to a request for the clock.
    ClockEcho(ClockEcho),
    /// Host to device.
    Command(Command),
}

/// The second byte of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Kind {
    /// [`Message::Hello`].
    Hello = 0x01,
    /// [`Message::Samples`].
    Samples = 0x02,
    /// [`Message::Edges`].
    Edges = 0x03,
    /// [`Message::Slow`].
    Slow = 0x04,
    /// [`Message::Mark`].
    Mark = 0x05,
    /// [`Message::Health`].
    Health = 0x06,
    /// [`Message::Reply`].
    Reply = 0x07,
    /// [`Message::ClockEcho`].
    ClockEcho = 0x08,
    /// [`Message::Command`].
    Command = 0x41,
}

impl Kind {
    /// Every kind of this version.
    pub const ALL: [Self; 9] = [
        Self::Hello,
        Self::Samples,
        Self::Edges,
        Self::Slow,
        Self::Mark,
        Self::Health,
        Self::Reply,
        Self::ClockEcho,
        Self::Command,
    ];

    /// The kind with this code, `None` where this version has none.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_code() == code)
    }

    /// The code in the frame.
    #[must_use]
    pub const fn as_code(self) -> u8 {
        self as u8
    }
}

impl Message<'_> {
    /// The kind code that the message is sent under.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Hello(_) => Kind::Hello,
            Self::Samples(_) => Kind::Samples,
            Self::Edges(_) => Kind::Edges,
            Self::Slow(_) => Kind::Slow,
            Self::Mark(_) => Kind::Mark,
            Self::Health(_) => Kind::Health,
            Self::Reply(_) => Kind::Reply,
            Self::ClockEcho(_) => Kind::ClockEcho,
            Self::Command(_) => Kind::Command,
        }
    }
}

/// A code on the wire that may name something this version does not know.
macro_rules! open_code {
    ($name:ident: $($variant:ident = $code:literal),+ $(,)?) => {
        impl From<u8> for $name {
            fn from(code: u8) -> Self {
                match code {
                    $($code => Self::$variant,)+
                    other => Self::Other(other),
                }
            }
        }

        impl From<$name> for u8 {
            fn from(name: $name) -> Self {
                match name {
                    $($name::$variant => $code,)+
                    $name::Other(code) => code,
                }
            }
        }
    };
}
use open_code;
