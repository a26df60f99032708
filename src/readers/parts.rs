//! A JSON file taken apart at its one long list: what is around it, and its elements piece by piece.
//!
//! In: a [`Member`]. Out: texts that are JSON by themselves. Where the outer brackets are is known from the cleaning, so
//! a look at the beginning costs no walk to the end, and cores share the elements. Nothing wrong is told here: a
//! text that cannot be taken apart is `None`, and whoever asked parses it as a whole, which tells what is wrong.

use super::json::{self, Bracket, Cleaned};
use super::limits;
use super::source::Member;
use crate::note::Fault;
use rayon::prelude::*;
use serde::de::DeserializeOwned;
use std::io::BufRead;
use std::marker::PhantomData;

/// The beginning of a long file, cut after an element of its first long list, and closed again. `None` for a file that
/// ends before, or that has no such list there.
///
/// # Errors
/// The file could not be opened.
pub fn beginning(member: &Member) -> Result<Option<Vec<u8>>, Fault> {
    let mut clean = Cleaned::new(member.open()?);
    let (mut text, mut open, mut cut) = (Vec::new(), Vec::new(), None);
    while text.len() < limits::BEGINNING {
        let Ok(Some(chunk)) = clean.chunk() else {
            return Ok(None);
        };
        for bracket in chunk.1 {
            open.truncate(bracket.around);
            match bracket.byte {
                b'[' => open.push(b']'),
                b'{' => open.push(b'}'),
                _ if matches!(open.as_slice(), [b']'] | [b'}', b']']) => {
                    cut = Some((text.len() + bracket.end, open.clone()));
                }
                _ => {}
            }
        }
        text.extend_from_slice(chunk.0);
    }
    Ok(cut.map(|(end, open)| {
        text.truncate(end);
        text.extend(open.iter().rev());
        text
    }))
}

/// A text in two.
pub struct Parted {
    /// What is around the list, which is empty in it.
    pub rest: Vec<u8>,
    /// The list.
    pub list: Vec<u8>,
}

/// Parts a file that fits in memory at its list: the one at the top, or the one under the first of these keys that an
/// object at the top has.
///
/// # Errors
/// The file could not be opened.
pub fn parted(member: &Member, under: &[&str]) -> Result<Option<Parted>, Fault> {
    let mut parter = Parter::new(member.open()?, under, usize::MAX);
    Ok(parter.one(limits::IN_MEMORY as usize))
}

/// Parses the elements of a list on all cores, makes of each what is kept, and hands that to `each` in the order of the
/// file until it refuses. Gives the text around the list. `None` for a short file, or where anything is wrong: what
/// `each` took is void then.
///
/// # Errors
/// The file could not be opened.
pub fn elements<T: DeserializeOwned, U: Send>(
    member: &Member,
    under: &[&str],
    kept: impl Fn(T) -> U + Sync,
    mut each: impl FnMut(U) -> bool,
) -> Result<Option<Vec<u8>>, Fault> {
    if member.stored_bytes()? < 2 * limits::PIECE as u64 {
        return Ok(None);
    }
    let mut parter = Parter::new(member.open()?, under, limits::PIECE);
    let at_once = rayon::current_num_threads().max(2);
    let parse = |piece: &Vec<u8>| {
        let list: Vec<T> = json::parse_cleaned(piece, PhantomData).ok()?;
        Some(list.into_iter().map(&kept).collect::<Vec<U>>())
    };
    let Some(mut pieces) = parter.pieces(at_once) else {
        return Ok(None);
    };
    while !pieces.is_empty() {
        let mut lists = None;
        let next = rayon::in_place_scope(|scope| {
            scope.spawn(|_| lists = pieces.par_iter().map(parse).collect::<Option<Vec<_>>>());
            parter.pieces(at_once)
        });
        let (Some(lists), Some(next)) = (lists, next) else {
            return Ok(None);
        };
        if !lists.into_iter().flatten().all(&mut each) {
            return Ok(None);
        }
        pieces = next;
    }
    Ok(parter.around())
}

/// How far a text was gone through.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stage {
    Before,
    /// In the list, whose elements have so many brackets around them.
    List(usize),
    After,
}

/// Takes a text apart as it is read.
struct Parter<'a> {
    clean: Cleaned<Box<dyn BufRead>>,
    parting: Parting<'a>,
}

/// What was taken apart so far.
struct Parting<'a> {
    under: &'a [&'a str],
    /// Bytes from which a piece ends at the next element.
    size: usize,
    stage: Stage,
    rest: Vec<u8>,
    piece: Vec<u8>,
    ended: usize,
    pieces: Vec<Vec<u8>>,
}

