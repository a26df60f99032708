//! How easy a text is to read: the formulas, and a count of syllables that is checked against known words.
//!
//! English: Flesch-Kincaid grade, 0.39 words a sentence + 11.8 syllables a word - 15.59 (Kincaid JP, Fishburne RP,
//! Rogers RL, Chissom BS 1975: Derivation of new readability formulas for Navy enlisted personnel. Research Branch
//! Report 8-75). German: reading ease, 180 - words a sentence - 58.5 syllables a word (Amstad T 1978: Wie
//! verständlich sind unsere Zeitungen?, from memory); 60 to 70 is plain, above that easy.

/// Words whose vowels do not show their syllables.
const IRREGULAR: [(&str, usize); 17] = [
    ("area", 3),
    ("metre", 2),
    ("metres", 2),
    ("science", 2),
    ("camera", 3),
    ("being", 2),
    ("diagnosis", 4),
    ("idea", 3),
    ("once", 1),
    ("people", 2),
    ("shoulder", 2),
    ("something", 2),
    ("sometimes", 2),
    ("therefore", 2),
    ("video", 3),
    ("forearm", 2),
    ("medical", 3),
];

/// Syllables of the numbers as they are read aloud.
const NUMBERS: [usize; 21] = [
    2, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 3, 1, 2, 2, 2, 2, 3, 2, 2, 2,
];

fn is_vowel(c: char) -> bool {
    "aeiouy".contains(c)
}

fn groups(word: &str, vowel: impl Fn(char) -> bool) -> usize {
    let mut before = false;
    word.chars()
        .filter(|c| {
            let starts = vowel(*c) && !before;
            before = vowel(*c);
            starts
        })
        .count()
}

/// Syllables of an English word.
pub fn syllables(word: &str) -> usize {
    let word = word.to_lowercase().replace('\'', "");
    if let Ok(number) = word.parse::<usize>() {
        return NUMBERS.get(number).copied().unwrap_or(word.len() * 2);
    }
    if let Some((_, known)) = IRREGULAR.iter().find(|(known, _)| *known == word) {
        return *known;
    }
    let mut count = groups(&word, is_vowel);
    // Vowels that are two: sci-ence, qui-et, re-act, u-su-al, be-yond.
    for two in ["io", "ia", "iu", "eo", "ua", "uie", "yo"] {
        let soft = [
            "tio", "sio", "cio", "tia", "cia", "gio", "qua", "gua", "you",
        ];
        let is_soft = soft.iter().any(|soft| word.contains(soft));
        if word.contains(two) && !is_soft && !word.starts_with(two) {
            count += 1;
        }
    }
    let bare = |end: &str| {
        word.strip_suffix(end)
            .and_then(|stem| stem.chars().last())
            .filter(|last| !is_vowel(*last))
    };
    // A silent e: mov(e), mov(e)s, mov(e)d, but ta-ble, pla-ces, lif-ted.
    let silent = match (bare("e"), bare("es"), bare("ed")) {
        (Some(last), _, _) => last != 'l' || !ends_in_syllabic_l(&word),
        (_, Some(last), _) => !"sxzcgh".contains(last) && !word.ends_with("les"),
        (_, _, Some(last)) => !"td".contains(last),
        _ => false,
    };
    if silent && count > 1 {
        count -= 1;
    }
    count.max(1)
}

/// `-ble`, `-tle`, `-dle`: a consonant before the l makes a syllable of it.
fn ends_in_syllabic_l(word: &str) -> bool {
    let before = word.chars().rev().nth(2);
    before.is_some_and(|c| !is_vowel(c))
}

/// Syllables of a German word: every vowel or diphthong.
pub fn silben(word: &str) -> usize {
    let mut word = word.to_lowercase();
    if let Ok(number) = word.parse::<usize>() {
        return NUMBERS.get(number).copied().unwrap_or(word.len() * 2);
    }
    for pair in ["au", "äu", "eu", "ei", "ai", "ie", "aa", "ee", "oo"] {
        word = word.replace(pair, "a|");
    }
    word.chars()
        .filter(|c| "aeiouyäöü".contains(*c))
        .count()
        .max(1)
}

