//! JSON with bare words that stand for no number, made into JSON as it is read.
//!
//! In: bytes. Out: the same bytes with `null` for `NaN`, `Infinity` and their like outside strings, and where the outer
//! brackets are. Nesting too deep for a parser is refused here.

use super::limits;
use super::source::Stop;
use std::io::{self, BufRead, Read};

/// A text with `null` for bare words that are no numbers; `None` where it is nested too deeply.
pub(super) fn cleaned(text: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::with_capacity(text.len());
    Cleaned::new(text).read_to_end(&mut out).ok()?;
    Some(out)
}

/// Letters and sign of the longest word that stands for no number; what is longer is no such word.
const LONGEST_WORD: usize = b"-infinity".len();

/// Whether a word, which is a run of letters that may have a sign before it, stands for no number. Exponents are
/// such runs too and pass unchanged.
fn is_no_number(word: &[u8]) -> bool {
    let bare = word.strip_prefix(b"-").unwrap_or(word);
    [&b"nan"[..], b"infinity", b"inf"]
        .iter()
        .any(|no_number| bare.eq_ignore_ascii_case(no_number))
}

/// A bracket near the outside of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Bracket {
    /// The bracket.
    pub(super) byte: u8,
    /// The place after it in the cleaned chunk.
    pub(super) end: usize,
    /// Brackets that are open around it.
    pub(super) around: usize,
}

/// Brackets are told up to so many around them: object, list, element.
const NEAR: usize = 2;

/// What a byte outside of strings means to the cleaner.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Class {
    /// Digits, commas, blanks: most of an export.
    Plain,
    Quote,
    Open,
    Close,
    /// A letter, or a sign that may stand before letters.
    Word,
}

/// The class of every byte.
const CLASSES: [Class; 256] = {
    let mut classes = [Class::Plain; 256];
    let mut byte = 0;
    while byte < 128 {
        classes[byte] = match byte as u8 {
            b'"' => Class::Quote,
            b'[' | b'{' => Class::Open,
            b']' | b'}' => Class::Close,
            b'-' | b'a'..=b'z' | b'A'..=b'Z' => Class::Word,
            _ => Class::Plain,
        };
        byte += 1;
    }
    classes
};

fn class_of(byte: u8) -> Class {
    let class = CLASSES.get(usize::from(byte));
    class.copied().unwrap_or(Class::Plain)
}

/// Replaces bare words that stand for no number by `null`, watches the depth and tells where the outer brackets are.
#[derive(Default)]
struct Cleaner {
    ready: Vec<u8>,
    brackets: Vec<Bracket>,
    word: Vec<u8>,
    in_string: bool,
    escaped: bool,
    depth: usize,
}

impl Cleaner {
    /// Ends a word that was cut by the edge of a chunk.
    fn close_word(&mut self) {
        match is_no_number(&self.word) {
            true => self.ready.extend_from_slice(b"null"),
            false => self.ready.extend_from_slice(&self.word),
        }
        self.word.clear();
    }

    /// Takes a chunk. It is copied in pieces as long as possible: only a bare word that is no number parts them.
    fn clean(&mut self, chunk: &[u8]) -> io::Result<()> {
        let mut at = 0;
        if !self.word.is_empty() {
            let letters = chunk.iter().take_while(|b| b.is_ascii_alphabetic()).count();
            at = letters.min(LONGEST_WORD.saturating_sub(self.word.len()));
            self.word
                .extend_from_slice(chunk.get(..at).unwrap_or_default());
            if at == chunk.len() {
                return Ok(());
            }
            self.close_word();
        }
        let mut copied = at;
        loop {
            if self.in_string {
                let Some(end) = self.string_end(chunk.get(at..).unwrap_or_default()) else {
                    break;
                };
                at += end;
            }
            let rest = chunk.get(at..).unwrap_or_default();
            let telling = |byte: &u8| class_of(*byte) != Class::Plain;
            let Some((plain, byte)) = rest.iter().enumerate().find(|(_, byte)| telling(byte))
            else {
                break;
            };
            at += plain + 1;
            match class_of(*byte) {
                Class::Plain => {}
                Class::Quote => self.in_string = true,
                Class::Open => {
                    self.note(*byte, at - copied);
                    self.depth += 1;
                    if self.depth > limits::DEPTH {
                        return Err(io::Error::other(Stop::Depth));
                    }
                }
                Class::Close => {
                    self.depth = self.depth.saturating_sub(1);
                    self.note(*byte, at - copied);
                }
                Class::Word => {
                    let start = at - 1;
                    let rest = chunk.get(at..).unwrap_or_default();
                    if *byte == b'-' && rest.first().is_some_and(u8::is_ascii_digit) {
                        continue;
                    }
                    at += rest.iter().take_while(|b| b.is_ascii_alphabetic()).count();
                    let word = chunk.get(start..at).unwrap_or_default();
                    let cut = at == chunk.len() && word.len() <= LONGEST_WORD;
                    if cut || is_no_number(word) {
                        self.ready
                            .extend_from_slice(chunk.get(copied..start).unwrap_or_default());
                        copied = at;
                        match cut {
                            true => self.word.extend_from_slice(word),
                            false => self.ready.extend_from_slice(b"null"),
                        }
                    }
                }
            }
        }
        self.ready
            .extend_from_slice(chunk.get(copied..).unwrap_or_default());
        Ok(())
    }

