//! COCO keypoints: results (a list of `{image_id, category_id, keypoints, score}`) and annotations (an object
//! with `images`, `annotations` and `categories`).
//!
//! `keypoints` is x, y and a third number for each point: visibility 0, 1, 2 in annotations, a score in
//! results. Names in `categories` come before the count. Whole-body annotations keep feet, face and hands in
//! lists of their own beside the 17 points. In results, frames without people are absent. Lists with `idx` or
//! `box` are of another estimator and are not claimed here.

use crate::models::{Models, Skeleton, normalised_name};
use crate::note::{Fault, FaultKind, Place};
use crate::readers::clip::{Clip, USUAL, triples, whole_triples};
use crate::readers::id::Id;
use crate::readers::image_frames::ImageFrames;
use crate::readers::json::{self, Flat, Number};
use crate::readers::source::Member;
use crate::readers::{Fit, Probe, ReadOptions, Reader, Sketch, Source, limits, parts, stream};
use crate::track::{Detection, PictureSize, Recording, Scale};
use serde::Deserialize;
use serde::de::{Deserializer, IgnoredAny};
use std::marker::PhantomData;

/// Score below which a point counts as not seen, where the third number is a score (common practice,
/// no source).
const LEAST_SCORE: f64 = 0.3;
/// Where the entries are, if they are not the list at the top.
const LIST: &[&str] = &["annotations"];
/// The layout that the lists of a whole-body annotation make up, one after the other.
const WHOLE_BODY: &str = "wholebody-133";
/// Entries for which there is room at once: two minutes of one person.
const USUAL_ENTRIES: usize = 1 << 12;
/// Points of those lists: body, feet, face, left hand, right hand (read in the annotation format's source).
const PARTS: [usize; 5] = [17, 6, 68, 21, 21];

/// The reader.
pub struct CocoJson;

impl Reader for CocoJson {
    fn id(&self) -> &'static str {
        "coco-json"
    }

    fn title(&self) -> &'static str {
        "COCO keypoint results or annotations, JSON"
    }

    fn about(&self) -> &'static str {
        "Reads a list of detections with image_id and keypoints, or an annotation object with images and \
         annotations. The image_id is the frame number. Names in `categories` decide the layout, else the \
         number of points, which is checked: 17 points are not always COCO's. Feet, face and hands of whole-body \
         annotations are read with the body. No frame rate is in such files: \
         state --fps. Annotations hold the picture's size, results do not."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        let Some(json) = probe.json().filter(|_| !probe.folder) else {
            return Fit::no("not one JSON file");
        };
        let list = |list: &Sketch| {
            list.items()
                .iter()
                .find(|item| item.has("image_id"))
                .cloned()
        };
        let (entry, whole) = match json.get("annotations") {
            Some(Sketch::List(_, 0)) if json.has("images") => {
                return Fit::certain("`images`, and nobody in `annotations`");
            }
            Some(annotations) if json.has_any(&["images", "categories"]) => {
                (list(annotations), true)
            }
            _ => (list(json), false),
        };
        let Some(entry) = entry else {
            return Fit::no("no entry with `image_id`");
        };
        if !entry.has("keypoints") {
            return Fit::no("detections without `keypoints`");
        }
        if entry.has_any(&["idx", "box"]) {
            return Fit::no("entries have `idx` or `box`, which COCO has not");
        }
        match (whole, entry.get("image_id").and_then(Sketch::text)) {
            (true, _) => Fit::certain("`images` and `annotations` with `keypoints`"),
            (false, None) => Fit::certain("a list with `image_id` and `keypoints`"),
            (false, Some(_)) => Fit::possible("a list with `keypoints`, its `image_id` a text"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let member = source.single()?;
        let place = member.place();
        let (head, entries) = match gathered(member)? {
            Some((head, entries)) => (head, Some(entries)),
            None if stream::is_object(member)? => (json::parse(member)?, None),
            None => (Head::default(), None),
        };
        let mut clip = Clip::new(options, models, &USUAL);
        let mut frames = head.frames(&place)?;
        let mut first = true;
        let mut add = |index: usize, entry: Entry| {
            let field = || place.clone().field(format!("entry {index}"));
            let id = entry.image_id.number().ok_or_else(|| {
                let what = format!("`image_id` {:?} holds no number", entry.image_id);
                no_number(what, &field())
            })?;
            let number = frames.number(id);
            frames.make_to(number, &mut clip, &place)?;
            if first && !entry.keypoints.0.is_empty() {
                first = false;
                let names = head.names_of(&entry);
                let stated = options.layout.as_deref();
                let body = || models.skeleton(WHOLE_BODY);
                if entry.is_whole_body()
                    && stated.is_none_or(|id| id == WHOLE_BODY)
                    && body().is_some_and(|body| begins_with(body, names))
                {
                    clip.settle_as(WHOLE_BODY, &field())?;
                } else if let Some(names) = names {
                    clip.name(names.to_vec());
                }
            }
            let whole = clip.layout_id() == Some(WHOLE_BODY);
            let one = entry.detection(whole, || field().frame(number))?;
            clip.person(number, one, &place)
        };
        match entries {
            Some(entries) => {
                (entries.into_iter().enumerate()).try_for_each(|(at, entry)| add(at, entry))?
            }
            None => stream::elements(member, LIST, add)?,
        }
        frames.make_to(i64::MAX, &mut clip, &place)?;
        let flags = clip.has_only_flags();
        let recording = clip.finish(self.id(), place)?;
        Ok(Recording {
            scale: match head.annotations {
                Some(_) => Scale::Pixels,
                None => Scale::Unknown,
            },
            size: head.size(),
            least_score: if flags { 0.0 } else { LEAST_SCORE },
            ..recording
        })
    }
}

