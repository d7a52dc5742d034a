//! Many workers, one order.

use std::collections::VecDeque;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::sync::{Mutex, PoisonError};

/// Inputs begun but not yet handed over, for each worker: enough that one slow input keeps nobody waiting, few
/// enough that finished results don't pile up.
const AHEAD: usize = 8;

type Task<I, T> = (I, SyncSender<Result<T, String>>);

/// Maps `items` on `jobs` threads and hands the results to `sink` in order. A worker that panics is made anew and its
/// item becomes a message. At most [`AHEAD`] items a worker are in memory.
pub(super) fn ordered<I, T, W>(
    jobs: usize,
    mut items: impl Iterator<Item = I>,
    make: impl Fn() -> W + Sync,
    mut sink: impl FnMut(Result<T, String>) -> ControlFlow<()>,
) where
    I: Send,
    T: Send,
    W: FnMut(I) -> T,
{
    let jobs = jobs.max(1);
    let (work, queue) = channel::<Task<I, T>>();
    let queue = Mutex::new(queue);
    std::thread::scope(|scope| {
        for _ in 0..jobs {
            scope.spawn(|| serve(&queue, &make));
        }
        let mut begun = VecDeque::new();
        loop {
            while begun.len() < jobs * AHEAD {
                let Some(item) = items.next() else { break };
                begun.push_back(begin(&work, item));
            }
            let Some(first) = begun.pop_front() else { break };
            let result = first.recv().unwrap_or_else(|_| Err("the worker was lost".to_owned()));
            if sink(result).is_break() {
                break;
            }
        }
        drop(work);
    });
}

fn begin<I, T>(work: &Sender<Task<I, T>>, item: I) -> Receiver<Result<T, String>> {
    let (answer, result) = sync_channel(1);
    // The queue lives as long as the scope; were it gone, the receiver would say so.
    let _ = work.send((item, answer));
    result
}

fn serve<I, T, W: FnMut(I) -> T>(queue: &Mutex<Receiver<Task<I, T>>>, make: &(impl Fn() -> W + Sync)) {
    let mut worker = None;
    loop {
        let next = queue.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((item, answer)) = next else { return };
        let result = guarded(&mut worker, make, |worker| worker(item));
        // Nobody waits any more when the sink has broken off.
        let _ = answer.send(result);
    }
}

/// Lets a worker work; one that panics is made anew for the next input.
pub(super) fn guarded<W, T>(
    worker: &mut Option<W>,
    make: &impl Fn() -> W,
    work: impl FnOnce(&mut W) -> T,
) -> Result<T, String> {
    let result = catch_unwind(AssertUnwindSafe(|| work(worker.get_or_insert_with(make))));
    result.map_err(|panic| {
        *worker = None;
        fault_of_the_program(&*panic)
    })
}

/// What a panic becomes.
fn fault_of_the_program(panic: &(dyn std::any::Any + Send)) -> String {
    let plain = panic.downcast_ref::<&str>().copied();
    let words = plain.or_else(|| panic.downcast_ref::<String>().map(String::as_str)).unwrap_or("no message");
    format!("a fault of the program: {words}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn order_is_kept_whatever_the_speed() {
        for jobs in [1, 2, 7] {
            let mut got = Vec::new();
            let make = || {
                |i: u64| {
                    std::thread::sleep(Duration::from_micros(i * 7919 % 400));
                    i * i
                }
            };
            ordered(jobs, 0..200_u64, make, |result| {
                got.push(result.unwrap());
                ControlFlow::Continue(())
            });
            assert_eq!(got, (0..200).map(|i| i * i).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_panic_is_one_message_and_the_worker_is_made_anew() {
        let made = AtomicUsize::new(0);
        let make = || {
            made.fetch_add(1, Ordering::SeqCst);
            |i: usize| if i == 5 { panic!("five") } else { i }
        };
        let mut got = Vec::new();
        ordered(1, 0..10, make, |result| {
            got.push(result);
            ControlFlow::Continue(())
        });
        assert_eq!(got[5], Err("a fault of the program: five".to_owned()));
        assert_eq!(got.iter().filter(|r| r.is_ok()).count(), 9);
        assert_eq!(made.load(Ordering::SeqCst), 2);
    }

    #[test]
    fn no_more_is_begun_than_the_window_holds() {
        let begun = AtomicUsize::new(0);
        let mut taken = 0;
        let items = (0..1000).inspect(|_| {
            begun.fetch_add(1, Ordering::SeqCst);
        });
        ordered(
            2,
            items,
            || |i: usize| i,
            |_| {
                taken += 1;
                assert!(begun.load(Ordering::SeqCst) <= taken + 2 * AHEAD);
                if taken == 100 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            },
        );
        assert_eq!(taken, 100);
        assert!(begun.load(Ordering::SeqCst) <= 100 + 2 * AHEAD);
    }
}
