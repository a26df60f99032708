//! The answer does not depend on how many threads work, nor on whether they are kept on cores of their own.

use std::process::{Command, Output};

fn scaplane(threads: &str, args: &[&str]) -> Output {
    Command::new(assert_cmd::cargo::cargo_bin!("scaplane"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("RAYON_NUM_THREADS", threads)
        .args(args)
        .output()
        .expect("the program runs")
}

#[test]
fn a_review_is_the_same_with_one_thread_two_and_more_than_there_are_cores() {
    for (clip, exercise) in [
        (
            "sample-keypoints/clean-raise/track.csv.gz",
            "scapular-raise",
        ),
        (
            "sample-keypoints/plane-drift/track.json.gz",
            "scapular-raise",
        ),
    ] {
        let args = ["review", clip, "--exercise", exercise, "--json", "-"];
        let alone = scaplane("1", &args);
        assert!(alone.status.success(), "{alone:?}");
        assert!(alone.stdout.len() > 1000);
        for threads in ["2", "7"] {
            let other = scaplane(threads, &args);
            assert_eq!(other.stdout, alone.stdout, "{clip} with {threads} threads");
        }
    }
}

#[test]
fn definitions_are_the_same_and_nothing_waits_for_ever() {
    for threads in ["1", "2", "7"] {
        let status = |args: &[&str]| scaplane(threads, args).status.code();
        assert_eq!(status(&["--help"]), Some(0));
        assert_eq!(status(&["review", "--no-such-option"]), Some(2));
        let built_in = scaplane(threads, &["exercises"]);
        let folder = scaplane(threads, &["exercises", "--models", "models"]);
        assert_eq!(built_in.status.code(), Some(0));
        assert_eq!(built_in.stdout, folder.stdout);
    }
}
