//! Work on several things at once, its results in order.
//!
//! As many threads as the computer has cores, each with one item at a time, which bounds memory to that many items.
//! Results wait until their turn, and no thread runs further ahead of the oldest than [`AHEAD`].

use std::num::NonZero;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError, mpsc};
use std::thread;

/// Results that may wait for an earlier one. Enough that one large item rarely blocks the others; few enough that they
/// take less memory than one model.
const AHEAD: usize = 256;

/// The next item, and how many results have been taken.
#[derive(Default)]
struct Turn {
    next: usize,
    taken: usize,
    stopped: bool,
}

/// Calls `work` for 0..`count` and passes every result to `take`, in order, on the calling thread. After the first
/// `Err` of `take` nothing new is begun. `work` must not panic.
pub fn in_order<T: Send, E>(
    count: usize,
    work: impl Fn(usize) -> T + Sync,
    mut take: impl FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    let threads = thread::available_parallelism().map_or(1, NonZero::get).min(count);
    let turn = Mutex::new(Turn::default());
    let moved_on = Condvar::new();
    let begin = || {
        let mut turn = moved_on
            .wait_while(lock(&turn), |turn| !turn.stopped && turn.next >= turn.taken + AHEAD)
            .unwrap_or_else(PoisonError::into_inner);
        let index = turn.next;
        turn.next += 1;
        (index < count && !turn.stopped).then_some(index)
    };
    thread::scope(|scope| {
        let (give, results) = mpsc::channel();
        for _ in 0..threads {
            let (give, begin, work) = (give.clone(), &begin, &work);
            scope.spawn(move || {
                while let Some(index) = begin() {
                    // Fails only when results are no longer taken.
                    let _ = give.send((index, work(index)));
                }
            });
        }
        drop(give);
        let mut waiting: Vec<Option<T>> = Vec::new();
        let mut outcome = Ok(());
        for (index, result) in results {
            let taken = lock(&turn).taken;
            let place = index - taken;
            if waiting.len() <= place {
                waiting.resize_with(place + 1, || None);
            }
            waiting[place] = Some(result);
            let ready = waiting.iter().take_while(|result| result.is_some()).count();
            for result in waiting.drain(..ready).flatten() {
                if outcome.is_ok() {
                    outcome = take(result);
                }
            }
            let mut turn = lock(&turn);
            turn.taken += ready;
            turn.stopped |= outcome.is_err();
            moved_on.notify_all();
        }
        outcome
    })
}

/// The state is two numbers and a flag, whole at any moment: a poisoned lock is harmless.
fn lock(turn: &Mutex<Turn>) -> MutexGuard<'_, Turn> {
    turn.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn results_come_in_order_whatever_finishes_first() {
        let mut taken = Vec::new();
        let outcome: Result<(), ()> = in_order(
            1000,
            |index| {
                if index % 7 == 0 {
                    thread::sleep(Duration::from_micros(200));
                }
                index
            },
            |index| {
                taken.push(index);
                Ok(())
            },
        );
        assert_eq!(outcome, Ok(()));
        assert!(taken.iter().copied().eq(0..1000));
        assert_eq!(in_order(0, |index| index, |_| Err(())), Ok(()), "nothing to do");
    }

    #[test]
    fn threads_are_limited_to_cores_and_do_not_run_far_ahead() {
        let (begun, at_work, most) = (AtomicUsize::new(0), AtomicUsize::new(0), AtomicUsize::new(0));
        let mut taken = 0;
        let outcome: Result<(), ()> = in_order(
            3 * AHEAD,
            |index| {
                begun.fetch_add(1, Ordering::SeqCst);
                most.fetch_max(at_work.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                if index == 0 {
                    thread::sleep(Duration::from_millis(100));
                }
                at_work.fetch_sub(1, Ordering::SeqCst);
            },
            |()| {
                if taken == 0 {
                    assert!(begun.load(Ordering::SeqCst) <= AHEAD, "{begun:?}");
                }
                taken += 1;
                Ok(())
            },
        );
        assert_eq!((outcome, taken), (Ok(()), 3 * AHEAD));
        let cores = thread::available_parallelism().map_or(1, NonZero::get);
        assert!((1..=cores).contains(&most.load(Ordering::SeqCst)), "{most:?}");
    }

    #[test]
    fn the_first_failure_ends_the_work() {
        let begun = AtomicUsize::new(0);
        let mut taken = 0;
        let outcome = in_order(
            100_000,
            |index| begun.fetch_max(index, Ordering::SeqCst),
            |_| {
                taken += 1;
                if taken == 3 { Err("the pipe is closed") } else { Ok(()) }
            },
        );
        assert_eq!((outcome, taken), (Err("the pipe is closed"), 3));
        assert!(begun.load(Ordering::SeqCst) < 100_000);
    }
}
