//! One-time codes that let a phone in: few tries, short life, used once.

use super::access::{NoRandomness, random_bytes};

/// Letters that are not mistaken for one another on a screen at arm's length.
const LETTERS: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";

/// Letters of a code: 40 bits. With [`MOST_TRIES`] tries the chance of a guess is 1 in 10^11.
const CODE_LETTERS: usize = 8;

/// How long a code holds, s.
pub const CODE_LIFE_S: f64 = 600.0;

/// Wrong tries until the code is void.
pub const MOST_TRIES: u32 = 8;

/// What a try came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Try {
    /// The code was right; it is used up.
    Paired,
    /// Wrong; tries remain.
    Wrong,
    /// There is no code: never made, used, expired or tried too often.
    NoCode,
}

/// The code that is open, if any.
#[derive(Debug, Default)]
pub struct Pairing {
    open: Option<Open>,
}

struct Open {
    code: String,
    until_s: f64,
    tries: u32,
}

impl std::fmt::Debug for Open {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Open(until {} s, {} tries)", self.until_s, self.tries)
    }
}

impl Pairing {
    /// Opens a new code, in place of any earlier one; `now_s` is a steady clock.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn open(&mut self, now_s: f64) -> Result<String, NoRandomness> {
        let code: String = random_bytes::<CODE_LETTERS>()?
            .iter()
            .map(|byte| char::from(LETTERS[usize::from(byte % 32)]))
            .collect();
        self.open = Some(Open {
            code: code.clone(),
            until_s: now_s + CODE_LIFE_S,
            tries: 0,
        });
        Ok(code)
    }

    /// Tries a code as a person typed it: case, spaces and dashes do not matter.
    pub fn attempt(&mut self, typed: &str, now_s: f64) -> Try {
        let Some(open) = &mut self.open else {
            return Try::NoCode;
        };
        if now_s > open.until_s || open.tries >= MOST_TRIES {
            self.open = None;
            return Try::NoCode;
        }
        let typed: String = typed
            .chars()
            .filter(char::is_ascii_alphanumeric)
            .map(|letter| letter.to_ascii_uppercase())
            .collect();
        if subtle::ConstantTimeEq::ct_eq(typed.as_bytes(), open.code.as_bytes()).into() {
            self.open = None;
            return Try::Paired;
        }
        open.tries += 1;
        Try::Wrong
    }
}

/// A code in two halves, as it is printed.
#[must_use]
pub fn in_halves(code: &str) -> String {
    let (left, right) = code.split_at(code.len() / 2);
    format!("{left}-{right}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_works_once_however_it_is_typed() {
        let mut pairing = Pairing::default();
        let code = pairing.open(0.0).unwrap();
        let typed = format!(" {} ", in_halves(&code).to_lowercase());
        assert_eq!(pairing.attempt(&typed, 5.0), Try::Paired);
        assert_eq!(pairing.attempt(&typed, 6.0), Try::NoCode);
    }

    #[test]
    fn a_code_dies_of_age_and_of_wrong_tries() {
        let mut pairing = Pairing::default();
        let code = pairing.open(0.0).unwrap();
        assert_eq!(pairing.attempt(&code, CODE_LIFE_S + 1.0), Try::NoCode);
        let code = pairing.open(1000.0).unwrap();
        for _ in 0..MOST_TRIES {
            assert_eq!(pairing.attempt("????", 1001.0), Try::Wrong);
        }
        assert_eq!(pairing.attempt(&code, 1001.0), Try::NoCode);
    }
}
