//! A JSON file taken apart at its one long list: what is around it, and its elements piece by piece.
//!
//! In: a [`Member`]. Out: what each element was made into, and what is around the list. The text is not walked through to
//! find where elements end: it is cut where one seems to begin, and the parsing of the piece before the cut tells whether
//! that was right, because a piece is a whole list only if the cut lies between two of its elements. So cores share
//! the parsing and nothing is gone through twice. Nothing wrong is told here: a text that cannot be taken apart is
//! `None`, and whoever asked parses it as a whole, which tells what is wrong.

use super::clean::{self, Cleaned};
use super::source::Member;
use super::{json, limits};
use crate::note::Fault;
use memchr::memmem;
use rayon::Yield;
use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, SeqAccess, Visitor};
use std::collections::VecDeque;
use std::fmt;
use std::io::BufRead;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{self, Receiver, TryRecvError};

/// Most bytes that are kept from before the list, and most that are searched for a place to cut.
const LONGEST: usize = limits::PRECEDING;

/// Pieces of a short file: enough for cores to end at about the same time.
const PIECES: usize = 16;

/// Parses the elements of a list on all cores, each by a seed, and hands them to `each` in the order of the file until it
/// refuses. The list is the one at the top, or the one under the first of these keys that an object at the
/// top has. The text up to the bracket that opens the list is made into something beside the elements. Gives that, and the
/// text from the bracket on that closes the list. `None` where anything is wrong: what `each` took is void then.
///
/// # Errors
/// The file could not be opened or looked at.
pub fn elements<S, T: Send, B: Send>(
    member: &Member,
    under: &[&str],
    seed: impl Fn() -> S + Sync,
    before: impl FnOnce(Vec<u8>) -> B + Send,
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
    let parse =
        |piece: &[u8]| list_of(piece, &seed).or_else(|| list_of(&clean::cleaned(piece)?, &seed));
    let most = 2 * rayon::current_num_threads().max(2);
    let waiting = AtomicUsize::new(0);
    let (parse, waiting) = (&parse, &waiting);
    let (mut made_of_before, mut behind) = (None, Vec::new());
    let taken = rayon::in_place_scope(|scope| {
        let made_of_before = &mut made_of_before;
        waiting.fetch_add(1, Ordering::Relaxed);
        scope.spawn(move |_| {
            waiting.fetch_sub(1, Ordering::Relaxed);
            *made_of_before = Some(before(text_before));
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

/// What becomes of a piece; until it is there, this thread parses others that still wait.
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

/// The list with which a text begins, and what follows it.
fn list_of<S, T>(text: &[u8], seed: &impl Fn() -> S) -> Option<(Vec<T>, Vec<u8>)>
where
    S: for<'de> DeserializeSeed<'de, Value = T>,
{
    let whole = |text: &[u8]| json::parse_cleaned(text, Each(seed)).ok();
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
struct Each<'a, F>(&'a F);

impl<'de, F, S> DeserializeSeed<'de> for Each<'_, F>
where
    F: Fn() -> S,
    S: DeserializeSeed<'de>,
{
    type Value = Vec<S::Value>;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de, F, S> Visitor<'de> for Each<'_, F>
where
    F: Fn() -> S,
    S: DeserializeSeed<'de>,
{
    type Value = Vec<S::Value>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let mut list = Vec::new();
        while let Some(element) = seq.next_element_seed(self.0())? {
            list.push(element);
        }
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
    /// The text before the list with its bracket, and the pieces.
    fn of(reader: Box<dyn BufRead>, under: &[&str], length: usize) -> Option<(Vec<u8>, Pieces)> {
        let mut clean = Cleaned::new(reader);
        // Room for the list of images that precedes annotations; what is not used costs nothing.
        let mut before = Vec::with_capacity(limits::BEGINNING);
        let mut waiting = Vec::with_capacity(2 * length);
        'search: loop {
            let (chunk, brackets) = clean.chunk().ok()??;
            let mut from = 0;
            for bracket in brackets.iter().filter(|bracket| bracket.byte == b'[') {
                let begin = bracket.end - 1;
                before.extend_from_slice(chunk.get(from..begin)?);
                from = begin;
                if is_meant(&before, bracket.around, under) {
                    before.push(b'[');
                    waiting.extend_from_slice(chunk.get(from..)?);
                    break 'search;
                }
            }
            before.extend_from_slice(chunk.get(from..)?);
            if before.len() > LONGEST {
                return None;
            }
        }
        let (reader, word) = clean.into_inner();
        waiting.extend(word);
        let mut pieces = Pieces {
            reader,
            length,
            opening: None,
            waiting,
            ended: false,
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

/// Whether a list that begins after this text, with so many brackets around it, is the one that is meant.
fn is_meant(before: &[u8], around: usize, under: &[&str]) -> bool {
    let before = before.trim_ascii_end();
    if around != 1 {
        return before.is_empty();
    }
    let Some(before) = before.strip_suffix(b":").map(<[u8]>::trim_ascii_end) else {
        return false;
    };
    under.iter().any(|key| {
        before
            .strip_suffix(format!("\"{key}\"").as_bytes())
            .is_some_and(|before| !before.ends_with(b"\\"))
    })
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
    use std::marker::PhantomData;

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
            |before| before,
            |element| {
                all.push(element.n);
                true
            },
        );
        rest.unwrap()
            .map(|(before, behind)| (all, String::from_utf8([before, behind].concat()).unwrap()))
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
    fn what_is_not_json_is_left_to_the_whole_reading() {
        const MANY: usize = 100_000;
        let good = text(MANY, "7");
        let wrong = [
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
