//! Many photos at once, bounded in memory, told in order, and stopped without loss.
//!
//! While there are more photos than cores, each is worked on by one thread from beginning to end: parts of a photo wait
//! for each other, whole photos do not. The last ones, and those too large to have one on each core, use all threads.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Condvar, Mutex, mpsc};
use std::thread;

use rayon::{ThreadPool, ThreadPoolBuilder};

/// Pixels of all photos under work together; a photo beyond it is worked on alone. At up to 40 bytes a pixel this is
/// two gigabytes; four photos of a phone.
const MOST_PIXELS: u64 = 48_000_000;

/// How far the reading of later photos may run ahead of the one whose turn it is to be told, photos a worker: results
/// wait in memory meanwhile.
const AHEAD: usize = 4;

/// A share of the memory that photos under work may take together.
pub(super) struct Room {
    most: u64,
    taken: Mutex<u64>,
    freed: Condvar,
}

/// A part of the room, given back when dropped.
pub(super) struct Share<'a> {
    room: &'a Room,
    pixels: u64,
}

/// The threads of one worker.
pub(super) struct Lane {
    /// One thread of its own; `None` for an item that is to use all threads.
    own: Option<ThreadPool>,
    n_workers: usize,
}

impl Lane {
    /// Works on a photo of so many pixels: on this lane's own thread if the room has one such photo for each worker.
    pub(super) fn work<R: Send>(&self, pixels: u64, work: impl FnOnce() -> R + Send) -> R {
        match &self.own {
            Some(own) if pixels.saturating_mul(self.n_workers as u64) <= MOST_PIXELS => own.install(work),
            _ => work(),
        }
    }
}

impl Room {
    /// Room for as many pixels as photos may have together.
    pub(super) fn new() -> Room {
        Room { most: MOST_PIXELS, taken: Mutex::new(0), freed: Condvar::new() }
    }

    /// Waits until a photo of so many pixels has room.
    pub(super) fn take(&self, pixels: u64) -> Share<'_> {
        let pixels = pixels.min(self.most);
        // A worker that broke down while it held the lock has changed a number at most.
        let mut taken = self.taken.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        while *taken + pixels > self.most {
            taken = self.freed.wait(taken).unwrap_or_else(|poisoned| poisoned.into_inner());
        }
        *taken += pixels;
        Share { room: self, pixels }
    }
}

impl Drop for Share<'_> {
    fn drop(&mut self) {
        let mut taken = self.room.taken.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        *taken -= self.pixels;
        self.room.freed.notify_all();
    }
}

/// Works on items 0 to `n` on several threads and hands each result to `tell` on this thread, in order. Once `stop`
/// is set no further item is begun; those begun are finished and told. Returns how many were told. `work` gets the item
/// and the lane to do it on.
pub(super) fn in_order<R: Send>(
    n: usize,
    n_workers: usize,
    stop: &AtomicBool,
    work: impl Fn(usize, &Lane) -> R + Sync,
    mut tell: impl FnMut(usize, R),
) -> usize {
    let n_workers = n_workers.clamp(1, n.max(1));
    let next = AtomicUsize::new(0);
    let told = (Mutex::new(0usize), Condvar::new());
    let (sender, results) = mpsc::channel();
    thread::scope(|scope| {
        for _ in 0..n_workers {
            let sender = sender.clone();
            let (work, next, told) = (&work, &next, &told);
            scope.spawn(move || {
                // Where the system gives no further thread, all photos use the common ones.
                let mut lane = Lane { own: ThreadPoolBuilder::new().num_threads(1).build().ok(), n_workers };
                while !stop.load(Ordering::SeqCst) {
                    let index = next.fetch_add(1, Ordering::SeqCst);
                    if index >= n {
                        break;
                    }
                    let mut n_told = told.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
                    while index > *n_told + AHEAD * n_workers {
                        n_told = told.1.wait(n_told).unwrap_or_else(|poisoned| poisoned.into_inner());
                    }
                    drop(n_told);
                    if index + n_workers >= n {
                        lane.own = None;
                    }
                    // The receiver lives until all workers are done.
                    let _ = sender.send((index, work(index, &lane)));
                }
            });
        }
        drop(sender);
        let mut waiting = BTreeMap::new();
        let mut n_told = 0;
        for (index, result) in results {
            waiting.insert(index, result);
            while let Some(result) = waiting.remove(&n_told) {
                tell(n_told, result);
                n_told += 1;
                *told.0.lock().unwrap_or_else(|poisoned| poisoned.into_inner()) = n_told;
                told.1.notify_all();
            }
        }
        n_told
    })
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;
    use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
    use std::thread::sleep;
    use std::time::Duration;

    use super::{Lane, Room, in_order};

    #[test]
    fn results_come_in_order_from_any_number_of_threads() {
        for n_workers in [1, 2, 7] {
            let mut told = Vec::new();
            let stop = AtomicBool::new(false);
            let work = |i: usize, _: &Lane| {
                // Later items are quicker, so that they are ready first.
                sleep(Duration::from_micros(200 * (i as u64 % 5)));
                i * i
            };
            assert_eq!(in_order(100, n_workers, &stop, work, |i, square| told.push((i, square))), 100);
            assert!(told.iter().enumerate().all(|(i, one)| *one == (i, i * i)));
        }
        assert_eq!(in_order(0, 4, &AtomicBool::new(false), |i, _| i, |_, _| ()), 0);
    }

    #[test]
    fn what_was_begun_is_told_after_a_stop() {
        let stop = AtomicBool::new(false);
        let begun = AtomicUsize::new(0);
        let mut told = 0;
        let work = |i: usize, _: &Lane| {
            begun.fetch_add(1, Ordering::SeqCst);
            if i == 5 {
                stop.store(true, Ordering::SeqCst);
            }
        };
        let n = in_order(1000, 3, &stop, work, |_, ()| told += 1);
        assert_eq!((n, told), (begun.load(Ordering::SeqCst), begun.load(Ordering::SeqCst)));
        assert!((6..=9).contains(&n), "{n}");
    }

    #[test]
    fn photos_keep_to_one_thread_while_others_wait() {
        let megapixels = |i: usize| if i == 2 { 30 } else { 4 };
        let mut n_threads = Vec::new();
        in_order(
            6,
            2,
            &AtomicBool::new(false),
            |i, lane| lane.work(megapixels(i) * 1_000_000, rayon::current_num_threads),
            |_, n| n_threads.push(n),
        );
        let all = rayon::current_num_threads();
        assert_eq!(n_threads, [1, 1, all, 1, all, all]);
    }

    #[test]
    fn large_photos_wait_for_room() {
        let room = Room::new();
        let (now, most) = (AtomicUsize::new(0), Mutex::new(0));
        in_order(
            12,
            6,
            &AtomicBool::new(false),
            |i, _| {
                // 20 megapixels: two fit at once; one of 500 has the room for itself.
                let _share = room.take(if i == 4 { 500_000_000 } else { 20_000_000 });
                let n = now.fetch_add(1, Ordering::SeqCst) + 1;
                let mut most = most.lock().unwrap();
                *most = n.max(*most);
                drop(most);
                sleep(Duration::from_millis(2));
                now.fetch_sub(1, Ordering::SeqCst);
            },
            |_, ()| (),
        );
        assert_eq!(*most.lock().unwrap(), 2);
    }
}
