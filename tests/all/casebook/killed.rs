//! An add that is killed at a random moment: the book stays whole, and what was reported is there.

use super::{Desk, whole};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::io::Read;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// Kills that must have hit a running process.
const KILLS: usize = 60;
/// Sessions of one add.
const SESSIONS: usize = 12;

#[test]
fn kills_at_random_moments_lose_nothing_that_was_reported() {
    let desk = Desk::new();
    let reviews: Vec<_> = (0..SESSIONS).map(|number| desk.review(number)).collect();
    let seed = 20_261_126;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let add = |book: &std::path::Path| {
        let mut add = super::command("add", book);
        add.args(&reviews)
            .args(["--person", "wren-1", "--date", "2026-03-14"]);
        add.stdout(Stdio::piped()).stderr(Stdio::null());
        add.spawn().expect("the program starts")
    };
    let begun = Instant::now();
    add(&desk.path("calm.casebook")).wait().expect("an end");
    let calm = begun.elapsed();
    assert_eq!(whole(&desk.path("calm.casebook")), SESSIONS);

    let (mut kills, mut starts, mut rounds, mut partial) = (0, 0, 0, 0);
    while kills < KILLS {
        rounds += 1;
        let book = desk.path(&format!("round-{rounds}.casebook"));
        let mut reported = 0;
        loop {
            starts += 1;
            assert!(
                starts < 20 * KILLS,
                "hardly any kill hits a running process"
            );
            let mut child = add(&book);
            let wait = calm.mul_f64(random.random_range(0.0..1.1));
            std::thread::sleep(wait.max(Duration::from_millis(1)));
            let running = child.try_wait().expect("a state").is_none();
            child.kill().expect("it is ours");
            let mut said = String::new();
            let mut out = child.stdout.take().expect("its output");
            out.read_to_string(&mut said).expect("text");
            child.wait().expect("an end");
            reported += said.matches("added session").count();
            kills += usize::from(running);
            // A kill before the tables are made leaves an empty file or none.
            let made = std::fs::metadata(&book).is_ok_and(|meta| meta.len() > 0);
            if made && tables(&book) {
                let there = whole(&book);
                assert!(
                    there >= reported,
                    "{there} of {reported}, round {rounds}, seed {seed}"
                );
                partial += usize::from(there > 0 && there < SESSIONS);
            } else {
                assert_eq!(reported, 0, "round {rounds}, seed {seed}");
            }
            if !running || kills >= KILLS {
                break;
            }
        }
        add(&book).wait().expect("an end");
        assert_eq!(whole(&book), SESSIONS, "round {rounds}, seed {seed}");
    }
    println!(
        "{kills} kills in {rounds} rounds of {starts} starts, {partial} within the work, seed {seed}"
    );
    assert!(
        partial > 0,
        "no kill fell between the first and the last session"
    );
}

/// Whether the file has its tables; a new one that was killed before has not.
fn tables(book: &std::path::Path) -> bool {
    let out = super::output(super::command("check", book));
    !super::errors(&out).contains("casebook/empty")
}
