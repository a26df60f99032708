//! A JSON file taken apart at its one long list: what is around it, and its elements piece by piece.
//!
//! In: a [`Member`]. Out: what each element was made into, and what is around the list. The text is not walked through to
//! find where elements end: it is cut where one seems to begin, and the parsing of the piece before the cut tells whether
//! that was right, because a piece is a whole list only if the cut lies between two of its elements. In the same way the
//! list is taken to be where its key is first seen, and what is before it tells whether that was right. So cores share
//! the parsing and no element is gone through twice. Nothing wrong is told here: a text that cannot be taken apart is
//! `None`, and whoever asked parses it as a whole, which tells what is wrong.

use super::clean;
use super::source::Member;
use super::{json, limits};
use crate::note::Fault;
use memchr::memmem;
use rayon::Yield;
use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, SeqAccess, Visitor};
use std::collections::VecDeque;
use std::fmt;
use std::io::BufRead;
use std::marker::PhantomData;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, TryRecvError};

/// Most bytes that are kept from before the list, and most that are searched for a place to cut.
const LONGEST: usize = limits::PRECEDING;

/// Pieces of a short file: enough for cores to end at about the same time.
const PIECES: usize = 16;

/// Parses the elements of a list on all cores, each by a seed, and hands them to `each` in the order of the file until it
/// refuses. The list is the one at the top, or the one under the first of these keys that an object at the
/// top has. The text before the list, with an empty list and the end of an object, is made into something beside the
/// elements; `before` must refuse what is not whole, for that tells whether the list was found. Gives what was made of it,
/// and the text from the bracket on that closes the list. `None` where anything is wrong: what `each` took is void then.
///
/// # Errors
/// The file could not be opened or looked at.
pub fn elements<S, T: Send, B: Send>(
    member: &Member,
    under: &[&str],
    seed: impl Fn() -> S + Sync,
    before: impl Fn(&[u8]) -> Option<B> + Sync,
    mut each: impl FnMut(T) -> bool,
) -> Result<Option<(B, Vec<u8>)>, Fault>
where
    S: for<'de> DeserializeSeed<'de, Value = T>,
{
    let piece =
        (member.stored_bytes()? as usize / PIECES).clamp(limits::SHORT_PIECE, limits::PIECE);
    let Some((text_before, mut pieces)) = Pieces::of(member.open()?, under, piece) else {
        return Ok(None);
    };
    // Most exports have no bare words, so the cleaning waits until it is needed.
    let each_one = Each {
        seed: &seed,
        usual: AtomicUsize::new(0),
    };
    let parse = |piece: &[u8]| {
        list_of(piece, &each_one).or_else(|| list_of(&clean::cleaned(piece)?, &each_one))
    };
    let most = 2 * rayon::current_num_threads().max(2);
    let waiting = AtomicUsize::new(0);
    let (parse, before, waiting) = (&parse, &before, &waiting);
    let (mut made_of_before, mut behind) = (None, Vec::new());
    let taken = rayon::in_place_scope(|scope| {
        let made_of_before = &mut made_of_before;
        waiting.fetch_add(1, Ordering::Relaxed);
        scope.spawn(move |_| {
            waiting.fetch_sub(1, Ordering::Relaxed);
            *made_of_before =
                before(&text_before).or_else(|| before(&clean::cleaned(&text_before)?));
        });
        let (mut on_the_way, mut ended) = (VecDeque::new(), false);
        loop {
            while !ended && on_the_way.len() < most {
                let text = pieces.next()?;
                ended = text.is_empty();
                if ended {
                    break;
                }
                let (give, take) = mpsc::sync_channel(1);
                on_the_way.push_back(take);
                waiting.fetch_add(1, Ordering::Relaxed);
                scope.spawn(move |_| {
                    waiting.fetch_sub(1, Ordering::Relaxed);
                    // Nobody takes it where the reading was given up.
                    let _ = give.send((parse(&text), text));
                });
            }
            let Some(first) = on_the_way.pop_front() else {
                return Some(());
            };
            let (made, text) = when_made(&first, waiting)?;
            let (list, tail) = made?;
            let tail = clean::cleaned(&tail)?;
            if on_the_way.is_empty() && ended {
                behind = [b"]", tail.as_slice()].concat();
            } else if !tail.is_empty() {
                return None;
            }
            if !list.into_iter().all(&mut each) {
                return None;
            }
            pieces.spare.push(text);
        }
    });
    Ok(taken.and(made_of_before.map(|made| (made, behind))))
}

