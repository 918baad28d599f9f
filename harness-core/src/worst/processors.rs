//! Independent work shared between processors, with results in the order of the work.

use std::sync::atomic::{AtomicUsize, Ordering};

/// Does the same to each item, on as many threads as there are processors. The result does not
/// hang on how many there are.
pub(super) fn on_all_processors<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(usize, &T) -> R + Sync,
) -> Vec<R> {
    let threads = available().min(items.len());
    let next = AtomicUsize::new(0);
    let take = || {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            match items.get(at) {
                Some(item) => done.push((at, work(at, item))),
                None => return done,
            }
        }
    };
    let mut all: Vec<(usize, R)> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..threads).map(|_| scope.spawn(take)).collect();
        let done = threads.into_iter().flat_map(|thread| {
            thread
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        });
        done.collect()
    });
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, result)| result).collect()
}

/// How many threads run at once.
pub(super) fn available() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_the_order_of_the_work() {
        let items: Vec<usize> = (0..1000).collect();
        let found = on_all_processors(&items, |at, item| (at, item * 2));
        assert_eq!(
            found,
            items.iter().map(|at| (*at, at * 2)).collect::<Vec<_>>()
        );
        assert!(on_all_processors(&[0_u8; 0], |at, _| at).is_empty());
    }
}
