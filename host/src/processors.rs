//! One piece of work on each of many items, on all processors.
//!
//! The results come back in the order of the items, whichever processor was quicker: what is computed does not
//! depend on how many there are.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::{self, Builder};

/// `work` on every item, each on the first processor that is free.
///
/// *Cost*: a thread a processor, some ten microseconds each. Where one item takes less, use a plain loop.
///
/// # Panics
/// Where `work` does.
pub(crate) fn on_all_processors<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let n_threads = thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let one_thread = || {
        let mut done = Vec::new();
        while let Some((i, item)) = {
            let i = next.fetch_add(1, Ordering::Relaxed);
            items.get(i).map(|item| (i, item))
        } {
            done.push((i, work(item)));
        }
        done
    };
    let mut done: Vec<(usize, R)> = thread::scope(|scope| {
        // This thread works too, and alone where the system has no more to give.
        let threads: Vec<_> = (1..n_threads.min(items.len()))
            .map_while(|_| Builder::new().spawn_scoped(scope, one_thread).ok())
            .collect();
        let own = one_thread();
        let others = threads.into_iter().map(|thread| {
            thread
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        });
        others.fold(own, |mut all, more| {
            all.extend(more);
            all
        })
    });
    done.sort_unstable_by_key(|(i, _)| *i);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_are_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..10_000).collect();
        let squares = on_all_processors(&items, |i| {
            // The first ones take longest.
            if *i < 8 {
                thread::yield_now();
            }
            i * i
        });
        assert!(squares.iter().zip(&items).all(|(s, i)| *s == i * i));
        assert_eq!(squares.len(), items.len());
        assert!(on_all_processors(&[0_u8; 0], |i| *i).is_empty());
        assert_eq!(on_all_processors(&[7], |i| i + 1), [8]);
    }

    #[test]
    #[should_panic(expected = "the seventh")]
    fn a_panic_is_passed_on() {
        on_all_processors(&[1, 2, 3, 4, 5, 6, 7, 8], |i| {
            assert!(*i != 7, "the seventh");
        });
    }
}