/// What becomes of a piece; until it is there, this thread does other parts of the work that still wait.
fn when_made<T>(made: &Receiver<T>, waiting: &AtomicUsize) -> Option<T> {
    loop {
        match made.try_recv() {
            Ok(made) => return Some(made),
            Err(TryRecvError::Disconnected) => return None,
            Err(TryRecvError::Empty) => {}
        }
        let any = waiting.load(Ordering::Relaxed) > 0;
        if !(any && rayon::yield_local() == Some(Yield::Executed)) {
            return made.recv().ok();
        }
    }
}

/// A text that stays as it is, if it is whole JSON.
pub fn whole(text: &[u8]) -> Option<Vec<u8>> {
    let parsed = json::parse_cleaned(text, PhantomData::<IgnoredAny>);
    parsed.is_ok().then(|| text.to_vec())
}

/// The text around a list, from the one before it, which ends with an empty list and its object, and the one from its end on.
pub fn around(mut before: Vec<u8>, behind: &[u8]) -> Vec<u8> {
    let list = before.iter().rposition(|byte| *byte == b'[');
    before.truncate(list.map_or(0, |place| place + 1));
    before.extend_from_slice(behind);
    before
}

/// The list with which a text begins, and what follows it.
fn list_of<F, S, T>(text: &[u8], each: &Each<'_, F>) -> Option<(Vec<T>, Vec<u8>)>
where
    F: Fn() -> S,
    S: for<'de> DeserializeSeed<'de, Value = T>,
{
    let whole = |text: &[u8]| json::parse_cleaned(text, each).ok();
    // All pieces but the last are a list and nothing else.
    let alone = text.trim_ascii_end().ends_with(b"]");
    if let Some(list) = alone.then(|| whole(text)).flatten() {
        return Some((list, Vec::new()));
    }
    let mut values = serde_json::Deserializer::from_slice(text).into_iter::<IgnoredAny>();
    values.next()?.ok()?;
    let (list, tail) = text.split_at_checked(values.byte_offset())?;
    Some((whole(list)?, tail.to_vec()))
}

/// A list whose elements a seed makes.
struct Each<'a, F> {
    seed: &'a F,
    /// Elements for which there is room at once, somewhat more than the lists before had.
    usual: AtomicUsize,
}

impl<'de, F, S> DeserializeSeed<'de> for &Each<'_, F>
where
    F: Fn() -> S,
    S: DeserializeSeed<'de>,
{
    type Value = Vec<S::Value>;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de, F, S> Visitor<'de> for &Each<'_, F>
where
    F: Fn() -> S,
    S: DeserializeSeed<'de>,
{
    type Value = Vec<S::Value>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let room = self.usual.load(Ordering::Relaxed).min(limits::PIECE / 8);
        let mut list = Vec::with_capacity(room);
        while let Some(element) = seq.next_element_seed((self.seed)())? {
            list.push(element);
        }
        let room = list.len() + list.len() / 16 + 1;
        self.usual.fetch_max(room, Ordering::Relaxed);
        Ok(list)
    }
}

/// A list cut into texts that are lists by themselves; the last one has behind it what follows the list.
struct Pieces {
    reader: Box<dyn BufRead>,
    /// Bytes of a piece.
    length: usize,
    /// How an element begins: its bracket, its first key and the colon.
    opening: Option<Vec<u8>>,
    /// What is read and not yet part of a piece, with the bracket that makes a list of it.
    waiting: Vec<u8>,
    ended: bool,
    /// Room of pieces that are done with: memory that was used before costs less than new.
    spare: Vec<Vec<u8>>,
}

