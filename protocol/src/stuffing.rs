//! Consistent-overhead byte stuffing: no zero inside a frame, so that zero delimits.
//!
//! Source: S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM
//! Transactions on Networking 7(2), 1999. Our own, because the writer must not be able
//! to panic and the reader copies whole runs; the tests hold it against the `cobs` crate.

use postcard::ser_flavors::Flavor;

/// Longest run that one code byte can announce, plus the code byte.
const FULL_RUN: u8 = 0xff;

/// A postcard output that stuffs while it writes.
pub(crate) struct StuffingWriter<'a> {
    out: &'a mut [u8],
    used: usize,
    code_at: usize,
    code: u8,
}

impl<'a> StuffingWriter<'a> {
    pub(crate) fn new(out: &'a mut [u8]) -> Self {
        Self {
            out,
            used: 1,
            code_at: 0,
            code: 1,
        }
    }

    fn put(&mut self, at: usize, byte: u8) -> postcard::Result<()> {
        let slot = self.out.get_mut(at);
        *slot.ok_or(postcard::Error::SerializeBufferFull)? = byte;
        Ok(())
    }

    fn close_run(&mut self) -> postcard::Result<()> {
        self.put(self.code_at, self.code)?;
        self.code_at = self.used;
        self.used += 1;
        self.code = 1;
        Ok(())
    }
}

impl Flavor for StuffingWriter<'_> {
    /// Number of stuffed bytes.
    type Output = usize;

    fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
        // A full run is closed only once more follows, or the end would gain a byte.
        if self.code == FULL_RUN {
            self.close_run()?;
        }
        if byte == 0 {
            return self.close_run();
        }
        self.put(self.used, byte)?;
        self.used += 1;
        self.code += 1;
        Ok(())
    }

    fn finalize(mut self) -> postcard::Result<usize> {
        self.put(self.code_at, self.code)?;
        Ok(self.used)
    }
}

/// Takes the stuffing out of `stuffed` (no delimiter) into `out`; how much it was.
/// `None` where a run goes past the end, a zero is inside, or `out` is too short.
pub(crate) fn unstuff(stuffed: &[u8], out: &mut [u8]) -> Option<usize> {
    let mut rest = stuffed;
    let mut used = 0;
    loop {
        let (&code, tail) = rest.split_first()?;
        let (run, tail) = tail.split_at_checked(usize::from(code).checked_sub(1)?)?;
        let end = used + run.len();
        out.get_mut(used..end)?.copy_from_slice(run);
        used = end;
        if tail.is_empty() {
            return Some(used);
        }
        if code != FULL_RUN {
            *out.get_mut(used)? = 0;
            used += 1;
        }
        rest = tail;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use proptest::prelude::{any, prop, proptest};
    use std::vec;
    use std::vec::Vec;

    fn stuff(bytes: &[u8]) -> Vec<u8> {
        let mut out = vec![0; bytes.len() + bytes.len() / 254 + 2];
        let mut writer = StuffingWriter::new(&mut out);
        for byte in bytes {
            writer.try_push(*byte).unwrap();
        }
        let used = writer.finalize().unwrap();
        out.truncate(used);
        out
    }

    #[track_caller]
    fn check(bytes: &[u8]) {
        let stuffed = stuff(bytes);
        let mut reference = vec![0; cobs::max_encoding_length(bytes.len())];
        let n = cobs::encode(bytes, &mut reference);
        reference.truncate(n);
        // The crate opens one more run after a full one at the end; both forms are
        // valid, ours is the shorter.
        if reference.len() == stuffed.len() + 1 {
            assert_eq!(reference.pop(), Some(1));
        }
        assert_eq!(stuffed, reference);
        let mut back = vec![0; bytes.len()];
        assert_eq!(unstuff(&stuffed, &mut back), Some(bytes.len()));
        assert_eq!(back, bytes);
        let mut back = vec![0; stuffed.len()];
        let report = cobs::decode(&stuffed, &mut back).unwrap();
        assert_eq!(&back[..report.frame_size()], bytes);
    }

    #[test]
    fn runs_around_the_longest_one_agree_with_the_reference() {
        for n in [1, 2, 253, 254, 255, 256, 507, 508, 509, 600] {
            check(&vec![7; n]);
            check(&vec![0; n]);
            let mut ends_in_zero = vec![7; n];
            ends_in_zero.push(0);
            check(&ends_in_zero);
        }
    }

    #[test]
    fn run_past_the_end_is_refused() {
        let mut out = [0; 8];
        assert_eq!(unstuff(&[5, 1, 2], &mut out), None);
        assert_eq!(unstuff(&[0, 1], &mut out), None);
        assert_eq!(unstuff(&[], &mut out), None);
        assert_eq!(unstuff(&[3, 1, 2], &mut out[..1]), None);
    }

    #[test]
    fn full_buffer_is_an_error_and_no_panic() {
        let mut writer = StuffingWriter::new(&mut []);
        assert!(writer.try_push(0).is_err());
        assert!(StuffingWriter::new(&mut []).finalize().is_err());
    }

    proptest! {
        #[test]
        fn any_bytes_agree_with_the_reference(
            bytes in prop::collection::vec(prop::sample::select(vec![0_u8, 1, 2, 254, 255]), 0..700)
        ) {
            check(&bytes);
        }

        #[test]
        fn any_stuffed_bytes_unstuff_or_are_refused(bytes in prop::collection::vec(any::<u8>(), 0..700)) {
            let mut out = [0; 700];
            unstuff(&bytes, &mut out);
        }
    }
}
