use super::*;

const JOINTS: [Joint; 5] = [
    Joint::Shoulder(Side::Left),
    Joint::Shoulder(Side::Right),
    Joint::Elbow(Side::Left),
    Joint::Wrist(Side::Left),
    Joint::MidHip,
];

/// A body with its shoulders' middle at (x, y), a trunk of a length, and an arm raised by an angle.
fn body(x: f32, y: f32, trunk: f32, raised: f32, id: Option<&str>) -> Detection {
    let (s, c) = raised.sin_cos();
    let half = trunk * 0.35;
    let elbow = [x + half + 0.6 * trunk * s, y + 0.6 * trunk * c, 1.0];
    let wrist = [x + half + 1.1 * trunk * s, y + 1.1 * trunk * c, 1.0];
    Detection {
        id: id.map(str::to_string),
        picture: vec![
            [x + half, y, 1.0],
            [x - half, y, 1.0],
            elbow,
            wrist,
            [x, y + trunk, 1.0],
        ],
        space: Vec::new(),
    }
}

fn clip(frames: usize, people: impl Fn(usize) -> Vec<Detection>) -> Frames {
    (0..frames)
        .map(|index| RecordingFrame {
            number: index as i64,
            stamp_s: None,
            people: people(index),
        })
        .collect()
}

fn wave(index: usize) -> f32 {
    (index as f32 * 0.1).sin().abs()
}

/// The x of the chosen person's right shoulder in each frame where there is one.
fn places(frames: &Frames, chosen: &Chosen) -> Vec<f32> {
    let picks = chosen.picks.iter().enumerate();
    let place = |(index, pick): (usize, &Option<usize>)| {
        frames.look(index, |frame| Some(frame.people[(*pick)?].picture[1][0]))?
    };
    picks.filter_map(place).collect()
}

#[test]
fn the_one_who_exercises_is_chosen_though_the_order_changes() {
    let frames = clip(100, |index| {
        let mut people = vec![body(500.0, 300.0, 200.0, wave(index), None)];
        if (30..60).contains(&index) {
            people.push(body(20.0 * index as f32, 320.0, 150.0, 0.1, None));
        }
        if index % 2 == 0 {
            people.reverse();
        }
        people
    });
    let chosen = choose(&frames, &JOINTS, 0.0, None).unwrap();
    let places = places(&frames, &chosen);
    assert_eq!(places.len(), 100);
    assert!(places.iter().all(|x| (x - 430.0).abs() < 1.0), "{places:?}");
    assert_eq!(
        chosen
            .people
            .iter()
            .map(|one| one.frames)
            .collect::<Vec<_>>(),
        [100, 30]
    );
    let codes: Vec<_> = chosen.notes.iter().map(|note| note.code.as_str()).collect();
    assert_eq!(codes, ["person/chosen", "person/passer-by"]);
    assert!(chosen.notes[1].text.contains("30 of 100"));
}

#[test]
fn the_larger_still_onlooker_is_not_the_mover() {
    let frames = clip(90, |index| {
        vec![
            body(900.0, 300.0, 230.0, 0.1, None),
            body(400.0, 300.0, 200.0, 2.5 * wave(index), None),
        ]
    });
    let chosen = choose(&frames, &JOINTS, 0.0, None).unwrap();
    assert_eq!(chosen.people[chosen.chosen].label, "2");
    let stated = choose(&frames, &JOINTS, 0.0, Some("1")).unwrap();
    assert_eq!(stated.people[stated.chosen].label, "1");
    let fault = choose(&frames, &JOINTS, 0.0, Some("9")).unwrap_err();
    assert_eq!((fault.code, fault.exit_status()), ("usage/bad-value", 2));
    assert!(fault.remedy.contains("1 (90 frames), 2 (90 frames)"));
}

#[test]
fn ids_join_what_lies_apart_and_a_new_id_may_go_on() {
    // The same id jumps across the picture; then the tracker gives the same body a new id.
    let frames = clip(60, |index| match index {
        0..20 => vec![body(100.0, 300.0, 100.0, wave(index), Some("a"))],
        20..40 => vec![body(900.0, 300.0, 100.0, wave(index), Some("a"))],
        _ => vec![body(905.0, 300.0, 100.0, wave(index), Some("b"))],
    });
    let chosen = choose(&frames, &JOINTS, 0.0, None).unwrap();
    assert_eq!(chosen.people.len(), 1);
    assert_eq!(chosen.people[0].frames, 60);
    assert_eq!(choose(&frames, &JOINTS, 0.0, Some("b")).unwrap().chosen, 0);
}

#[test]
fn a_person_lost_for_a_while_is_the_same_person() {
    let frames = clip(300, |index| match index {
        100..250 => Vec::new(),
        _ => vec![body(400.0, 300.0, 200.0, wave(index), None)],
    });
    let chosen = choose(&frames, &JOINTS, 0.0, None).unwrap();
    assert_eq!((chosen.people.len(), chosen.people[0].frames), (1, 150));
}

#[test]
fn nobody_is_a_fault() {
    let frames = clip(20, |_| Vec::new());
    assert_eq!(
        choose(&frames, &JOINTS, 0.0, None).unwrap_err().code,
        "read/no-person"
    );
    let unseen = clip(20, |_| {
        let mut one = body(1.0, 1.0, 1.0, 0.0, None);
        one.picture.iter_mut().for_each(|point| point[2] = 0.2);
        vec![one]
    });
    assert_eq!(
        choose(&unseen, &JOINTS, 0.5, None).unwrap_err().code,
        "read/no-person"
    );
}

/// Half-way the tracker gives each of two people the other's id, and later back.
#[test]
fn exchanged_ids_do_not_carry_the_measurement_to_someone_else() {
    let frames = clip(120, |index| {
        let ids = if (40..90).contains(&index) {
            ["b", "a"]
        } else {
            ["a", "b"]
        };
        vec![
            body(400.0, 300.0, 200.0, wave(index), Some(ids[0])),
            body(1000.0, 300.0, 200.0, 0.0, Some(ids[1])),
        ]
    });
    let chosen = choose(&frames, &JOINTS, 0.1, None).unwrap();
    assert_eq!(chosen.people.len(), 2);
    assert!(
        places(&frames, &chosen)
            .iter()
            .all(|x| (*x - 330.0).abs() < 1.0)
    );
    assert_eq!(chosen.picks.iter().flatten().count(), 120);
    let told = |chosen: &Chosen| {
        let mut notes = chosen.notes.iter();
        notes.any(|note| note.code == "person/ids-exchanged")
    };
    assert!(told(&chosen));
    let steady = clip(120, |index| {
        vec![
            body(400.0, 300.0, 200.0, wave(index), Some("a")),
            body(1000.0, 300.0, 200.0, 0.0, Some("b")),
        ]
    });
    assert!(!told(&choose(&steady, &JOINTS, 0.1, None).unwrap()));
}
