//! Which core a thread keeps to, where two threads share two cores.
//!
//! When a thread has slept and is woken, Linux likes to put it on the core of whoever woke it. On a virtual machine the other
//! core, which has slept as well, looks as if it were taken, so both threads share one core for milliseconds while the other
//! one is free: a clip of forty seconds is over before they part. Kept apart, they do not. With more cores, or more
//! threads than cores, the system knows better, and nothing is done; nor is anything where the system is another.

#[cfg(target_os = "linux")]
pub use linux::Stay;
#[cfg(target_os = "linux")]
pub(super) use linux::{help, note, two};
#[cfg(not(target_os = "linux"))]
pub use other::Stay;
#[cfg(not(target_os = "linux"))]
pub(super) use other::{help, note, two};

/// Asks the processor what it can do. Whoever asks first waits for it, on a virtual machine a tenth of a millisecond; a
/// helper has that time when it starts.
pub(super) fn ask_processor() {
    #[cfg(target_arch = "x86_64")]
    std::hint::black_box(std::arch::is_x86_feature_detected!("avx2"));
}

#[cfg(target_os = "linux")]
mod linux {
    use rustix::thread::{CpuSet, sched_getaffinity, sched_getcpu, sched_setaffinity};
    use std::sync::OnceLock;

    /// The two cores of this process, where it has two.
    static CORES: OnceLock<Two> = OnceLock::new();

    /// Both cores.
    pub struct Two {
        both: CpuSet,
        /// The core the first thread began on, and keeps to.
        first: usize,
        helper: usize,
    }

    /// Notes the cores, in the first thread.
    pub fn note() {
        let Ok(both) = sched_getaffinity(None) else {
            return;
        };
        let first = sched_getcpu();
        let cores: Vec<usize> = (0..CpuSet::MAX_CPU)
            .filter(|core| both.is_set(*core))
            .collect();
        let helper = match cores.as_slice() {
            [core, helper] if *core == first => *helper,
            [helper, core] if *core == first => *helper,
            _ => return,
        };
        let _ = CORES.set(Two {
            both,
            first,
            helper,
        });
    }

    /// Keeps the calling thread, a helper, off the first thread's core.
    pub fn help(threads: usize) {
        if let Some(two) = two(threads) {
            keep(two.helper);
        }
    }

    /// The cores, where so many threads are to be kept apart.
    pub fn two(threads: usize) -> Option<&'static Two> {
        CORES.get().filter(|_| threads == 2)
    }

    /// A thread kept on its core; it may go where it likes again when this is dropped.
    pub struct Stay(Option<&'static Two>);

    impl Stay {
        /// Keeps the calling thread where it began, if so many threads work.
        pub fn of(threads: usize) -> Self {
            let two = two(threads);
            if let Some(two) = two {
                keep(two.first);
            }
            Stay(two)
        }
    }

    impl Drop for Stay {
        fn drop(&mut self) {
            if let Some(two) = self.0 {
                // Refused only where a core was taken from the process meanwhile; the system has moved the thread then.
                let _ = sched_setaffinity(None, &two.both);
            }
        }
    }

    fn keep(core: usize) {
        let mut only = CpuSet::new();
        only.set(core);
        // As above; speed is all that is lost.
        let _ = sched_setaffinity(None, &only);
    }
}

#[cfg(not(target_os = "linux"))]
mod other {
    pub fn note() {}

    pub fn help(_: usize) {}

    pub fn two(_: usize) -> Option<()> {
        None
    }

    /// Nothing is kept here.
    pub struct Stay;

    impl Stay {
        /// As on Linux.
        pub fn of(_: usize) -> Self {
            Stay
        }
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;
    use rustix::thread::sched_getaffinity;
    use std::thread;

    #[test]
    fn two_threads_on_two_cores_are_kept_apart_until_the_first_is_free_again() {
        let before = sched_getaffinity(None).unwrap();
        let cores = before.count();
        note();
        let alone = thread::spawn(|| {
            help(1);
            sched_getaffinity(None).unwrap()
        });
        assert_eq!(
            alone.join().unwrap(),
            before,
            "one thread has nobody to keep off"
        );
        let helper = thread::spawn(|| {
            help(2);
            sched_getaffinity(None).unwrap()
        });
        let helper = helper.join().unwrap();
        let stay = Stay::of(2);
        let first = sched_getaffinity(None).unwrap();
        if cores == 2 {
            assert_eq!((first.count(), helper.count()), (1, 1));
            assert_ne!(first, helper);
        } else {
            assert_eq!((first, helper), (before, before));
        }
        drop(stay);
        assert_eq!(sched_getaffinity(None).unwrap(), before);
    }
}