/// A whole file, its entries parsed on all cores: the names may stand behind them, so that they wait. `None` where that
/// does not go, or too many would wait, and the file is parsed piece by piece.
fn gathered(member: &Member) -> Result<Option<(Head, Vec<Entry>)>, Fault> {
    // Room at once: a list that grows takes new memory at each move, and room that is not used costs nothing.
    let (mut entries, mut waiting) = (Vec::with_capacity(USUAL_ENTRIES), 0);
    let around = parts::elements(
        member,
        LIST,
        || PhantomData,
        Head::before,
        |entry: Entry| {
            waiting += entry.parts().map(<[f32]>::len).iter().sum::<usize>();
            entries.push(entry);
            entries.len() <= limits::FRAMES && waiting <= limits::WAITING
        },
    )?;
    let head = around.and_then(|(head, behind)| head.with(&behind));
    Ok(head.map(|head| (head, entries)))
}

/// What an annotation file has beside its annotations; a list of results has nothing.
#[derive(Default, Deserialize)]
struct Head {
    #[serde(default, deserialize_with = "there")]
    images: Option<Vec<Image>>,
    #[serde(default)]
    annotations: Option<IgnoredAny>,
    #[serde(default, deserialize_with = "there")]
    categories: Option<Vec<Category>>,
}

/// A member that is there; `null` is none of its kind.
fn there<'de, D: Deserializer<'de>, T: Deserialize<'de>>(member: D) -> Result<Option<T>, D::Error> {
    T::deserialize(member).map(Some)
}

#[derive(Deserialize)]
struct Image {
    #[serde(default)]
    id: Id,
    #[serde(default)]
    frame_id: Number,
    #[serde(default)]
    width: Number,
    #[serde(default)]
    height: Number,
}

#[derive(Deserialize)]
struct Category {
    #[serde(default)]
    id: Number,
    #[serde(default)]
    keypoints: Option<Vec<String>>,
}

#[derive(Deserialize)]
#[serde(from = "RawEntry")]
struct Entry {
    image_id: Id,
    category_id: Number,
    keypoints: Flat,
    /// Feet, face and hands, which few have; many entries may wait.
    others: Option<Box<[Flat; 4]>>,
    track_id: Id,
}

#[derive(Deserialize)]
#[serde(expecting = "an entry with `image_id` and `keypoints`")]
struct RawEntry {
    #[serde(default)]
    image_id: Id,
    #[serde(default)]
    category_id: Number,
    #[serde(default)]
    keypoints: Flat,
    #[serde(default)]
    foot_kpts: Flat,
    #[serde(default)]
    face_kpts: Flat,
    #[serde(default)]
    lefthand_kpts: Flat,
    #[serde(default)]
    righthand_kpts: Flat,
    #[serde(default)]
    track_id: Id,
}

