//! Column names of a table as pandas stores them in HDF5: a Python pickle of a list of tuples of texts.
//!
//! In: the pickle's text, in the plain form (protocol 0) that PyTables writes. Out: the tuples. Only the few
//! operations that such a list needs are known; anything else is refused, so nothing can be run or grow beyond
//! its text. Operations as in `pickletools` of Python's standard library.

/// One value of the list.
#[derive(Debug, Clone)]
enum Item {
    Mark,
    Text(String),
    Tuple(Vec<String>),
    List,
    /// Something that no name is made of: a number or nothing.
    Other,
}

/// Longest chain of names of one column: scorer, person, body part and coordinate.
const LEVELS: usize = 8;

/// Most bytes of one name: a short pickle may repeat a long one many times.
const NAME: usize = 300;

/// The tuples of a pickled list, or `None` if it holds something else.
pub fn tuples(pickle: &str) -> Option<Vec<Vec<String>>> {
    let mut stack: Vec<Item> = Vec::new();
    let mut memory: Vec<(String, Item)> = Vec::new();
    let mut all = Vec::new();
    let mut rest = pickle;
    while let Some(operation) = rest.chars().next() {
        rest = rest.get(operation.len_utf8()..)?;
        let mut line = || {
            let (line, after) = rest.split_once('\n')?;
            rest = after;
            Some(line)
        };
        match operation {
            '(' => stack.push(Item::Mark),
            'V' | 'S' => {
                let text = line().filter(|text| text.len() <= NAME)?;
                stack.push(Item::Text(match operation {
                    'V' => unescaped(text)?,
                    _ => text.trim_matches(['\'', '"']).to_string(),
                }));
            }
            'I' | 'F' | 'L' => {
                line()?;
                stack.push(Item::Other);
            }
            'N' => stack.push(Item::Other),
            'l' => {
                // A list that is begun empty and then added to.
                (pop_to_mark(&mut stack)?.is_empty()).then(|| stack.push(Item::List))?;
            }
            't' => {
                let tuple: Option<Vec<String>> = pop_to_mark(&mut stack)?
                    .into_iter()
                    .map(|item| match item {
                        Item::Text(text) => Some(text),
                        _ => None,
                    })
                    .collect();
                stack.push(Item::Tuple(tuple.filter(|tuple| tuple.len() <= LEVELS)?));
            }
            'p' => memory.push((line()?.to_string(), stack.last()?.clone())),
            'g' => {
                let name = line()?;
                let known = memory.iter().rev().find(|(known, _)| known == name);
                let Some((_, Item::Text(text))) = known else {
                    return None;
                };
                stack.push(Item::Text(text.clone()));
            }
            'a' => match (stack.pop()?, stack.as_slice()) {
                (Item::Tuple(tuple), [Item::List]) => all.push(tuple),
                _ => return None,
            },
            '.' => return matches!(stack.as_slice(), [Item::List]).then_some(all),
            _ => return None,
        }
    }
    None
}

fn pop_to_mark(stack: &mut Vec<Item>) -> Option<Vec<Item>> {
    let at = stack.iter().rposition(|item| matches!(item, Item::Mark))?;
    let items = stack.split_off(at + 1);
    stack.pop();
    Some(items)
}

/// Text with `\uXXXX` for what is not Latin-1, and for the backslash.
fn unescaped(text: &str) -> Option<String> {
    let mut parts = text.split("\\u");
    let mut all = parts.next()?.to_string();
    for part in parts {
        let code = u32::from_str_radix(part.get(..4)?, 16).ok()?;
        all.push(char::from_u32(code)?);
        all.push_str(part.get(4..)?);
    }
    Some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_of_tuples_is_read() {
        let pickle =
            "(lp0\n(Vs\np1\nVnose\np2\nVx\np3\ntp4\na(g1\nV\\u0141okie\\u0107\np5\nVy\np6\ntp7\na.";
        assert_eq!(
            tuples(pickle).unwrap(),
            [["s", "nose", "x"], ["s", "Łokieć", "y"]]
        );
    }

    #[test]
    fn what_could_run_or_grow_is_refused() {
        for pickle in [
            "cos\nsystem\n(S'true'\ntR.",
            "(lp0\n(g0\ng0\ntp1\na.",
            "(lp0\n(lp1\na.",
            "(lp0\n(Vs\np1\n",
            "V\\uD800\n.",
            "a",
            "t",
            "",
        ] {
            assert!(tuples(pickle).is_none(), "{pickle}");
        }
    }
}
