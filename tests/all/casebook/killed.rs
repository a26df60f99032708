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
            let there = sessions(&book);
            assert!(
                there >= reported,
                "{there} of {reported}, round {rounds}, seed {seed}"
            );
            partial += usize::from(there > 0 && there < SESSIONS);
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

/// Sessions in a book that is whole; none where a kill before the first left no file or an empty one. One look only:
/// it takes back what was half made of a new file.
fn sessions(book: &std::path::Path) -> usize {
    let out = super::output(super::command("check", book));
    let said = super::errors(&out);
    match said.contains("casebook/empty") || said.contains("casebook/missing") {
        true => 0,
        false => super::counted(&out),
    }
}