impl From<RawEntry> for Entry {
    fn from(raw: RawEntry) -> Entry {
        let others = [
            raw.foot_kpts,
            raw.face_kpts,
            raw.lefthand_kpts,
            raw.righthand_kpts,
        ];
        Entry {
            image_id: raw.image_id,
            category_id: raw.category_id,
            keypoints: raw.keypoints,
            others: others
                .iter()
                .any(|part| !part.0.is_empty())
                .then(|| Box::new(others)),
            track_id: raw.track_id,
        }
    }
}

impl Category {
    fn fits(&self, entry: &Entry) -> bool {
        self.keypoints.is_some()
            && match (self.id.get(), entry.category_id.get()) {
                (Some(a), Some(b)) => a == b,
                _ => true,
            }
    }
}

/// Whether these names are the first of a layout; no names contradict nothing.
fn begins_with(layout: &Skeleton, names: Option<&[String]>) -> bool {
    names
        .unwrap_or_default()
        .iter()
        .enumerate()
        .all(|(index, name)| {
            let own = layout.keypoints.get(index);
            own.is_some_and(|own| normalised_name(own) == normalised_name(name))
        })
}

fn no_number(what: String, place: &Place) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/number",
        what,
        place.clone(),
        "numbering the images in the order of the clip",
    )
}

impl Entry {
    fn parts(&self) -> [&[f32]; 5] {
        let [foot, face, left, right] = match &self.others {
            Some(others) => others.each_ref().map(|part| part.0.as_slice()),
            None => [&[][..]; 4],
        };
        [self.keypoints.0.as_slice(), foot, face, left, right]
    }

    /// Whether hands or feet stand beside the body's 17 points.
    fn is_whole_body(&self) -> bool {
        let [body, others @ ..] = self.parts();
        body.len() == 3 * PARTS[0] && others.iter().any(|part| !part.is_empty())
    }

    fn detection(self, whole: bool, place: impl Fn() -> Place) -> Result<Detection, Fault> {
        let mut picture = Vec::new();
        if whole && self.keypoints.0.len() == 3 * PARTS[0] {
            let names = [
                "keypoints",
                "foot_kpts",
                "face_kpts",
                "lefthand_kpts",
                "righthand_kpts",
            ];
            for ((part, points), name) in self.parts().into_iter().zip(PARTS).zip(names) {
                let there = part.len() == 3 * points;
                if !there && !part.is_empty() {
                    return Err(Fault::new(
                        FaultKind::Malformed,
                        "read/length",
                        format!("{} numbers where {} were expected", part.len(), 3 * points),
                        place().field(name),
                        "exporting again; the list may be left out, but not cut",
                    ));
                }
                match there {
                    true => picture.extend(triples(part)),
                    false => picture.extend(std::iter::repeat_n([0.0; 3], points)),
                }
            }
        } else {
            picture = whole_triples(self.keypoints.0, || place().field("keypoints"))?;
        }
        Ok(Detection {
            id: self.track_id.label(),
            picture,
            space: Vec::new(),
        })
    }
}

impl Head {
    /// What a text has before the list of entries, which is empty in it.
    fn before(text: &[u8]) -> Option<Head> {
        match text.trim_ascii_start() {
            b"[]" => Some(Head::default()),
            _ => json::parse_cleaned(text, PhantomData).ok(),
        }
    }

