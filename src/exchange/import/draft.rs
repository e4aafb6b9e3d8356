//! Writes a draft: a scenario whose conditions are open, with what the package says as remarks.
//!
//! A stranger's words can neither begin a section nor be taken for an expression: they are quoted where they could be.

use super::item::{Taken, TakenNumber, TakenOption};
use super::marks::Mark;
use crate::domain::scenario::Kind;
use crate::domain::units::Unit;
use std::fmt::Write as _;

/// The draft of an item.
pub(super) fn text(taken: &Taken, file: &str) -> String {
    let mut out = String::new();
    remark(&mut out, &format!("From a QTI package: {file}, item {}.", taken.identifier));
    remark(
        &mut out,
        "Unfinished. The right answer is never typed: the model supplies it. Fill in what is left open, then",
    );
    remark(&mut out, "run `sootmark bank check`.");
    let title = if taken.title.is_empty() { &taken.identifier } else { &taken.title };
    let _ =
        writeln!(out, "title: {title}\ncompetence:\nlevel:\nkind: {}\nmachines: all\nshow: none\n", taken.kind.words());
    let _ = writeln!(out, "[situation]");
    remark(&mut out, "say here what the machine shows and where it stands, so that the model can judge it");
    let _ = writeln!(out, "\n[story]");
    if taken.story.is_empty() {
        remark(&mut out, "the package tells no story; tell here what the reader is to judge");
    }
    out.push_str(&taken.story.iter().map(|paragraph| quoted(paragraph)).collect::<Vec<_>>().join("\n\n"));
    let _ = writeln!(out, "\n\n[question]\n{}\n\n[answer]", quoted(&taken.question));
    match &taken.number {
        Some(number) => self::number(&mut out, number),
        None => {
            let ask = if taken.kind == Kind::PutInOrder { "rank" } else { "statements" };
            let _ = writeln!(out, "ask: {ask}");
        }
    }
    for each in &taken.options {
        option(&mut out, each, taken.kind);
    }
    if !taken.remarks.is_empty() {
        out.push('\n');
        remark(&mut out, "the package also says:");
    }
    for each in &taken.remarks {
        remark(&mut out, each);
    }
    out
}

/// A line that the bank does not read.
fn remark(out: &mut String, text: &str) {
    let _ = writeln!(out, "# {text}");
}

fn option(out: &mut String, option: &TakenOption, kind: Kind) {
    let _ = writeln!(out, "\n[option]\ntext: {}", braced(&option.text));
    remark(
        out,
        &match option.mark {
            Mark::Right => "the package says this is right; say here how the model knows it".to_owned(),
            Mark::Wrong => "the package says this is wrong; say here how the model knows it".to_owned(),
            Mark::Place(place) => format!("the package puts this in place {place}; say here how the model knows it"),
            Mark::Untold => "the package does not say what this is; say here how the model knows it".to_owned(),
        },
    );
    let _ = writeln!(out, "{}", if kind == Kind::PutInOrder { "rank =" } else { "right if:" });
    let _ = writeln!(out, "{}", format!("because: {}", braced(&option.because)).trim_end());
}

fn number(out: &mut String, number: &TakenNumber) {
    let _ = writeln!(out, "ask: number");
    let told = number.value.map_or("the package does not say which number is right".to_owned(), |value| {
        format!("the package says {} is right", rounded(value))
    });
    remark(out, &format!("{told}; say here how the model knows it"));
    let _ = writeln!(out, "key =");
    // No unit is a decision too, and a trainer's: without the line, the bank asks for it.
    let unit = Unit::from_text(&number.unit).filter(|unit| *unit != Unit::One).map(|unit| unit.symbol().to_owned());
    let unit = unit.unwrap_or_default();
    if unit.is_empty() {
        let behind = &number.unit;
        let told = if behind.is_empty() { "nothing".to_owned() } else { format!("\"{behind}\"") };
        remark(out, &format!("the package writes {told} behind the number; add a line such as `unit: h`"));
    } else {
        let _ = writeln!(out, "unit: {unit}");
    }
    match number.tolerance.filter(|_| !unit.is_empty()) {
        Some(tolerance) => {
            let _ = writeln!(out, "tolerance = {} {unit}", rounded(tolerance));
        }
        None => {
            let told =
                number.tolerance.map(|tolerance| format!("the package allows {} more or less", rounded(tolerance)));
            told.into_iter().for_each(|told| remark(out, &told));
            let _ = writeln!(out, "tolerance =");
        }
    }
}

/// To six decimals: what computing added behind them is nobody's number.
fn rounded(value: f64) -> String {
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A paragraph that the bank reads as words, whatever it begins with.
fn quoted(paragraph: &str) -> String {
    match paragraph.chars().next() {
        Some(mark @ ('#' | '[')) => format!("{{\"{mark}\"}}{}", braced(&paragraph[mark.len_utf8()..])),
        _ => braced(paragraph),
    }
}

/// With its braces doubled, so that none of them begins an expression.
fn braced(text: &str) -> String {
    text.replace('{', "{{").replace('}', "}}")
}
