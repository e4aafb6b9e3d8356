//! Faults of wording in one question: an option that claims too much or speaks of the others, a negative that is not set
//! off, numbers that stand in no order.
//!
//! Written options are shuffled on purpose, and so are the steps of an order; numbers, bands, lamps, hazards and starting
//! conditions keep the order that they have. Of these only numbers can be told by their words.

use crate::scenario::question::{Kind, Question};
use crate::scenario::template::{Part, Template};
use crate::scenario::wording::{absolute, hidden_negative, of_the_others};
use crate::units::Quantity;

/// What is wrong with a question's words, each with the line of the template where it can be mended.
pub(super) fn faults(template: &Template, question: &Question) -> Vec<(u32, String)> {
    let mut faults = Vec::new();
    let part = template.part_of(question);
    let shown = &question.shown;
    if let Some(word) = hidden_negative(&shown.prompt) {
        let message = format!("the question says \"{word}\": ask it without, or write it in capitals");
        faults.push((part.question.line, message));
    }
    // The steps of an order are not picked, so nothing in them can be struck out.
    let picked = if shown.kind == Kind::PutInOrder { &[][..] } else { &shown.options[..] };
    for (place, option) in picked.iter().enumerate() {
        let line = || line_of(part, option);
        if let Some(word) = absolute(option) {
            faults.push((
                line(),
                format!("the option \"{option}\" says \"{word}\", which alone speaks against it: say when it holds"),
            ));
        }
        if of_the_others(option) {
            faults.push((line(), format!("the option \"{option}\" speaks of the other options: name what it means")));
        }
        if let [before, after] = &shown.options[place.saturating_sub(1)..=place]
            && let (Ok(before), Ok(after)) = (Quantity::parse(before), Quantity::parse(after))
            && before.in_unit(after.unit).is_some_and(|before| before > after.value)
        {
            let message = "the options are numbers and do not rise; ask for a number, which puts them in order";
            faults.push((part.answer.line, message.to_owned()));
        }
    }
    faults
}

/// The line of the written option that a text came from; the answer's own where the model wrote it.
fn line_of(part: &Part, option: &str) -> u32 {
    let written = part.answer.written.iter().find(|written| written.text.could_read(option));
    written.map_or(part.answer.line, |written| written.line)
}
