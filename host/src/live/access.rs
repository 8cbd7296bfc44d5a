//! Who may read and who may write: tokens, Host, Origin and rates, as pure decisions.
//!
//! There are no cookies, so no other site can act in a viewer's name: a right is carried by a
//! bearer token in a header that a foreign page cannot set. On the loopback interface reading needs
//! no token; writing always does. What each check is for stands in the threat notes of
//! `DEVELOPERS.md`, each with its test.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::net::IpAddr;

use subtle::ConstantTimeEq;
use thiserror::Error;

/// Bytes of randomness in a token: 128 bits cannot be guessed.
const TOKEN_BYTES: usize = 16;

/// Requests that change something, per address: this many at once.
const WRITE_BURST: f64 = 20.0;

/// And this many a second on the long run: far above a person's fingers.
const WRITES_PER_S: f64 = 5.0;

/// Addresses whose rate is remembered at most.
const MOST_ADDRESSES: usize = 1_024;

/// What a caller may do. Ordered: each includes those before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Right {
    /// Nothing but the page itself and pairing.
    Nothing,
    /// See the figures.
    Read,
    /// Add notes.
    Write,
    /// Let others in.
    Own,
}

/// The system gave no randomness: without it no page is served.
#[derive(Debug, Error)]
#[error("the system gave no random numbers ({reason}); record with --no-page")]
pub struct NoRandomness {
    /// The system's words.
    pub reason: String,
}

/// A secret in hexadecimal. Its text is not shown by `Debug`.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl std::fmt::Debug for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Token(…)")
    }
}

impl Token {
    /// A new secret.
    ///
    /// # Errors
    /// [`NoRandomness`] when the system has none.
    pub fn random() -> Result<Self, NoRandomness> {
        let mut text = String::with_capacity(2 * TOKEN_BYTES);
        for byte in random_bytes::<TOKEN_BYTES>()? {
            let _ = write!(text, "{byte:02x}");
        }
        Ok(Self(text))
    }

    /// The text that a caller must show.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether `shown` is this secret; takes the same time wherever they differ.
    #[must_use]
    pub fn is(&self, shown: &str) -> bool {
        self.0.as_bytes().ct_eq(shown.as_bytes()).into()
    }
}

/// Random bytes from the system.
///
/// # Errors
/// [`NoRandomness`] when it has none.
pub fn random_bytes<const N: usize>() -> Result<[u8; N], NoRandomness> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|error| NoRandomness {
        reason: error.to_string(),
    })?;
    Ok(bytes)
}

/// Whether a Host header names this server: one of its own addresses with its own port. A page
/// that a name of another's points here (DNS rebinding) carries that name and is refused.
#[must_use]
pub fn is_own_host(shown: Option<&str>, own: &[String]) -> bool {
    shown.is_some_and(|host| own.iter().any(|name| name.eq_ignore_ascii_case(host)))
}

/// Whether the Origin header is the page of this very host. Only requests that change something
/// need one, and browsers send it with each of those.
#[must_use]
pub fn is_own_origin(origin: Option<&str>, host: &str) -> bool {
    origin
        .and_then(|origin| origin.strip_prefix("http://"))
        .is_some_and(|name| name.eq_ignore_ascii_case(host))
}

/// The token of an `Authorization: Bearer` header.
#[must_use]
pub fn bearer(authorization: Option<&str>) -> Option<&str> {
    let (scheme, token) = authorization?.split_once(' ')?;
    (scheme.eq_ignore_ascii_case("bearer") && !token.is_empty()).then(|| token.trim())
}

/// The tokens of one session.
#[derive(Debug)]
pub struct Tokens {
    owner: Token,
    viewer: Token,
    paired: Vec<Token>,
}

/// Devices that may be paired in one session.
pub const MOST_PAIRED: usize = 32;

impl Tokens {
    /// New secrets for a session.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn random() -> Result<Self, NoRandomness> {
        Ok(Self {
            owner: Token::random()?,
            viewer: Token::random()?,
            paired: Vec::new(),
        })
    }

    /// The owner's token: it goes into the link that the terminal prints.
    #[must_use]
    pub const fn owner(&self) -> &Token {
        &self.owner
    }

    /// The viewers' token: it goes into the link for a wall.
    #[must_use]
    pub const fn viewer(&self) -> &Token {
        &self.viewer
    }

    /// A token for one more paired device, or `None` when there are too many or no randomness.
    pub fn pair(&mut self) -> Option<Token> {
        if self.paired.len() >= MOST_PAIRED {
            return None;
        }
        let token = Token::random().ok()?;
        self.paired.push(token.clone());
        Some(token)
    }

    /// What a caller may do.
    #[must_use]
    pub fn right(&self, shown: Option<&str>, over_loopback: bool) -> Right {
        let by_token = shown.map_or(Right::Nothing, |shown| self.right_of(shown));
        let by_place = if over_loopback {
            Right::Read
        } else {
            Right::Nothing
        };
        by_token.max(by_place)
    }

    /// Every secret is compared, so that the time tells nothing about which one was near.
    fn right_of(&self, shown: &str) -> Right {
        let owns = self.owner.is(shown);
        let reads = self.viewer.is(shown);
        let writes = self
            .paired
            .iter()
            .fold(false, |found, token| found | token.is(shown));
        match (owns, writes, reads) {
            (true, _, _) => Right::Own,
            (_, true, _) => Right::Write,
            (_, _, true) => Right::Read,
            _ => Right::Nothing,
        }
    }
}