fn words(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_alphanumeric() && c != '\'')
        .filter(|word| !word.is_empty())
        .collect()
}

/// Sentences: what ends with a stop; what has none is one.
fn sentences(text: &str) -> usize {
    let stops = text
        .char_indices()
        .filter(|(at, c)| {
            let next = text[at + c.len_utf8()..].chars().next();
            matches!(c, '.' | '!' | '?' | ':') && next.is_none_or(char::is_whitespace)
        })
        .count();
    let open = !text.trim_end().ends_with(['.', '!', '?', ':']);
    stops + usize::from(open)
}

fn shares(text: &str, syllables: impl Fn(&str) -> usize) -> (f64, f64) {
    let words = words(text);
    let count = words.len().max(1) as f64;
    let total: usize = words.iter().map(|word| syllables(word)).sum();
    (count / sentences(text) as f64, total as f64 / count)
}

/// Flesch-Kincaid grade of an English text.
pub fn grade(text: &str) -> f64 {
    let (long, heavy) = shares(text, syllables);
    0.39 * long + 11.8 * heavy - 15.59
}

/// Reading ease of a German text.
pub fn ease(text: &str) -> f64 {
    let (long, heavy) = shares(text, silben);
    180.0 - long - 58.5 * heavy
}

#[test]
fn syllables_are_those_of_the_dictionary() {
    let known = [
        ("the", 1),
        ("move", 1),
        ("moved", 1),
        ("moves", 1),
        ("reported", 3),
        ("little", 2),
        ("table", 2),
        ("agreed", 2),
        ("clinic", 2),
        ("elbow", 2),
        ("camera", 3),
        ("picture", 2),
        ("places", 2),
        ("straight", 1),
        ("numbers", 2),
        ("device", 2),
        ("diagnosis", 4),
        ("medical", 3),
        ("before", 2),
        ("higher", 2),
        ("reached", 1),
        ("bodies", 2),
        ("exercise", 3),
        ("upright", 2),
        ("away", 2),
        ("metres", 2),
        ("slower", 2),
        ("toward", 2),
        ("shoulder", 2),
        ("glide", 1),
        ("scale", 1),
        ("smile", 1),
        ("hips", 1),
        ("eye", 1),
        ("science", 2),
        ("usual", 3),
        ("area", 3),
        ("station", 2),
        ("repetition", 4),
        ("10", 1),
        ("7", 2),
        ("lifted", 2),
        ("asks", 1),
        ("inside", 2),
        ("forearm", 2),
        ("strength", 1),
        ("further", 2),
        ("clear", 1),
    ];
    let wrong: Vec<_> = known
        .iter()
        .filter(|(word, count)| syllables(word) != *count)
        .map(|(word, count)| (word, count, syllables(word)))
        .collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    let german = [
        ("Schulterblatt", 3),
        ("Ellbogen", 3),
        ("Kamera", 3),
        ("heben", 2),
        ("Schmerz", 1),
        ("weiter", 2),
        ("schauen", 2),
        ("Sie", 1),
        ("nächstes", 2),
        ("Bewegung", 3),
        ("Medizinprodukt", 5),
        ("neu", 1),
    ];
    for (word, count) in german {
        assert_eq!(silben(word), count, "{word}");
    }
}

#[test]
fn the_formulas_give_what_is_reckoned_by_hand() {
    // 6 words, 1 sentence, 6 syllables; then 2 sentences of 3 words.
    assert!((grade("The cat sat on the mat.") - (0.39 * 6.0 + 11.8 - 15.59)).abs() < 1e-9);
    assert!((grade("The cat sat. On the mat.") - (0.39 * 3.0 + 11.8 - 15.59)).abs() < 1e-9);
    assert!(grade("Glenohumeral abduction necessitates scapulothoracic compensation.") > 15.0);
    // 4 words, 5 syllables.
    assert!((ease("Heben Sie den Arm.") - (180.0 - 4.0 - 58.5 * 5.0 / 4.0)).abs() < 1e-9);
    assert_eq!(sentences("About 3.5 seconds. Then stop"), 2);
}
