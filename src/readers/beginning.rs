//! The beginning of a long JSON file, as a file of its own: what a first look is content with.
//!
//! In: a [`Member`]. Out: JSON that holds the first elements of the outer lists. A list of which enough was seen is passed
//! over, for what tells a format may stand behind it: images precede annotations.

use super::clean::Cleaned;
use super::limits;
use super::sketch::OUTER_ELEMENTS;
use super::source::Member;
use crate::note::Fault;

/// The beginning of a long file, cut after an element of an outer list, and closed again. Elements of a list beyond
/// [`limits::ENOUGH`] are left out. A beginning that goes `further` has as many as an outline keeps, does not count the others
/// where their list is in an object, and ends some way behind it, because images precede annotations. `None` for a file that
/// ends before it, or has no such list there, and where going further shows no more.
///
/// # Errors
/// The file could not be opened.
pub fn beginning(member: &Member, further: bool) -> Result<Option<Vec<u8>>, Fault> {
    let mut clean = Cleaned::new(member.open()?);
    // Room at once: each move of a list that grows takes new memory.
    let mut text = Vec::with_capacity(limits::BEGINNING + limits::HEAD);
    let (mut open, mut cut) = (Vec::new(), None);
    let (mut read, mut seen, mut elements) = (0, 0, 0);
    // Whether elements are passed over, and whether a list of such is behind.
    let (mut passing, mut over) = (false, false);
    let (most, mut more) = match further {
        true => (OUTER_ELEMENTS, false),
        false => (limits::ENOUGH, true),
    };
    while seen < limits::BEGINNING && read < limits::PRECEDING {
        let Ok(Some((chunk, brackets))) = clean.chunk() else {
            return Ok(None);
        };
        read += chunk.len();
        seen += chunk.len();
        let mut from = 0;
        for bracket in brackets {
            open.truncate(bracket.around);
            let in_list = |open: &[u8]| matches!(open, [b']'] | [b'}', b']']);
            match bracket.byte {
                b'[' => {
                    open.push(b']');
                    elements *= usize::from(!in_list(&open));
                }
                b'{' => open.push(b'}'),
                _ if in_list(&open) && !passing => {
                    text.extend_from_slice(chunk.get(from..bracket.end).unwrap_or_default());
                    from = bracket.end;
                    let closing = if open.len() == 1 { "]" } else { "]}" };
                    cut = Some((text.len(), closing));
                    elements += 1;
                    more |= elements > limits::ENOUGH;
                    passing = elements >= most;
                }
                // The list ends in which elements were passed over.
                b']' if passing && matches!(open.as_slice(), [] | [b'}']) => {
                    passing = false;
                    from = bracket.end - 1;
                    if further && !open.is_empty() {
                        let behind = chunk.len() - bracket.end;
                        seen = seen.min(limits::BEGINNING - limits::FOLLOWING + behind);
                        over = true;
                    }
                }
                _ => {}
            }
        }
        if !passing {
            text.extend_from_slice(chunk.get(from..).unwrap_or_default());
        }
        if further && passing && !over && open.first() == Some(&b'}') {
            seen = seen.min(limits::BEGINNING - 1);
        }
    }
    if read == seen && !more {
        return Ok(None);
    }
    Ok(cut.map(|(end, closing)| {
        text.truncate(end);
        text.extend_from_slice(closing.as_bytes());
        text
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readers::Source;
    use crate::readers::parts::tests::text;

    #[test]
    fn the_beginning_is_json_and_ends_with_a_whole_element() {
        for text in [text(20_000, "7"), format!("[{}]", text(20_000, "7"))] {
            let source = Source::from_bytes("t", text.as_bytes());
            let start = beginning(source.single().unwrap(), false).unwrap();
            let Some(start) = start else {
                // One element at the top is as long as the file.
                assert!(text.starts_with('['));
                continue;
            };
            assert!(start.len() < text.len() / 4);
            let value: serde_json::Value = serde_json::from_slice(&start).unwrap();
            let frames = value["frames"].as_array().unwrap();
            assert_eq!(frames.len(), limits::ENOUGH);
            assert!(
                frames
                    .iter()
                    .all(|frame| frame["list"].as_array().unwrap().len() == 3)
            );
        }
        // What follows a list of which elements were passed over is seen.
        let tail: Vec<String> = (0..60_000).map(|n| format!(r#"{{"m":[{n}]}}"#)).collect();
        for short in [29, 30, 31, 900] {
            let text = text(short, &format!("[{}]", tail.join(",")));
            let source = Source::from_bytes("t", text.as_bytes());
            let start = beginning(source.single().unwrap(), false).unwrap().unwrap();
            let value: serde_json::Value = serde_json::from_slice(&start).unwrap();
            let kept = |key: &str| value[key].as_array().unwrap().len();
            let frames = short.min(limits::ENOUGH);
            assert_eq!([kept("frames"), kept("tail")], [frames, limits::ENOUGH]);
            assert_eq!(value["tail"][29]["m"][0], 29);
        }
        // The same of a list at the top, and of lists in a list.
        let lists: Vec<String> = (0..60_000).map(|n| format!("[[{n}],[{n}]]")).collect();
        for list in [&tail, &lists] {
            let source = Source::from_bytes("t", format!("[{}]", list.join(",")).as_bytes());
            for (further, elements) in [(false, limits::ENOUGH), (true, OUTER_ELEMENTS)] {
                let start = beginning(source.single().unwrap(), further);
                let start = start.unwrap().unwrap();
                let value: Vec<serde_json::Value> = serde_json::from_slice(&start).unwrap();
                assert_eq!(value.len(), elements);
            }
        }
        let short = Source::from_bytes("t", text(3, "7").as_bytes());
        assert!(beginning(short.single().unwrap(), false).unwrap().is_none());
    }

    #[test]
    fn a_beginning_that_goes_further_shows_what_follows_a_longer_list() {
        let further = |text: &str| {
            let source = Source::from_bytes("t", text.as_bytes());
            let member = source.single().unwrap();
            let near = beginning(member, false).unwrap().map(|text| text.len());
            (beginning(member, true).unwrap(), near)
        };
        let tail: Vec<String> = (0..60_000).map(|n| format!(r#"{{"m":[{n}]}}"#)).collect();
        let tail = format!("[{}]", tail.join(","));
        // The list ends anywhere in the part of the file that is read at once.
        for shift in (0..70_000).step_by(1_777) {
            let text = format!("{}{}", " ".repeat(shift), text(20_000, &tail));
            let (start, near) = further(&text);
            let start = start.unwrap();
            assert!(near.unwrap() < start.len());
            let value: serde_json::Value = serde_json::from_slice(&start).unwrap();
            let kept = |key: &str| value[key].as_array().unwrap().len();
            assert_eq!(
                [kept("frames"), kept("tail")],
                [OUTER_ELEMENTS; 2],
                "{shift}"
            );
        }
        // Nothing more is shown of lists with long elements, of short ones, and of one that the file ends with.
        let long = format!(r#"{{"n": "{}"}}"#, "x".repeat(10_000));
        let long = vec![long; 1000].join(",");
        let few = vec![r#"{"n": [1]}"#; limits::ENOUGH].join(",");
        for text in [
            text(20_000, "7"),
            format!("[{long}]"),
            format!(r#"{{"frames": [{long}], "tail": {tail}}}"#),
            format!(
                r#"{{"frames": [{few}], "tail": "{}"}}"#,
                "x".repeat(limits::BEGINNING)
            ),
        ] {
            let (start, near) = further(&text);
            assert!(start.is_none() && near.is_some(), "{}", &text[..60]);
        }
    }
}
