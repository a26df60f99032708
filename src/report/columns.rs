//! Lines of a terminal: how many columns a text takes, and where it is broken.
//!
//! In: text of any script. Out: lines no wider than asked. Wide and zero-width characters are told by
//! block, after Unicode Standard Annex 11 (East Asian Width): enough to keep names of files in line.

/// Columns one character takes.
fn width_of(c: char) -> usize {
    match c as u32 {
        // Combining marks, zero-width characters, variation selectors.
        0x0300..=0x036f | 0x200b..=0x200f | 0x2060 | 0xfe00..=0xfe0f | 0xfeff => 0,
        c if c < 0x20 || c == 0x7f => 0,
        // Hangul, CJK, kana, full-width forms, emoji.
        0x1100..=0x115f
        | 0x2e80..=0x303e
        | 0x3041..=0xa4cf
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0xffe0..=0xffe6
        | 0x1f300..=0x1f64f
        | 0x1f900..=0x1f9ff
        | 0x20000..=0x3fffd => 2,
        _ => 1,
    }
}

/// Columns a text takes.
pub fn width(text: &str) -> usize {
    text.chars().map(width_of).sum()
}

/// The text in lines of at most `columns`, broken at spaces; a longer word is broken where it must be.
pub fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let columns = columns.max(2);
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split_whitespace() {
        let wide = width(word);
        if used > 0 && used + 1 + wide > columns {
            lines.push(String::new());
            used = 0;
        }
        let Some(line) = lines.last_mut() else { break };
        if used > 0 {
            line.push(' ');
            used += 1;
        }
        if wide <= columns {
            line.push_str(word);
            used += wide;
            continue;
        }
        for c in word.chars() {
            if used + width_of(c) > columns {
                lines.push(String::new());
                used = 0;
            }
            if let Some(line) = lines.last_mut() {
                line.push(c);
            }
            used += width_of(c);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_and_combining_characters_are_counted_in_columns() {
        assert_eq!(width("abc"), 3);
        assert_eq!(width("肩こり"), 6);
        assert_eq!(width("e\u{301}"), 1);
    }

    #[test]
    fn no_line_is_wider_than_asked_and_no_word_is_lost() {
        let text =
            "a raise in the plane of the blade 肩の動き averyveryverylongwordthatcannotfit end";
        for columns in [5, 12, 20, 80] {
            let lines = wrapped(text, columns);
            assert!(lines.iter().all(|line| width(line) <= columns), "{lines:?}");
            let bare = |s: &str| s.replace(' ', "");
            assert_eq!(bare(&lines.concat()), bare(text));
        }
    }
}