/// A bucket per address that empties with each write and refills with time.
#[derive(Debug, Default)]
pub struct WriteRate {
    buckets: HashMap<IpAddr, Bucket>,
}

#[derive(Debug, Clone, Copy)]
struct Bucket {
    left: f64,
    at_s: f64,
}

impl WriteRate {
    /// Whether one more write from `address` is allowed at `now_s` (any steady clock).
    pub fn allow(&mut self, address: IpAddr, now_s: f64) -> bool {
        if self.buckets.len() >= MOST_ADDRESSES && !self.buckets.contains_key(&address) {
            let idle_s = WRITE_BURST / WRITES_PER_S;
            self.buckets
                .retain(|_, bucket| now_s - bucket.at_s < idle_s);
            if self.buckets.len() >= MOST_ADDRESSES {
                return false;
            }
        }
        let bucket = self.buckets.entry(address).or_insert(Bucket {
            left: WRITE_BURST,
            at_s: now_s,
        });
        let refill = (now_s - bucket.at_s).max(0.0) * WRITES_PER_S;
        bucket.left = (bucket.left + refill).min(WRITE_BURST);
        bucket.at_s = now_s;
        if bucket.left < 1.0 {
            return false;
        }
        bucket.left -= 1.0;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::net::Ipv4Addr;

    #[test]
    fn a_token_gives_its_right_and_nothing_else_does() {
        let mut tokens = Tokens::random().unwrap();
        let paired = tokens.pair().unwrap();
        let owner = tokens.owner().as_str().to_owned();
        let viewer = tokens.viewer().as_str().to_owned();
        for (shown, over_loopback, right) in [
            (Some(owner.as_str()), false, Right::Own),
            (Some(paired.as_str()), false, Right::Write),
            (Some(viewer.as_str()), false, Right::Read),
            (Some("0123"), false, Right::Nothing),
            (Some(&owner[1..]), false, Right::Nothing),
            (None, false, Right::Nothing),
            (None, true, Right::Read),
            (Some("0123"), true, Right::Read),
        ] {
            assert_eq!(tokens.right(shown, over_loopback), right, "{shown:?}");
        }
        assert_eq!(owner.len(), 32);
        assert!(!format!("{tokens:?}").contains(&owner));
    }

    #[test]
    fn host_and_origin_must_be_this_server() {
        let own = ["127.0.0.1:4870".to_owned(), "localhost:4870".to_owned()];
        assert!(is_own_host(Some("127.0.0.1:4870"), &own));
        assert!(is_own_host(Some("LOCALHOST:4870"), &own));
        for forged in ["evil.example:4870", "127.0.0.1", "127.0.0.1:48700", ""] {
            assert!(!is_own_host(Some(forged), &own), "{forged}");
        }
        assert!(!is_own_host(None, &own));
        assert!(is_own_origin(
            Some("http://127.0.0.1:4870"),
            "127.0.0.1:4870"
        ));
        for forged in ["http://evil.example", "null", "https://127.0.0.1:4870", ""] {
            assert!(!is_own_origin(Some(forged), "127.0.0.1:4870"), "{forged}");
        }
        assert!(!is_own_origin(None, "127.0.0.1:4870"));
    }

    #[test]
    fn bearer_header_is_read_strictly() {
        assert_eq!(bearer(Some("Bearer abc")), Some("abc"));
        for wrong in ["Basic abc", "Bearer ", "abc", ""] {
            assert_eq!(bearer(Some(wrong)), None, "{wrong}");
        }
    }

    #[test]
    fn writes_are_limited_per_address_and_the_memory_of_it_too() {
        let mut rate = WriteRate::default();
        let one = IpAddr::V4(Ipv4Addr::new(10, 0, 0, 1));
        let allowed = (0..100).filter(|_| rate.allow(one, 0.0)).count();
        assert_eq!(allowed, 20);
        assert!(rate.allow(one, 1.0));
        for k in 0..5_000u32 {
            rate.allow(IpAddr::V4(Ipv4Addr::from(k)), 1.0);
        }
        assert!(rate.buckets.len() <= MOST_ADDRESSES);
    }
}
