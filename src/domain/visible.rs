//! Whether a text says something to whoever reads it: which characters show, and which hide in a line.
//!
//! Never changes a text, and never asks in which script or language it is written.

/// Whether at least one letter, digit or sign shows. A text of spaces, accents without a letter and characters that nobody can see
/// says nothing, however long it is.
#[must_use]
pub fn says_something(text: &str) -> bool {
    text.chars().any(|c| !is_hidden(c) && (c.is_alphanumeric() || is_sign(c)))
}

/// Control characters, line and paragraph separators, marks and overrides of direction, spaces and fillers without width or ink,
/// soft hyphens, joiners of words, tags. The zero-width joiners and the selectors of variants stay allowed: some scripts need them.
/// Source: Unicode 16, the properties `Default_Ignorable_Code_Point` and `Bidi_Control` (from memory, not confirmed).
#[must_use]
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}' | '\u{180E}'
            | '\u{200B}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{2800}'
            | '\u{3164}' | '\u{FEFF}' | '\u{FFA0}' | '\u{FFF9}'..='\u{FFFB}' | '\u{13441}' | '\u{13442}'
            | '\u{1D173}'..='\u{1D17A}' | '\u{E0000}'..='\u{E007F}')
}

/// Signs that show, besides letters and digits. Not every one that there is: a text of other signs alone is none.
const fn is_sign(c: char) -> bool {
    c.is_ascii_graphic()
        || matches!(c,
            // Latin-1, general punctuation, currencies, arrows, mathematics, pictures, punctuation of East Asia, pictographs.
            '\u{A1}'..='\u{BF}' | '\u{D7}' | '\u{F7}' | '\u{2010}'..='\u{2027}' | '\u{2030}'..='\u{205E}'
            | '\u{20A0}'..='\u{20C0}' | '\u{2100}'..='\u{27FF}' | '\u{2900}'..='\u{2BFF}' | '\u{3001}'..='\u{3029}'
            | '\u{3030}'..='\u{303F}' | '\u{FF01}'..='\u{FF0F}' | '\u{1F000}'..='\u{1FAFF}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_shows_says_something() {
        for text in ["a", " 7 ", "?", "-", "…", "€", "✓", "🙂", "漢", "ا", "क", "é", "e\u{301}", "\u{200B}x", "、"]
        {
            assert!(says_something(text), "{text:?}");
        }
    }

    #[test]
    fn what_nobody_sees_says_nothing() {
        for text in [
            "",
            " ",
            "\t\n",
            "\u{A0}",
            "\u{3000}",
            "\0",
            "\u{AD}",
            "\u{200B}",
            "\u{200C}\u{200D}",
            "\u{202E}",
            "\u{2060}",
            "\u{2060}\u{202E}\u{200B}",
            "\u{3164}",
            "\u{115F}",
            "\u{FFA0}",
            "\u{2800}",
            "\u{301}",
            "\u{FE0F}",
            "\u{E0041}",
            "\u{180E}",
            "\u{FEFF}",
            "\u{13441}",
        ] {
            assert!(!says_something(text), "{text:?}");
        }
    }

    proptest! {
        #[test]
        fn what_is_hidden_adds_nothing(text in ".{0,20}", hidden in "[\u{AD}\u{200B}\u{2060}-\u{206F}\u{3164}]{0,5}") {
            prop_assert_eq!(says_something(&format!("{text}{hidden}")), says_something(&text));
            prop_assert!(hidden.chars().all(is_hidden));
        }
    }
}
