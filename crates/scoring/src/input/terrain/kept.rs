//! What was read lately and is kept, within so many bytes: the longest unused goes first.
//!
//! A sweep walks along columns of blocks, and comes back to each of them a thousand times before it goes on: what was read last is what
//! is wanted next. (A cache that favours what has been asked for often over what is new reads every new block again at every row.)

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Values by key, each read once at a time, whatever the number of threads.
#[derive(Debug)]
pub(crate) struct Kept<K, V> {
    state: Mutex<State<K, V>>,
    read: Condvar,
    most_bytes: u64,
}

#[derive(Debug)]
struct State<K, V> {
    /// `None` while a thread reads it.
    values: HashMap<K, Option<Entry<V>>>,
    bytes: u64,
    clock: u64,
}

#[derive(Debug)]
struct Entry<V> {
    value: V,
    bytes: u64,
    used: u64,
}

impl<K: Copy + Eq + Hash, V: Clone> Kept<K, V> {
    /// Nothing yet, and room for so many bytes.
    pub(crate) fn new(most_bytes: u64) -> Kept<K, V> {
        let state = State { values: HashMap::new(), bytes: 0, clock: 0 };
        Kept { state: Mutex::new(state), read: Condvar::new(), most_bytes }
    }

    /// Bytes that are kept now.
    pub(crate) fn bytes(&self) -> u64 {
        self.locked().bytes
    }

    fn locked(&self) -> MutexGuard<'_, State<K, V>> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The value of a key, read now where it is not kept. Other threads that want the same wait for it.
    ///
    /// # Errors
    /// What reading says; then nothing is kept.
    pub(crate) fn get<E>(
        &self,
        key: K,
        bytes_of: impl FnOnce(&V) -> u64,
        read: impl FnOnce() -> Result<V, E>,
    ) -> Result<V, E> {
        let mut state = self.locked();
        loop {
            state.clock += 1;
            let now = state.clock;
            match state.values.get_mut(&key) {
                Some(Some(entry)) => {
                    entry.used = now;
                    return Ok(entry.value.clone());
                }
                Some(None) => state = self.read.wait(state).unwrap_or_else(PoisonError::into_inner),
                None => break,
            }
        }
        state.values.insert(key, None);
        drop(state);
        // Whatever happens while it is read, nobody waits for ever.
        let reading = Reading { kept: self, key };
        let value = read()?;
        let entry = Entry { value: value.clone(), bytes: bytes_of(&value), used: 0 };
        self.keep(key, entry);
        drop(reading);
        Ok(value)
    }

    fn keep(&self, key: K, mut entry: Entry<V>) {
        let mut state = self.locked();
        if entry.bytes > self.most_bytes {
            return;
        }
        state.clock += 1;
        entry.used = state.clock;
        state.bytes += entry.bytes;
        state.values.insert(key, Some(entry));
        while state.bytes > self.most_bytes {
            let used = |(key, entry): (&K, &Option<Entry<V>>)| entry.as_ref().map(|e| (e.used, *key));
            let Some((_, oldest)) = state.values.iter().filter_map(used).min_by_key(|u| u.0) else { break };
            if let Some(Some(gone)) = state.values.remove(&oldest) {
                state.bytes -= gone.bytes;
            }
        }
    }
}

/// Ends the waiting of other threads.
struct Reading<'a, K: Copy + Eq + Hash, V: Clone> {
    kept: &'a Kept<K, V>,
    key: K,
}

impl<K: Copy + Eq + Hash, V: Clone> Drop for Reading<'_, K, V> {
    fn drop(&mut self) {
        let mut state = self.kept.locked();
        if state.values.get(&self.key).is_some_and(Option::is_none) {
            state.values.remove(&self.key);
        }
        drop(state);
        self.kept.read.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU32, Ordering};

    #[test]
    fn the_longest_unused_goes_first_and_the_room_is_never_exceeded() {
        let kept: Kept<u32, u32> = Kept::new(30);
        let reads = AtomicU32::new(0);
        let get = |key: u32| {
            let value = kept.get(
                key,
                |_| 10,
                || {
                    reads.fetch_add(1, Ordering::Relaxed);
                    Ok::<u32, String>(key * 7)
                },
            );
            assert_eq!(value, Ok(key * 7));
            assert!(kept.bytes() <= 30);
            reads.load(Ordering::Relaxed)
        };
        assert_eq!([1, 2, 3, 1, 2, 3].map(get), [1, 2, 3, 3, 3, 3]);
        // A fourth drives out the first, which was used longest ago.
        assert_eq!([4, 2, 3, 4, 1].map(get), [4, 4, 4, 4, 5]);
        // What does not fit, and what cannot be read, is not kept.
        assert_eq!(kept.get(9, |_| 31, || Ok::<u32, String>(1)), Ok(1));
        assert_eq!(kept.get(9, |_| 10, || Err::<u32, &str>("gone")), Err("gone"));
        assert_eq!(kept.get(9, |_| 10, || Ok::<u32, String>(2)), Ok(2));
    }

    #[test]
    fn threads_that_want_the_same_read_it_once() {
        let kept: Kept<u32, u32> = Kept::new(100);
        let reads = AtomicU32::new(0);
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    let value = kept.get(
                        5,
                        |_| 10,
                        || {
                            reads.fetch_add(1, Ordering::Relaxed);
                            std::thread::yield_now();
                            Ok::<u32, String>(35)
                        },
                    );
                    assert_eq!(value, Ok(35));
                });
            }
        });
        assert_eq!(reads.load(Ordering::Relaxed), 1);
    }
}