impl<'a> Parter<'a> {
    fn new(reader: Box<dyn BufRead>, under: &'a [&'a str], size: usize) -> Self {
        Parter {
            clean: Cleaned::new(reader),
            parting: Parting {
                under,
                size,
                stage: Stage::Before,
                rest: Vec::new(),
                piece: Vec::new(),
                ended: 0,
                pieces: Vec::new(),
            },
        }
    }

    /// So many pieces of the list, or somewhat more; none at its end.
    fn pieces(&mut self, count: usize) -> Option<Vec<Vec<u8>>> {
        while self.parting.pieces.len() < count {
            match self.clean.chunk().ok()? {
                Some((chunk, brackets)) => self.parting.take(chunk, brackets)?,
                None => break,
            }
        }
        Some(std::mem::take(&mut self.parting.pieces))
    }

    /// The whole in two, if neither part is longer than that.
    fn one(&mut self, longest: usize) -> Option<Parted> {
        while let Some((chunk, brackets)) = self.clean.chunk().ok()? {
            self.parting.take(chunk, brackets)?;
            if self.parting.piece.len().max(self.parting.rest.len()) > longest {
                return None;
            }
        }
        Some(Parted {
            list: self.parting.pieces.pop()?,
            rest: self.around()?,
        })
    }

    /// What is around the list, after its end.
    fn around(&mut self) -> Option<Vec<u8>> {
        (self.parting.stage == Stage::After).then(|| std::mem::take(&mut self.parting.rest))
    }
}

impl Parting<'_> {
    fn take(&mut self, chunk: &[u8], brackets: &[Bracket]) -> Option<()> {
        let mut from = 0;
        for bracket in brackets {
            let upto = |end: usize| chunk.get(from..end).unwrap_or_default();
            match self.stage {
                Stage::Before => {
                    self.rest.extend_from_slice(upto(bracket.end - 1));
                    let begins = bracket.byte == b'[' && self.begins(bracket.around);
                    self.rest.push(bracket.byte);
                    from = bracket.end;
                    if begins {
                        self.stage = Stage::List(bracket.around + 1);
                        self.piece.push(b'[');
                    }
                }
                Stage::List(around) if !bracket.opens() && bracket.around + 1 == around => {
                    self.piece.extend_from_slice(upto(bracket.end - 1));
                    from = bracket.end - 1;
                    self.end_piece(true)?;
                    self.stage = Stage::After;
                }
                Stage::List(around)
                    if !bracket.opens()
                        && bracket.around == around
                        && self.piece.len() + (bracket.end - from) >= self.size =>
                {
                    self.piece.extend_from_slice(upto(bracket.end));
                    from = bracket.end;
                    self.end_piece(false)?;
                }
                _ => {}
            }
        }
        let left = chunk.get(from..).unwrap_or_default();
        match self.stage {
            Stage::List(_) => self.piece.extend_from_slice(left),
            _ => self.rest.extend_from_slice(left),
        }
        Some(())
    }

    /// Whether a list that begins after what is now around it is the one that is meant.
    fn begins(&self, around: usize) -> bool {
        let before = self.rest.trim_ascii_end();
        if around != 1 {
            return before.is_empty();
        }
        let Some(before) = before.strip_suffix(b":").map(<[u8]>::trim_ascii_end) else {
            return false;
        };
        self.under.iter().any(|key| {
            before
                .strip_suffix(format!("\"{key}\"").as_bytes())
                .is_some_and(|before| !before.ends_with(b"\\"))
        })
    }

    /// Ends a piece. All but the first begin with the comma after the one before; `None` where it is missing, or where
    /// it is all that stands before the end of the list.
    fn end_piece(&mut self, last: bool) -> Option<()> {
        let content = self.piece.get(1..)?;
        let blank = content.trim_ascii_start();
        if self.ended > 0 && !blank.is_empty() {
            let comma = self.piece.len() - blank.len();
            let alone = blank.trim_ascii() == b",";
            if !blank.starts_with(b",") || (last && alone) {
                return None;
            }
            *self.piece.get_mut(comma)? = b' ';
        }
        self.piece.push(b']');
        self.pieces
            .push(std::mem::replace(&mut self.piece, vec![b'[']));
        self.ended += 1;
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readers::Source;

    fn text(list: usize, tail: &str) -> String {
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
            |element: Element| element.n,
            |n| {
                all.push(n);
                true
            },
        );
        rest.unwrap()
            .map(|rest| (all, String::from_utf8(rest).unwrap()))
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

    #[test]
    fn the_beginning_is_json_and_ends_with_a_whole_element() {
        for text in [text(20_000, "7"), format!("[{}]", text(20_000, "7"))] {
            let source = Source::from_bytes("t", text.as_bytes());
            let start = beginning(source.single().unwrap()).unwrap();
            let Some(start) = start else {
                // One element at the top is as long as the file.
                assert!(text.starts_with('['));
                continue;
            };
            assert!(start.len() < text.len() / 4);
            let value: serde_json::Value = serde_json::from_slice(&start).unwrap();
            let frames = value["frames"].as_array().unwrap();
            assert!(frames.len() > 1000);
            assert!(
                frames
                    .iter()
                    .all(|frame| frame["list"].as_array().unwrap().len() == 3)
            );
        }
        let short = Source::from_bytes("t", text(3, "7").as_bytes());
        assert!(beginning(short.single().unwrap()).unwrap().is_none());
    }

    #[test]
    fn a_file_is_parted_in_two() {
        let text = text(3, "[1, 2]");
        let source = Source::from_bytes("t", text.as_bytes());
        let parted = parted(source.single().unwrap(), &["frames"])
            .unwrap()
            .unwrap();
        let value = |text: &[u8]| serde_json::from_slice::<serde_json::Value>(text).unwrap();
        assert_eq!(value(&parted.list)[2]["n"], 2);
        assert_eq!(value(&parted.rest)["tail"][1], 2);
        assert_eq!(value(&parted.rest)["frames"], serde_json::json!([]));
    }
}