impl Pieces {
    /// The text up to the bracket that seems to open the list, closed behind it, and the pieces.
    fn of(
        mut reader: Box<dyn BufRead>,
        under: &[&str],
        length: usize,
    ) -> Option<(Vec<u8>, Pieces)> {
        // Room for the list of images that precedes annotations; what is not used costs nothing.
        let mut before = Vec::with_capacity(limits::BEGINNING + limits::HEAD);
        let (mut searched, mut ended) = (0, false);
        let begin = loop {
            let chunk = reader.fill_buf().ok()?;
            let count = chunk.len();
            before.extend_from_slice(chunk);
            reader.consume(count);
            ended |= count == 0;
            match opens(&before, searched, under)? {
                Ok(begin) => break begin,
                Err(_) if ended || before.len() > LONGEST => return None,
                Err(so_far) => searched = so_far,
            }
        };
        let mut waiting = Vec::with_capacity(2 * length);
        waiting.extend_from_slice(before.get(begin..)?);
        before.truncate(begin);
        let closed: &[u8] = match before.trim_ascii_start() {
            [] => b"[]",
            _ => b"[]}",
        };
        before.extend_from_slice(closed);
        let mut pieces = Pieces {
            reader,
            length,
            opening: None,
            waiting,
            ended,
            spare: Vec::new(),
        };
        pieces.fill(length)?;
        pieces.opening = opening(&pieces.waiting);
        Some((before, pieces))
    }

    /// Reads until so many bytes wait.
    fn fill(&mut self, bytes: usize) -> Option<()> {
        while !self.ended && self.waiting.len() < bytes {
            let chunk = self.reader.fill_buf().ok()?;
            let count = chunk.len();
            self.waiting.extend_from_slice(chunk);
            self.reader.consume(count);
            self.ended = count == 0;
        }
        Some(())
    }

    /// The next piece; empty after the end.
    fn next(&mut self) -> Option<Vec<u8>> {
        let mut wanted = self.length;
        loop {
            self.fill(wanted)?;
            if self.ended {
                return Some(std::mem::take(&mut self.waiting));
            }
            match self.cut() {
                Some(piece) => return Some(piece),
                None if wanted > LONGEST => return None,
                None => wanted *= 2,
            }
        }
    }

    /// What waits up to the comma before the last element that begins in it.
    fn cut(&mut self) -> Option<Vec<u8>> {
        let begins = memmem::rfind(&self.waiting, self.opening.as_ref()?)?;
        let before = self.waiting.get(..begins)?.trim_ascii_end();
        let comma = before.len().checked_sub(1).filter(|at| *at > 0)?;
        if before.last() != Some(&b',') {
            return None;
        }
        let room = || Vec::with_capacity(2 * self.length);
        let mut next = self.spare.pop().unwrap_or_else(room);
        next.clear();
        next.push(b'[');
        next.extend_from_slice(self.waiting.get(begins..)?);
        self.waiting.truncate(comma);
        self.waiting.push(b']');
        Some(std::mem::replace(&mut self.waiting, next))
    }
}