    /// With what it has from the bracket on that closes the list. `None` where a member stands twice, or what is there is no
    /// end of such a text.
    fn with(self, behind: &[u8]) -> Option<Head> {
        if self.annotations.is_none() {
            return (behind.trim_ascii() == b"]").then_some(self);
        }
        let text = [br#"{"annotations":["#, behind].concat();
        let behind: Head = json::parse_cleaned(&text, PhantomData).ok()?;
        let twice = (self.images.is_some() && behind.images.is_some())
            || (self.categories.is_some() && behind.categories.is_some());
        (!twice).then_some(Head {
            images: self.images.or(behind.images),
            annotations: self.annotations,
            categories: self.categories.or(behind.categories),
        })
    }

    /// Names of an entry's keypoints, if there are as many as points.
    fn names_of(&self, entry: &Entry) -> Option<&[String]> {
        let mut categories = self.categories.iter().flatten();
        categories
            .find(|category| category.fits(entry))
            .and_then(|category| category.keypoints.as_deref())
            .filter(|names| 3 * names.len() == entry.keypoints.0.len())
    }

    /// The size that all images share.
    fn size(&self) -> Option<PictureSize> {
        let images = self.images.iter().flatten();
        let mut sizes = images.map(|image| Some([image.width.get()?, image.height.get()?]));
        let first = sizes.next()??;
        let [width, height] = sizes.all(|size| size == Some(first)).then_some(first)?;
        Some(PictureSize { width, height })
    }

    /// The frame of each image, whose number may differ from its id.
    fn frames(&self, place: &Place) -> Result<ImageFrames, Fault> {
        let frame = |(index, image): (usize, &Image)| {
            let id = image.id.number().ok_or_else(|| {
                let field = place.clone().field(format!("images[{index}].id"));
                no_number("an image has no number".to_string(), &field)
            })?;
            let number = image.frame_id.get().map_or(id, |number| number as i64);
            Ok((id, number))
        };
        let images = self.images.iter().flatten();
        let listed = images.enumerate().map(frame);
        ImageFrames::of(listed.collect::<Result<_, _>>()?, place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Joint;
    use crate::readers::Degree;

    fn read(text: &str) -> Result<Recording, Fault> {
        let source = Source::from_bytes("t.json", text.as_bytes());
        let models = Models::embedded().unwrap();
        CocoJson.read(&source, &ReadOptions::default(), &models)
    }

    /// Whether its entries are parsed on all cores.
    fn is_gathered(text: &str) -> bool {
        let source = Source::from_bytes("t.json", text.as_bytes());
        gathered(source.single().unwrap()).unwrap().is_some()
    }

    /// Images that are numbered otherwise than their frames, their annotations, and the category of both.
    fn members() -> [String; 3] {
        let listed = |of: &dyn Fn(usize) -> String| (0..40).map(of).collect::<Vec<_>>().join(",");
        let image = |at: usize| {
            let (id, frame) = (500 - at, 3 * at);
            format!(r#"{{"id":{id},"frame_id":{frame},"width":640,"height":480}}"#)
        };
        let annotation = |at: usize| {
            let points: Vec<String> = (0..17)
                .map(|point| format!("{},{},2", at + point, 7 * point))
                .collect();
            let (id, points) = (500 - at, points.join(","));
            format!(r#"{{"image_id":{id},"category_id":1,"keypoints":[{points}]}}"#)
        };
        let models = Models::embedded().unwrap();
        let names = &models.skeleton("coco-17").unwrap().keypoints;
        [
            format!(r#""images": [{}]"#, listed(&image)),
            format!(r#""annotations": [{}]"#, listed(&annotation)),
            format!(r#""categories": [{{"id":1,"keypoints":{names:?}}}]"#),
        ]
    }

    #[test]
    fn members_are_the_same_in_whatever_order_they_stand() {
        let members = members();
        // Annotations as they should be, in another object.
        let [_, annotations, _] = &members;
        let inner = format!(r#""inner": {{{annotations}}}"#);
        for order in [
            [0, 1, 2],
            [0, 2, 1],
            [1, 0, 2],
            [1, 2, 0],
            [2, 0, 1],
            [2, 1, 0],
        ] {
            let text = order.map(|member| members[member].as_str()).join(", ");
            // What has the key of the list and is not it is told by what is before: the file is then read as a whole.
            for (info, alone) in [
                (
                    r#""annotations of": "a", "not": "\"annotations\": [""#,
                    true,
                ),
                (r#""annotations" : {"list": [1]}"#, true),
                (inner.as_str(), false),
            ] {
                let info = format!(r#"{{{info}}}"#);
                let text = format!(r#"{{"info": {info}, {text}, "licenses": [NaN]}}"#);
                assert_eq!(is_gathered(&text), alone, "{order:?} {info}");
                let recording = read(&text).unwrap();
                assert_eq!(recording.layout, "coco-17");
                assert!(!recording.layout_by_count, "the names are seen: {order:?}");
                let size = recording.size.unwrap();
                assert_eq!([size.width, size.height], [640.0, 480.0]);
                assert_eq!(recording.frames.len(), 40);
                let mut joints = recording.joints.iter();
                let nose = joints.position(|joint| *joint == Joint::Nose).unwrap();
                for at in 0..40 {
                    let frame = recording
                        .frames
                        .look(at, |frame| (frame.number, frame.people[0].picture[nose]));
                    assert_eq!(frame, Some((3 * at as i64, [at as f32, 0.0, 2.0])));
                }
            }
        }
    }

    #[test]
    fn every_image_is_a_frame_in_whatever_order_and_however_often_people_come() {
        let points = |x: usize| vec![format!("{x},1,2"); 17].join(",");
        let annotation = |(image, x): &(i64, usize)| {
            format!(r#"{{"image_id":{image},"keypoints":[{}]}}"#, points(*x))
        };
        // Two images of one id, of which the later counts; 7 has nobody, and 4 and 90 are listed nowhere.
        let images = [(9, 30), (2, 10), (2, 11), (7, 20)]
            .map(|(id, frame)| format!(r#"{{"id":{id},"frame_id":{frame}}}"#));
        let mut people = vec![(9, 1), (2, 2), (4, 3), (90, 4), (9, 5)];
        for _ in 0..people.len() {
            people.rotate_left(1);
            let list: Vec<String> = people.iter().map(annotation).collect();
            let (images, list) = (images.join(","), list.join(","));
            let recording = read(&format!(
                r#"{{"images":[{images}],"annotations":[{list}]}}"#
            ));
            let mut seen = Vec::new();
            recording.unwrap().frames.each(|frame| {
                let mut xs: Vec<f32> = frame.people.iter().map(|one| one.picture[0][0]).collect();
                xs.sort_by(f32::total_cmp);
                seen.push((frame.number, xs));
            });
            let wanted = [
                (4, vec![3.0]),
                (10, vec![]),
                (11, vec![2.0]),
                (20, vec![]),
                (30, vec![1.0, 5.0]),
                (90, vec![4.0]),
            ];
            assert_eq!(seen, wanted, "{people:?}");
        }
    }

    #[test]
    fn a_member_that_stands_twice_is_told_wherever_it_stands() {
        let [images, annotations, categories] = members();
        let none = r#""images": []"#;
        for (text, key) in [
            ([&images, &annotations, &images], "images"),
            ([&none.to_string(), &annotations, &images], "images"),
            ([&images, &annotations, &none.to_string()], "images"),
            ([&categories, &annotations, &categories], "categories"),
            ([&annotations, &images, &annotations], "annotations"),
        ] {
            let text = format!("{{{}}}", text.map(String::as_str).join(","));
            assert!(!is_gathered(&text));
            let fault = read(&text).unwrap_err();
            assert_eq!(fault.code, "read/value");
            assert!(fault.what.contains(&format!("duplicate field `{key}`")));
        }
        let nothing = format!(r#"{{"images": null, {annotations}}}"#);
        assert_eq!(read(&nothing).unwrap_err().code, "read/value");
        let nobody = format!(r#"{{{images}, "annotations": []}}"#);
        assert!(is_gathered(&nobody));
        assert_eq!(read(&nobody).unwrap_err().code, "read/no-person");
        let source = Source::from_bytes("t.json", nobody.as_bytes());
        let models = Models::embedded().unwrap();
        let degree = |source| CocoJson.fit(&Probe::of(source).unwrap(), &models).degree;
        assert_eq!(
            degree(&source),
            Degree::Certain,
            "its own fault, not that of no format"
        );
        let other =
            Source::from_bytes("t.json", br#"{"annotations": [], "frames": []}"#.as_slice());
        assert_eq!(degree(&other), Degree::No);
    }

    #[test]
    fn the_beginning_is_enough_where_more_images_precede_than_a_look_sees() {
        let images: Vec<String> = (0..5_000)
            .map(|at| format!(r#"{{"id":{at},"width":640,"height":480}}"#))
            .collect();
        let [_, annotations, categories] = members();
        // So that the file goes on behind what is looked at.
        let other = format!(r#""licenses": "{}""#, "x".repeat(limits::BEGINNING));
        let images = images.join(",");
        let text = format!(r#"{{"images": [{images}], {annotations}, {categories}, {other}}}"#);
        let source = Source::from_bytes("t.json", text.as_bytes());
        let models = Models::embedded().unwrap();
        let degree = |probe: &Probe| CocoJson.fit(probe, &models).degree;
        let beginning = |further| Probe::of_beginning(&source, further).unwrap().unwrap();
        assert_eq!(degree(&beginning(false)), Degree::No);
        assert_eq!(degree(&beginning(true)), Degree::Certain);
        assert_eq!(degree(&Probe::of(&source).unwrap()), Degree::Certain);
    }
}
