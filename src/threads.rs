//! The threads that share the work, and the memory they start with.
//!
//! A thread's part of the heap grows a page at a time in the usual allocator of Linux, with a call to the system for each
//! page, and shrinks as readily. A clip of forty seconds paid for three hundred such calls. Both are put right without
//! leaving the language: a large block given back raises what the allocator keeps, a smaller one makes it grow at once.
//! Memory that is not written to costs nothing; other allocators take no notice.

mod cores;

pub use cores::Stay;
use rayon::{ThreadPoolBuilder, Yield};
use std::mem;
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::{Duration, Instant};

/// A block so large that the allocator maps it by itself; given back, it becomes the bound below which blocks come from the
/// heap, and twice that is kept free at its end.
const BOUND: usize = 4 << 20;

/// Room with which each thread's heap starts: a usual clip needs it.
const ROOM: usize = 2 << 20;

/// Threads that are ready to work: as many as cores, unless the number is set.
#[must_use]
pub fn builder() -> ThreadPoolBuilder {
    take(BOUND);
    ThreadPoolBuilder::new().start_handler(|_| take(ROOM))
}

/// Makes the calling thread one of those that share the work, and starts the others, once in a process. Where that is not
/// allowed, work goes on with the threads that are there. The answer can be waited for. A thread that is started otherwise
/// does not share in them: it finds others where it asks for some.
#[must_use]
pub fn start() -> Starting {
    cores::note();
    let (in_place, waiting) = mpsc::channel();
    let pool = builder().use_current_thread().start_handler(move |_| {
        cores::help(rayon::current_num_threads());
        // Nobody waits where there is nothing to wait for.
        let _ = in_place.send(());
        take(ROOM);
        cores::ask_processor();
    });
    // Not as the global ones, which are waited for. They serve until the process ends.
    let started = pool.build().map(mem::forget).is_ok();
    if started {
        take(ROOM);
    }
    let two = started && cores::two(rayon::current_num_threads()).is_some();
    Starting(two.then_some(waiting))
}

/// Threads that were started, of which some may not be running yet.
pub struct Starting(Option<Receiver<()>>);

impl Starting {
    /// Waits until a helper that was born on this thread's core has left it: it leaves only once it runs, and this thread
    /// would go first. What needs no helper is better done before.
    pub fn wait(self) {
        if let Some(waiting) = self.0 {
            let _ = waiting.recv();
        }
    }
}

/// Keeps the calling thread, which called [`start`], on a core of its own for as long as the answer lives. Threads and
/// processes that are started meanwhile stay on that core too, so none should be.
#[must_use]
pub fn stay() -> Stay {
    Stay::of(rayon::current_num_threads())
}

/// How long a helper stays awake: the clips that are over sooner gain by it, and longer ones have longer pieces of work.
const AWAKE: Duration = Duration::from_millis(50);

/// Keeps a helper that has a core of its own awake for the next moment, also between pieces of work: to wake it takes as
/// long as some of the pieces that a short clip is worked on in. Between looks it yields to others.
pub fn stay_awake() {
    if cores::two(rayon::current_num_threads()).is_none() {
        return;
    }
    let began = Instant::now();
    rayon::spawn_broadcast(move |thread| {
        // The first thread has work of its own.
        while thread.index() > 0 && began.elapsed() < AWAKE {
            if rayon::yield_now() != Some(Yield::Executed) {
                thread::yield_now();
            }
        }
    });
}

/// Takes memory and gives it back.
fn take(bytes: usize) {
    let block: Vec<u8> = Vec::with_capacity(bytes);
    std::hint::black_box(&block);
}