/// The place of the bracket that seems to open the list in the beginning of a text, or, if it may still come, the place
/// from which on to search when more is read. `None` where there is neither a list at the top nor an object.
fn opens(text: &[u8], from: usize, under: &[&str]) -> Option<Result<usize, usize>> {
    match text.trim_ascii_start() {
        [] => return Some(Err(0)),
        list @ [b'[', ..] => return Some(Ok(text.len() - list.len())),
        [b'{', ..] => {}
        _ => return None,
    }
    let after = |key: &str| {
        let key = format!("\"{key}\"");
        let mut places = memmem::find_iter(text.get(from..)?, &key).map(|place| from + place);
        let found = places.find_map(|place| {
            let (before, key_on) = text.split_at_checked(place)?;
            let rest = key_on.get(key.len()..)?.trim_ascii_start();
            let value = rest.strip_prefix(b":").map(<[u8]>::trim_ascii_start);
            match value.unwrap_or(rest) {
                _ if before.ends_with(b"\\") => None,
                // More of it is needed; nobody writes so many blanks.
                [] if key_on.len() > limits::HEAD => None,
                [] => Some((place, Err(place))),
                list @ [b'[', ..] if value.is_some() => Some((place, Ok(text.len() - list.len()))),
                _ => None,
            }
        });
        // A key may be cut by the end of what is read.
        let end = text.len().saturating_sub(key.len());
        Some(found.unwrap_or((end, Err(end.max(from)))))
    };
    let first = under
        .iter()
        .filter_map(|key| after(key))
        .min_by_key(|(place, _)| *place);
    first.map(|(_, found)| found)
}

