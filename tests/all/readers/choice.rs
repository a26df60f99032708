//! Two people in the picture: the one who exercises is measured.

use super::{PAIRS, has_note, models, read, recipe};
use scaplane::readers::{Opened, ReadOptions};
use scaplane::simulate::{Clip, Extras, Format, Recipe, simulate};
use scaplane::track::{Layer, Track};

/// Layouts that can hold more than one person.
const SEVERAL: [Format; 4] = [
    Format::Body25,
    Format::Coco17Results,
    Format::Coco17Annotations,
    Format::Tidy2d,
];

fn crossed(seed: u64, shuffle_people: bool) -> Clip {
    let recipe = Recipe {
        seed,
        reps: 2,
        extras: Extras {
            passer_by: true,
            shuffle_people,
            ..Extras::default()
        },
        ..recipe()
    };
    let clip = simulate(&recipe).expect("the recipe can be made");
    let both = clip
        .frames
        .iter()
        .filter(|frame| frame.people.len() == 2)
        .count();
    assert!(both > 20, "nobody passed by: {both}");
    clip
}

fn at(track: &Track, layer: &Layer, frame: usize, pair: usize) -> Option<[f64; 2]> {
    let at = layer.flat(frame, track.column(PAIRS[pair].1)?)?;
    let middle = track
        .size
        .map_or([0.0; 2], |size| [size.width / 2.0, size.height / 2.0]);
    Some([at.x + middle[0], middle[1] - at.y])
}

/// Frames in which the shoulders of the track are those of the subject, and frames in which they are not.
fn frames_of_the_subject(clip: &Clip, opened: &Opened) -> (usize, usize) {
    let layer = opened.track.picture.as_ref().expect("a picture");
    let (mut own, mut other) = (0, 0);
    for (index, frame) in clip.frames.iter().enumerate() {
        // A file without an entry for a frame without people: none here, the subject is always there.
        let person = frame.person().expect("the subject is there");
        for (pair, (point, _)) in PAIRS.iter().enumerate().take(2) {
            let Some([x, y]) = at(&opened.track, layer, index, pair) else {
                continue;
            };
            let truth = person.image[*point];
            match (x - truth.x).hypot(y - truth.y) < 0.02 {
                true => own += 1,
                false => other += 1,
            }
        }
    }
    (own, other)
}

#[test]
fn the_person_who_exercises_is_chosen() {
    let mut cases = 0;
    for (seed, shuffle) in (1..=24).map(|seed| (seed, seed % 2 == 0)) {
        let clip = crossed(seed, shuffle);
        for format in SEVERAL {
            if shuffle && format == Format::Tidy2d {
                continue; // its person column is an id, which shuffling makes untrue
            }
            let name = format!("{} seed {seed} shuffled {shuffle}", format.id());
            let bytes = clip.bytes(format).expect("bytes");
            let opened = read(&name, bytes, &ReadOptions::default()).expect(&name);
            assert!(
                opened.facts.people.len() >= 2,
                "{name}: {:?}",
                opened.facts.people
            );
            for code in ["person/chosen", "person/passer-by"] {
                assert!(has_note(&opened, code), "{name}: {:?}", opened.notes);
            }
            let (own, other) = frames_of_the_subject(&clip, &opened);
            assert_eq!(other, 0, "{name}: someone else in {other} points");
            let all = 2 * clip.frames.len();
            assert!(own * 100 > all * 93, "{name}: {own} of {all}");
            cases += 1;
        }
    }
    println!("{cases} clips with a passer-by");
    assert_eq!(cases, 12 * 4 + 12 * 3);
}

#[test]
fn the_user_may_choose_the_other_one() {
    let clip = crossed(1, false);
    let mut chosen = 0;
    for format in SEVERAL {
        let bytes = clip.bytes(format).expect("bytes");
        let plain = read(format.id(), bytes.clone(), &ReadOptions::default()).expect("it is read");
        for person in &plain.facts.people {
            let options = ReadOptions {
                person: Some(person.label.clone()),
                ..ReadOptions::default()
            };
            let opened = read(format.id(), bytes.clone(), &options).expect("it is read");
            assert_eq!(opened.track.person, person.label);
            let (own, other) = frames_of_the_subject(&clip, &opened);
            let subject = person.label == plain.track.person;
            assert_eq!(subject, own > other, "{}: {own} {other}", format.id());
            chosen += 1;
        }
    }
    assert!(chosen >= 8 && models().skeletons.len() > 5);
}