    /// The place after the quote that ends the string in which a text begins; `None` where the string goes on after it.
    fn string_end(&mut self, text: &[u8]) -> Option<usize> {
        let mut at = usize::from(self.escaped && !text.is_empty());
        self.escaped &= text.is_empty();
        loop {
            let rest = text.get(at..)?;
            let ends = |byte: &u8| matches!(byte, b'"' | b'\\');
            let (plain, byte) = rest.iter().enumerate().find(|(_, byte)| ends(byte))?;
            at += plain + 1;
            if *byte == b'"' {
                self.in_string = false;
                return Some(at);
            }
            if at == text.len() {
                self.escaped = true;
                return None;
            }
            at += 1;
        }
    }

    /// Notes a bracket that ends so many bytes after what is ready.
    fn note(&mut self, byte: u8, waiting: usize) {
        if self.depth <= NEAR {
            self.brackets.push(Bracket {
                byte,
                end: self.ready.len() + waiting,
                around: self.depth,
            });
        }
    }
}

/// A reader that gives what a [`Cleaner`] makes of another.
pub(super) struct Cleaned<R> {
    inner: R,
    cleaner: Cleaner,
    given: usize,
    ended: bool,
}

impl<R: BufRead> Cleaned<R> {
    pub(super) fn new(inner: R) -> Self {
        Cleaned {
            inner,
            cleaner: Cleaner::default(),
            given: 0,
            ended: false,
        }
    }

    /// The next cleaned bytes and the outer brackets in them; `None` at the end.
    pub(super) fn chunk(&mut self) -> io::Result<Option<(&[u8], &[Bracket])>> {
        self.refill()?;
        self.given = self.cleaner.ready.len();
        Ok((self.given > 0).then_some((&self.cleaner.ready, &self.cleaner.brackets)))
    }

    fn refill(&mut self) -> io::Result<()> {
        self.cleaner.ready.clear();
        self.cleaner.brackets.clear();
        self.given = 0;
        while self.cleaner.ready.is_empty() && !self.ended {
            let chunk = self.inner.fill_buf()?;
            let taken = chunk.len();
            if taken == 0 {
                self.ended = true;
                self.cleaner.close_word();
            } else {
                self.cleaner.clean(chunk)?;
            }
            self.inner.consume(taken);
        }
        Ok(())
    }
}

impl<R: BufRead> Read for Cleaned<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.given >= self.cleaner.ready.len() {
            self.refill()?;
        }
        let waiting = self.cleaner.ready.get(self.given..).unwrap_or_default();
        let count = waiting.len().min(buffer.len());
        if let (Some(to), Some(from)) = (buffer.get_mut(..count), waiting.get(..count)) {
            to.copy_from_slice(from);
        }
        self.given += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clean(text: &str) -> String {
        let mut out = String::new();
        // A one-byte buffer puts every word across a chunk's edge.
        let reader = io::BufReader::with_capacity(1, text.as_bytes());
        Cleaned::new(reader).read_to_string(&mut out).unwrap();
        out
    }

    #[test]
    fn bare_words_become_null_outside_strings_only() {
        for (input, expected) in [
            ("[NaN, -Infinity,Infinity]", "[null, null,null]"),
            (
                r#"{"NaN":"a \" NaN","b":NaN}"#,
                r#"{"NaN":"a \" NaN","b":null}"#,
            ),
            (
                "[-1.5e-3, true, null, -2E+4]",
                "[-1.5e-3, true, null, -2E+4]",
            ),
            (
                r#"["a\\",NaN,"\"",NaN,"\\\"NaN"]"#,
                r#"["a\\",null,"\"",null,"\\\"NaN"]"#,
            ),
            ("NaN", "null"),
        ] {
            assert_eq!(clean(input), expected);
            assert_eq!(cleaned(input.as_bytes()).unwrap(), expected.as_bytes());
        }
    }
}
