//! How a question is worded: how hard it is to read, and the faults of wording that give an answer away or trip a reader.
//!
//! Knows nothing of filters or keys: it looks at words alone. What is a fault follows the item-writing rules of
//! Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309-334.

/// The school grade from which some texts can be read together: Flesch-Kincaid, 0.39 words per sentence + 11.8
/// syllables per word - 15.59. Each text ends a sentence, with or without a full stop. Nothing where there is no word.
/// Syllables are counted by rule, so a name may count one too many or too few.
///
/// Source: Kincaid, Fishburne, Rogers & Chissom 1975, Naval Technical Training Command, Research Branch Report 8-75.
#[must_use]
pub fn reading_grade<'t>(texts: impl IntoIterator<Item = &'t str>) -> Option<f64> {
    let (mut words, mut sentences, mut syllables) = (0_u32, 0_u32, 0_u32);
    for text in texts {
        let mut open = false;
        for word in text.split_whitespace().filter(|word| word.chars().any(char::is_alphanumeric)) {
            words += 1;
            syllables += syllables_of(word);
            let closed = word.trim_end_matches(['"', '\'', ')']).ends_with(['.', '!', '?', ':', ';']);
            sentences += u32::from(closed);
            open = !closed;
        }
        sentences += u32::from(open);
    }
    (words > 0).then(|| {
        let (words, sentences, syllables) = (f64::from(words), f64::from(sentences), f64::from(syllables));
        0.39 * words / sentences + 11.8 * syllables / words - 15.59
    })
}

/// Syllables of a word: runs of vowels, without an e that is not heard at its end; a number is read as one.
fn syllables_of(word: &str) -> u32 {
    let vowel = |c: char| "aeiouyäöüéè".contains(c);
    let letters = word.chars().filter(|c| c.is_alphabetic()).flat_map(char::to_lowercase);
    // The last four letters, the last one first.
    let mut last = ['\0'; 4];
    let (mut runs, mut in_run) = (0, false);
    for letter in letters {
        runs += u32::from(vowel(letter) && !in_run);
        in_run = vowel(letter);
        last.rotate_right(1);
        last[0] = letter;
    }
    let silent = match last {
        // "table" has two, "mile" has one.
        ['e', 'l', before, _] => vowel(before),
        ['e', before, ..] => !vowel(before),
        // "stopped" and "needed", "times" and "places".
        ['d', 'e', before, _] => !vowel(before) && !matches!(before, 't' | 'd'),
        ['s', 'e', before, more] => {
            let heard = matches!(before, 's' | 'z' | 'x' | 'c' | 'g') || (before == 'h' && "cs".contains(more));
            !vowel(before) && !heard
        }
        _ => false,
    };
    (runs - u32::from(silent && runs > 1)).max(1)
}

/// The words in which an option claims that something always or never holds: whoever has learnt nothing strikes it out.
#[must_use]
pub fn absolute(option: &str) -> Option<&'static str> {
    const ABSOLUTES: [&str; 5] = ["always", "never", "under no circumstances", "without exception", "in every case"];
    let option = words_of(option);
    ABSOLUTES.into_iter().find(|words| has(&option, words))
}

/// Whether an option speaks of the other options instead of the machine.
#[must_use]
pub fn of_the_others(option: &str) -> bool {
    const FORMS: [&str; 6] =
        ["all of the above", "none of the above", "all of these", "none of these", "both of the above", "all answers"];
    let option = words_of(option);
    FORMS.into_iter().any(|words| has(&option, words))
}

/// A negation in a question that is not set off in capitals: a hurried reader passes over it.
#[must_use]
pub fn hidden_negative(prompt: &str) -> Option<&str> {
    let words = words_of(prompt);
    words.iter().enumerate().find_map(|(at, word)| {
        let plain = word.to_lowercase();
        let at_least = plain == "least" && at > 0 && words[at - 1].eq_ignore_ascii_case("at");
        let negative = matches!(plain.as_str(), "not" | "cannot" | "except" | "least") || plain.ends_with("n't");
        (negative && !at_least && *word != word.to_uppercase()).then_some(*word)
    })
}

/// The option that is so much longer or shorter than all others that its length alone speaks for or against it: half
/// as long again as the next, and by more than twenty letters. The limits are ours.
#[must_use]
pub fn stands_out_by_length(options: &[&str]) -> Option<usize> {
    let mut lengths: Vec<(usize, usize)> =
        options.iter().enumerate().map(|(place, option)| (option.chars().count(), place)).collect();
    lengths.sort_unstable();
    match lengths.as_slice() {
        [.., before, longest] if lengths.len() > 2 && far_in_length(before.0, longest.0) => Some(longest.1),
        [shortest, next, ..] if lengths.len() > 2 && far_in_length(shortest.0, next.0) => Some(shortest.1),
        _ => None,
    }
}

