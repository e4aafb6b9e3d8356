//! How much a scenario may be. All of it is chosen by us: many times what a good scenario needs, and so little that the
//! worst text is refused in a moment.
//!
//! Never measures time: the same text is refused on every machine, or on none.

/// Largest scenario in bytes.
pub const LARGEST: usize = 64 * 1024;
/// Longest expression in bytes.
pub const LONGEST: usize = 2_000;
/// Deepest nesting of parentheses, calls, signs and branches of a draw.
pub const DEEPEST: usize = 32;
/// Most numbers, names and calls in one expression, and most braces in one text.
pub const MOST_PARTS: usize = 200;
/// Most sections, the options among them.
pub const MOST_SECTIONS: usize = 120;
/// Most lines of one section, and so most draws, most worked-out values, most conditions.
pub const MOST_LINES: usize = 100;
/// Most paragraphs of one section.
pub const MOST_PARAGRAPHS: usize = 40;
/// Most choices of `one of`, and most words of a list.
pub const MOST_CHOICES: usize = 100;
/// Most written options that are read.
pub const MOST_OPTIONS: usize = 12;
/// Longest text in bytes that a paragraph, an option or a reason may come to.
pub const LONGEST_TEXT: usize = 4_000;
/// Most steps for one question, over all its draws: one for each value worked out, more for what asks the model. Ten times
/// what any scenario of the bank needs.
pub const MOST_STEPS: u32 = 250_000;