/// How the first element of a list begins, if it is an object with a key.
fn opening(list: &[u8]) -> Option<Vec<u8>> {
    let element = list.get(1..)?.trim_ascii_start();
    let quote = element.strip_prefix(b"{")?.trim_ascii_start();
    let key = quote.strip_prefix(b"\"")?;
    let end = memchr::memchr(b'"', key)?;
    let rest = key.get(end + 1..)?.trim_ascii_start().strip_prefix(b":")?;
    let length = element.len() - rest.len();
    element.get(..length).map(<[u8]>::to_vec)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::readers::Source;

    /// An object with a list of so many elements, each with a list and a bare word, and what follows it.
    pub fn text(list: usize, tail: &str) -> String {
        let elements: Vec<String> = (0..list)
            .map(|number| format!(r#"{{"n": {number}, "list": [1, NaN, "]}}"]}}"#))
            .collect();
        format!(
            r#"{{"head": {{"a": [1]}}, "frames" : [{}], "tail": {tail}}}"#,
            elements.join(", \n")
        )
    }

    #[derive(serde::Deserialize)]
    struct Element {
        n: usize,
    }

    fn gathered(text: &str) -> Option<(Vec<usize>, String)> {
        let source = Source::from_bytes("t", text.as_bytes());
        let mut all = Vec::new();
        let rest = elements(
            source.single().unwrap(),
            &["frames"],
            || PhantomData::<Element>,
            whole,
            |element| {
                all.push(element.n);
                true
            },
        );
        rest.unwrap()
            .map(|(before, behind)| (all, String::from_utf8(around(before, &behind)).unwrap()))
    }

    #[test]
    fn elements_come_in_order_and_the_rest_is_whole() {
        const MANY: usize = 100_000;
        let (all, rest) = gathered(&text(MANY, "7")).unwrap();
        assert!(all.into_iter().eq(0..MANY));
        assert_eq!(rest, r#"{"head": {"a": [1]}, "frames" : [], "tail": 7}"#);
        let list = text(MANY, "7");
        let from = list.find("[{").unwrap();
        let upto = list.find(r#", "tail""#).unwrap();
        let (all, rest) = gathered(&list[from..upto]).unwrap();
        assert!(all.into_iter().eq(0..MANY));
        assert_eq!(rest, "[]");
    }

    #[test]
    fn what_looks_like_an_element_and_is_none_never_changes_the_elements() {
        const MANY: usize = 60_000;
        let all = |list: &str, tail: &str| {
            let elements: Vec<String> = (0..MANY)
                .map(|number| list.replace('#', &number.to_string()))
                .collect();
            gathered(&format!(
                r#"{{"frames": [{}], "tail": {tail}}}"#,
                elements.join(",")
            ))
        };
        let whole = |found: Option<(Vec<usize>, String)>| {
            let (numbers, rest) = found.unwrap();
            assert!(numbers.into_iter().eq(0..MANY));
            let rest: serde_json::Value = serde_json::from_str(&rest).unwrap();
            assert_eq!(rest["frames"], serde_json::json!([]));
        };
        // Without a bare word, with one now and then, and with the opening only in some elements.
        whole(all(r#"{"n":#}"#, "7"));
        whole(all(r#"{"n":#, "word": [NaN]}"#, "[NaN, 1]"));
        let other = r#"{"m":0,"n":7}"#;
        let text = format!(r#"[{{"n":1}},{},{{"n":2}}]"#, [other; MANY].join(","));
        assert!(gathered(&text).is_none_or(|(all, _)| all.len() == MANY + 2));
        // The opening within an element, in a string, and behind the list: cut there, a piece is no list.
        let behind = format!("[{}]", [r#"{"n":1}"#; MANY].join(","));
        for (list, tail) in [
            (r#"{"n":#,"in":[{"n":1},{"n":2}]}"#, "7"),
            (r#"{"n":#,"text":",{\"n\":1}"}"#, "7"),
            (r#"{"n":#}"#, behind.as_str()),
        ] {
            let found = all(list, tail);
            assert!(found.is_none_or(|(numbers, _)| numbers.into_iter().eq(0..MANY)));
        }
    }

    #[test]
    fn a_list_opens_at_the_same_place_however_little_is_read_at_a_time() {
        let texts = [
            (r#" [{"n": 1}]"#, Some(1)),
            (r#"{"a": "frames", "frames" : [1]}"#, Some(27)),
            (r#"{"a": "\"frames\": [", "frames": [1]}"#, Some(33)),
            (r#"{"frames": 7, "others":[[1]]}"#, Some(23)),
            (r#"{"a": {"others": [1]}, "frames": [1]}"#, Some(17)),
            (r#"{"n": [1]}"#, None),
            (r#""frames": [1]"#, None),
            ("  ", None),
        ];
        for (text, place) in texts {
            for step in 1..text.len() {
                let (mut searched, mut found) = (0, None);
                for end in (step..text.len()).step_by(step).chain([text.len()]) {
                    match opens(&text.as_bytes()[..end], searched, &["frames", "others"]) {
                        Some(Ok(place)) => {
                            found = Some(place);
                            break;
                        }
                        Some(Err(so_far)) => searched = so_far,
                        None => break,
                    }
                }
                assert_eq!(found, place, "{text} by {step}");
            }
        }
    }

    #[test]
    fn what_is_not_json_is_left_to_the_whole_reading() {
        const MANY: usize = 100_000;
        let good = text(MANY, "7");
        let wrong = [
            // A list of good elements under the same key, but within another object.
            good.replacen("{", r#"{"a": {"frames": [{"n": 1}]}, "#, 1),
            // More blanks behind the key than anybody writes.
            good.replacen(
                "\"frames\" ",
                &format!("\"frames\"{}", " ".repeat(3 * limits::HEAD)),
                1,
            ),
            good[..good.len() / 2].to_string(),
            good.replacen("}, \n", "} \n", MANY),
            good.replacen("[{", "[,{", 1),
            good.replacen("], \"tail", ",], \"tail", 1),
            good.replacen("\"frames\"", "\"other\"", 1),
            good.replacen("\"frames\"", "\"\\\"frames\"", 1),
        ];
        for text in wrong {
            assert!(gathered(&text).is_none(), "{}", &text[..60]);
        }
        // The same of a text that is one piece: only what is before the list tells it.
        let inner = r#"{"a": {"frames": [{"n": 1, "list": []}]}, "frames": []}"#;
        assert!(gathered(inner).is_none());
        // A comma that is missing, or one too many, at every place where pieces could part.
        for place in good.match_indices("}, \n").step_by(997) {
            for other in ["} \n", "},, \n"] {
                let mut text = good.clone();
                text.replace_range(place.0..place.0 + 4, other);
                assert!(gathered(&text).is_none(), "{}", place.0);
            }
        }
    }
}
