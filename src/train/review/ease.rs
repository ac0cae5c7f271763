//! Reading ease, and the counts behind it.
//!
//! In: a text. Out: words, sentences, syllables and Flesch's reading ease,
//! 206.835 − 1.015 · words per sentence − 84.6 · syllables per word (Flesch 1948, "A new readability
//! yardstick", J. Appl. Psychol. 32): 90 to 100 is very easy, 70 fairly easy, 60 plain, below 50 hard.
//! It was made for samples of a hundred words; of a shorter text it is a coarse grade.
//!
//! ```
//! use seepwise::train::Readable;
//! let easy = Readable::of("The cat sat on the mat.");
//! assert_eq!((easy.words, easy.sentences, easy.syllables), (6, 1, 6));
//! assert!((easy.ease() - 116.145).abs() < 1e-3);
//! ```

/// Word endings in which two vowels side by side are spoken as one.
const ONE_SOUND: [&str; 6] = ["ian", "ians", "ial", "ials", "ious", "ient"];

/// What a text is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Readable {
    /// Words; a figure is one.
    pub words: usize,
    /// Sentences: what ends in a full stop, colon, semicolon, question or exclamation mark.
    pub sentences: usize,
    /// Syllables, as [`syllables`] counts them.
    pub syllables: usize,
}

impl Readable {
    /// Counts.
    pub fn of(text: &str) -> Self {
        let (mut words, mut sentences, mut count, mut open) = (0, 0, 0, false);
        for word in text.split(|c: char| c.is_whitespace() || c == '/' || c == '–') {
            if word.chars().any(char::is_alphanumeric) {
                words += 1;
                count += syllables(word);
                open = true;
            }
            let ends = word.trim_end_matches(['"', '\'', ')', '”']);
            if open && ends.ends_with(['.', '!', '?', ':', ';']) {
                sentences += 1;
                open = false;
            }
        }
        Self {
            words,
            sentences: sentences + usize::from(open),
            syllables: count,
        }
    }

    /// Flesch's reading ease; 100 for a text without words.
    pub fn ease(&self) -> f64 {
        if self.words == 0 {
            return 100.0;
        }
        let words = self.words as f64;
        206.835 - 1.015 * words / self.sentences as f64 - 84.6 * self.syllables as f64 / words
    }
}

/// Syllables of an English word, by its spelling: groups of vowels, less silent endings, more where
/// two vowels part. A figure has one for each digit. About one word in fifteen is off by one.
pub fn syllables(word: &str) -> usize {
    let digits = word.chars().filter(char::is_ascii_digit).count();
    let parts = word.split(|c: char| !c.is_ascii_alphabetic() && c != '\'');
    let spoken: usize = parts.map(of_letters).sum();
    (digits + spoken).max(1)
}

fn of_letters(part: &str) -> usize {
    let word: Vec<char> = (part.chars())
        .filter(char::is_ascii_alphabetic)
        .map(|c| c.to_ascii_lowercase())
        .collect();
    if word.is_empty() {
        return 0;
    }
    let vowel = |at: usize| {
        word.get(at)
            .is_some_and(|c| matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'y'))
    };
    let starts = |at: &usize| vowel(*at) && (*at == 0 || !vowel(*at - 1));
    let mut count = (0..word.len()).filter(starts).count();
    count += (1..word.len()).filter(|&at| parted(&word, at)).count();
    if count > 1 && silent_ending(&word) {
        count -= 1;
    }
    count.max(1)
}

/// Whether the vowel here starts a syllable of its own after another vowel: ra-di-a-tor, be-ing.
fn parted(word: &[char], at: usize) -> bool {
    let text: String = word.iter().collect();
    let before = at.checked_sub(2).map(|at| word[at]);
    match (word[at - 1], word[at]) {
        ('a' | 'e' | 'o' | 'u' | 'y', 'i') => at + 3 == word.len() && text.ends_with("ing"),
        ('i', 'a' | 'o' | 'e') => {
            let soft = matches!(before, Some('t' | 's' | 'c' | 'g' | 'x'));
            let ends_so = ONE_SOUND.iter().any(|ending| text.ends_with(ending));
            !soft && !ends_so && (word[at] != 'e' || text.ends_with("iet"))
        }
        ('i' | 'e', 'u') => text.ends_with("ium") || text.ends_with("eum"),
        ('u', 'a') => !matches!(before, Some('q' | 'g')),
        ('e', 'o') => at + 1 == word.len() || word[at + 1] != 'p',
        _ => false,
    }
}

/// A last syllable that is written but not spoken: hos-e, drain-ed, valv-es.
fn silent_ending(word: &[char]) -> bool {
    let from_end = |back: usize| word.len().checked_sub(back).map(|at| word[at]);
    let vowel = |c: char| matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'y');
    match (from_end(3), from_end(2), from_end(1)) {
        (Some(third), Some('l'), Some('e')) => vowel(third),
        (_, Some(second), Some('e')) => !vowel(second),
        (Some(third), Some('e'), Some('d')) => !matches!(third, 't' | 'd') && !vowel(third),
        (Some('l'), Some('e'), Some('s')) => from_end(4).is_none_or(vowel),
        (Some(third), Some('e'), Some('s')) => {
            let hissing = matches!(third, 's' | 'x' | 'z' | 'c' | 'g')
                || (third == 'h' && matches!(from_end(4), Some('c' | 's')));
            !hissing && !vowel(third)
        }
        _ => false,
    }
}