/// Whether two lengths in letters are so far apart that a reader notices: half as long again, and by more than twenty.
#[must_use]
pub const fn far_in_length(a: usize, b: usize) -> bool {
    let (short, long) = if a < b { (a, b) } else { (b, a) };
    long * 2 > short * 3 && long > short + 20
}

/// Whether two options say the same: the same words in the same order, whatever their articles, capitals and marks.
#[must_use]
pub fn say_the_same(a: &str, b: &str) -> bool {
    let told = |text| {
        let words = words_of(text).into_iter().map(str::to_lowercase);
        words.filter(|word| !matches!(word.as_str(), "a" | "an" | "the")).collect::<Vec<_>>()
    };
    told(a) == told(b)
}

fn words_of(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_alphanumeric() && c != '\'').filter(|word| !word.is_empty()).collect()
}

fn has(text: &[&str], words: &str) -> bool {
    let wanted: Vec<&str> = words.split(' ').collect();
    text.windows(wanted.len()).any(|some| some.iter().zip(&wanted).all(|(a, b)| a.eq_ignore_ascii_case(b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_published_example_has_its_grade() {
        // Source: the example that encyclopedias print beside the formula: 13 words, 24 syllables, one sentence, grade
        // 11.3. From memory, not confirmed.
        let text = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.";
        let grade = reading_grade([text]).unwrap();
        assert!((grade - 11.26).abs() < 0.01, "{grade}");
    }

    #[test]
    fn syllables_are_those_of_a_dictionary() {
        // Source: the syllable breaks of any English dictionary (from memory, not confirmed).
        let words: [(&str, u32); 20] = [
            ("soot", 1),
            ("filter", 2),
            ("machine", 2),
            ("machines", 2),
            ("regeneration", 5),
            ("stopped", 1),
            ("needed", 2),
            ("lamps", 1),
            ("places", 2),
            ("times", 1),
            ("table", 2),
            ("while", 1),
            ("the", 1),
            ("engine", 2),
            ("exhaust", 2),
            ("service", 2),
            ("inhibit", 3),
            ("watches", 2),
            ("concrete", 2),
            ("72", 1),
        ];
        for (word, syllables) in words {
            assert_eq!(syllables_of(word), syllables, "{word}");
        }
    }

    #[test]
    fn short_words_in_short_sentences_are_read_early() {
        let easy = reading_grade(["The lamp is on. The machine is hot. Keep away."]).unwrap();
        let hard = reading_grade(["Regeneration necessitates considerable exhaust temperatures."]).unwrap();
        assert!(easy < 3.0 && hard > 12.0, "{easy} {hard}");
        assert_eq!(reading_grade(["  ", "%"]), None);
        let apart = reading_grade(["Put the brake on", "Go away"]).unwrap();
        let together = reading_grade(["Put the brake on. Go away."]).unwrap();
        assert!((apart - together).abs() < 1e-9, "an option without a full stop is a sentence of its own");
    }

    #[test]
    fn faults_of_wording_are_found_and_plain_words_are_not() {
        assert_eq!(absolute("You must NEVER touch it"), Some("never"));
        assert_eq!(absolute("Nevertheless, go on"), None);
        assert!(of_the_others("None of the above.") && !of_the_others("None of it burns"));
        assert_eq!(hidden_negative("Which is not permitted?"), Some("not"));
        assert_eq!(hidden_negative("Which isn't permitted?"), Some("isn't"));
        assert_eq!(hidden_negative("Which is NOT permitted?"), None);
        assert_eq!(hidden_negative("Which step comes at last, and takes at least an hour?"), None);
    }

    #[test]
    fn articles_and_marks_make_no_other_option() {
        assert!(say_the_same("Stop the engine, and call.", "stop engine and call"));
        assert!(!say_the_same("Do not stop the engine.", "Do stop the engine."));
        assert!(!say_the_same("Wait 20 minutes.", "Wait 30 minutes."));
    }

    #[test]
    fn one_length_far_from_the_others_stands_out() {
        let long =
            "Move the machine to bare ground in the open, put the brake on and start a parked regeneration there";
        assert_eq!(stands_out_by_length(&["Work on", long, "Stop and call"]), Some(1));
        assert_eq!(stands_out_by_length(&["Work on", "Work on with more load", "Stop and call"]), None);
        assert_eq!(stands_out_by_length(&[long, long, "Work on"]), Some(2));
        assert_eq!(stands_out_by_length(&["Work on", long]), None, "of two, neither is the odd one");
    }
}
