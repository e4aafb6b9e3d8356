//! The worst scenarios that anybody could send: each as long as a scenario may be, or made to take all the time, memory or
//! text it can.
//!
//! Never says what is found in them.

use std::fmt::Write as _;

/// A scenario that is whole, with room for something bad.
fn with(draws: &str, lets: &str, rest: &str, story: &str) -> String {
    format!(
        "title: What comes first\ncompetence: fire\nlevel: 2\nkind: choose one\nmachines: all\nshow: soot\n\n\
         [draw]\nload = inside parked keep 3 %\n{draws}\n\n[let]\n{lets}\n\n[situation]\nsoot = load\nspeed = 1600 rpm\n\
         outlet = 160 °C\n\n{rest}\n\n[story]\n{story}\n\n[question]\nWhat comes first?\n\n[answer]\nask: route\n"
    )
}

/// As many of some lines as fit; each gets its number.
fn filled(line: impl Fn(usize) -> String) -> String {
    const ROOM: usize = 64 * 1024 - 600;
    let mut text = String::new();
    for number in 0.. {
        let next = line(number);
        if text.len() + next.len() >= ROOM {
            break;
        }
        let _ = writeln!(text, "{next}");
    }
    text
}

/// One line made of as many pieces as fit.
fn long(piece: &str) -> String {
    piece.repeat(60_000 / piece.len())
}

/// Every text with what it tries.
pub(crate) fn texts() -> Vec<(&'static str, String)> {
    let mut all = too_much_to_read();
    all.extend(too_much_to_mean());
    all.extend(too_much_to_work_out());
    all
}

const STORY: &str = "It stands.";

fn one(story: &str) -> String {
    with("", "", "", story)
}

fn lets(lets: &str) -> String {
    with("", lets, "", STORY)
}

fn sum(of: &str, times: usize) -> String {
    vec![of; times].join(" + ")
}

/// Texts that are long.
fn too_much_to_read() -> Vec<(&'static str, String)> {
    vec![
        ("nothing at all", String::new()),
        ("zeros", "\0".repeat(64 * 1024)),
        ("one line without an end", long("a")),
        ("empty lines", long("\n")),
        ("headings", filled(|n| format!("[h{n}]"))),
        ("headings that nearly exist", filled(|_| "[stori]".to_owned())),
        ("lines that are nothing", filled(|_| "nothing".to_owned())),
        ("lines of the head", filled(|n| format!("titel{n}: x"))),
        ("the same line of the head", filled(|_| "level: 2".to_owned())),
        ("words to show", one(STORY).replace("show: soot", &format!("show: {}", long("sott,")))),
        ("machines", one(STORY).replace("machines: all", &format!("machines: {}", long("tarrel-6,")))),
        ("misconceptions", one(STORY) + &format!("believe: {}", long("anywhere_is_save,"))),
    ]
}

/// Names, expressions and braces without an end.
fn too_much_to_mean() -> Vec<(&'static str, String)> {
    vec![
        ("names", lets(&filled(|n| format!("n{n} = {n}")))),
        ("names that are not there", lets(&filled(|n| format!("n{n} = m{n}")))),
        ("names in one line", lets(&format!("a = {}", long("nam + ")))),
        ("names that are not there in the story", one(&long("{nam} "))),
        ("each name needs the one below", lets(&filled(|n| format!("n{n} = n{}", n + 1)))),
        ("draws", with(&filled(|n| format!("d{n} = one of 1, 2")), "", "", STORY)),
        (
            "draws that each need the one below",
            with(&filled(|n| format!("d{n} = one of 1, d{}", n + 1)), "", "", STORY),
        ),
        ("choices", with(&format!("d = one of {}1", long("1,")), "", "", STORY)),
        ("branches", with(&format!("d = {}1", long("if yes then 1 else ")), "", "", STORY)),
        ("parentheses", lets(&format!("a = {}", long("(")))),
        ("functions", lets(&format!("a = {}", long("min(1,")))),
        ("signs", lets(&format!("a = {}1", long("- ")))),
        ("nots", lets(&format!("a = {}yes", long("not ")))),
        ("a sum", lets(&format!("a = {}1", long("1+")))),
        ("digits", lets(&format!("a = {}", long("9")))),
        ("quotes", lets(&format!("a = {}", long("\"")))),
        ("conditions", with("", "", &format!("[only if]\n{}", filled(|_| "route = rout".to_owned())), STORY)),
        ("options", one(STORY) + &filled(|_| "[option]\ntext: a".to_owned())),
        ("parts", one(STORY) + &filled(|_| "[part]\nkind: number".to_owned())),
        (
            "a circle of many",
            lets(&(0..100).fold(String::new(), |all, n| all + &format!("n{n} = n{}\n", (n + 1) % 100))),
        ),
        (
            "everything needs everything",
            lets(&(0..90).fold(String::new(), |all, n| {
                all + &format!("n{n} = {}\n", (0..90).map(|m| format!("n{m}")).collect::<Vec<_>>().join(" + "))
            })),
        ),
        ("braces", one(&long("{{}}"))),
        ("open braces", one(&long("{ "))),
        ("paragraphs", one(&filled(|n| format!("{n}\n")))),
    ]
}

/// Short texts that ask for much time or much text.
fn too_much_to_work_out() -> Vec<(&'static str, String)> {
    let quote = "x".repeat(1_900);
    let shift = format!("[shift]\n{}", "work: 24 h at 40 % with 1600 rpm\n".repeat(16));
    vec![
        ("text from a name", with("", &format!("q = \"{quote}\""), "", &"{q}".repeat(150))),
        ("names in the story", with("", "n = 1", "", &long("{n}"))),
        (
            "text from a number",
            with("", "n = 999999999999 * 999999999999 * 999999999999 * 999999999999", "", &"{n} ".repeat(150)),
        ),
        ("text from its forms", one(&format!("{{1 / 3|a|{}}}", "#".repeat(60_000)))),
        ("text from the shift", with("", "", &shift, &"{shift.events} ".repeat(150))),
        ("a range beyond all bounds", with("d = from 0 to 999999999999 step 0.000001", "", "", STORY)),
        ("a step beyond all bounds", with("d = inside parked keep 3 % step 0.0000000000001 %", "", "", STORY)),
        (
            "a shift that is drawn again and again",
            with("", "", &(shift.clone() + "\n[only if]\nshift.hours > 500 h"), STORY),
        ),
        (
            "much to work out, again and again",
            with(
                "",
                &(0..90).fold(String::new(), |all, n| all + &format!("n{n} = {}\n", sum("load", 90))),
                "[only if]\nload < 0 %",
                STORY,
            ),
        ),
        (
            "much to ask, again and again",
            with(
                "",
                &(0..99).fold(String::new(), |all, n| all + &format!("n{n} = {}\n", sum("hours_to(1 %)", 36))),
                "[only if]\nroute = work_on",
                STORY,
            ),
        ),
        (
            "the journey asked again and again",
            with(
                "",
                &(0..99).fold(String::new(), |all, n| all + &format!("n{n} = {}\n", sum("soot_at(9 h)", 38))),
                &(shift + "\n[only if]\nroute = work_on"),
                STORY,
            ),
        ),
    ]
}
