//! A bounded queue whose fullness is a normal state: the newest item is dropped and counted.

use heapless::Deque;

/// First in, first out, at most `N` items.
#[derive(Debug)]
pub(crate) struct BoundedQueue<T: Copy, const N: usize> {
    items: Deque<T, N>,
    dropped: u32,
    high_water: u8,
}

impl<T: Copy, const N: usize> BoundedQueue<T, N> {
    pub(crate) const fn new() -> Self {
        Self {
            items: Deque::new(),
            dropped: 0,
            high_water: 0,
        }
    }

    /// Whether the item was taken. What is already waiting is never displaced.
    pub(crate) fn push(&mut self, item: &T) -> bool {
        let is_taken = self.items.push_back(*item).is_ok();
        if !is_taken {
            self.dropped = self.dropped.saturating_add(1);
        }
        let waiting = u8::try_from(self.items.len()).unwrap_or(u8::MAX);
        self.high_water = self.high_water.max(waiting);
        is_taken
    }

    /// The oldest item, which stays until it is removed.
    pub(crate) fn front(&self) -> Option<&T> {
        self.items.front()
    }

    /// The oldest item, to be changed where it waits.
    pub(crate) fn front_mut(&mut self) -> Option<&mut T> {
        self.items.front_mut()
    }

    pub(crate) fn remove_front(&mut self) {
        let _ = self.items.pop_front();
    }

    /// How many were dropped since the start.
    pub(crate) const fn dropped(&self) -> u32 {
        self.dropped
    }

    /// Most items that ever waited.
    pub(crate) const fn high_water(&self) -> u8 {
        self.high_water
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_queue_drops_the_newest_and_counts_it() {
        let mut queue = BoundedQueue::<u8, 2>::new();
        assert!(queue.push(&1));
        assert!(queue.push(&2));
        assert!(!queue.push(&3));
        assert!(!queue.push(&4));
        assert_eq!((queue.dropped(), queue.high_water()), (2, 2));
        assert_eq!(queue.front(), Some(&1));
        queue.remove_front();
        assert!(queue.push(&5));
        queue.remove_front();
        assert_eq!(queue.front(), Some(&5));
        queue.remove_front();
        queue.remove_front();
        assert_eq!(queue.front(), None);
        assert_eq!(queue.dropped(), 2);
    }
}
