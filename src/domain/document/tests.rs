//! What a reader of any bank file may rely on.

use super::Document;
use crate::units::Unit;

/// The problems left after some questions were asked of a text, as they are printed.
fn check(text: &str, ask: impl FnOnce(&super::Section<'_>), expected: &[&str]) {
    let document = Document::parse("f.toml", text);
    ask(&document.root());
    let printed: Vec<String> = document.finish().iter().map(ToString::to_string).collect();
    assert_eq!(printed, expected);
}

#[test]
fn right_values_are_handed_over() {
    let text = "name = \" Rook \"\nshare = \"77 %\"\nlimit = \"1112 F\"\ncount = -3\nopen = true\ntags = [\"a\", \"b\"]\n\
                row = \"0 25 50 %\"\nhours = \"90 min\"\n[deep.er]\nx = 1.5\n[[item]]\nn = 1\n[[item]]\nn = 2\n";
    check(
        text,
        |root| {
            assert_eq!(root.text("name").as_deref(), Some("Rook"));
            assert_eq!(root.quantity("share", Unit::Percent), Some(77.0));
            assert!((root.quantity("limit", Unit::Celsius).unwrap() - 600.0).abs() < 1e-9);
            assert_eq!(root.quantity("hours", Unit::Hour), Some(1.5));
            assert_eq!(root.integer("count"), Some(-3));
            assert_eq!(root.bool("open"), Some(true));
            assert_eq!(root.series("row", Unit::Percent), Some(vec![0.0, 25.0, 50.0]));
            let tags: Vec<_> = root.list("tags").unwrap().into_iter().map(|item| (item.text, item.field)).collect();
            assert_eq!(tags, [("a".into(), "tags[1]".into()), ("b".into(), "tags[2]".into())]);
            let deeper = root.section("deep").unwrap().section("er").unwrap();
            assert_eq!((deeper.path(), deeper.line()), ("deep.er", 9));
            assert_eq!(deeper.quantity("x", Unit::One), Some(1.5));
            let numbers: Vec<_> = root.tables("item").iter().map(|item| (item.line(), item.integer("n"))).collect();
            assert_eq!(numbers, [(11, Some(1)), (13, Some(2))]);
            assert_eq!(root.optional_text("note"), None);
            assert_eq!(root.optional_section("more").map(|section| section.line()), None);
        },
        &[],
    );
}

#[test]
fn wrong_kinds_of_value_are_named() {
    check(
        "name = 3\ncount = \"3\"\nopen = \"yes\"\ntags = \"a\"\ndeep = 1\nitem = 2\nrow = \"% 3\"\nlist = [\"a\", 4, \"\"]\n",
        |root| {
            assert_eq!(root.text("name"), None);
            assert_eq!(root.integer("count"), None);
            assert_eq!(root.bool("open"), None);
            assert_eq!(root.list("tags"), None);
            assert!(root.section("deep").is_none());
            assert!(root.tables("item").is_empty());
            assert_eq!(root.series("row", Unit::Percent), None);
            assert_eq!(root.list("list"), None);
        },
        &[
            "f.toml:1:8: name: this is not a text; write it in quotes",
            "f.toml:2:9: count: \"3\" is not a whole number; write one without quotes, such as 3",
            "f.toml:3:8: open: \"yes\" is neither true nor false; write one of them without quotes",
            "f.toml:4:8: tags: \"a\" is not a list; write texts between [ and ]",
            "f.toml:5:8: deep: 1 is not a section; write [deep]",
            "f.toml:6:8: item: this is not a list of sections; write [[item]] above each",
            "f.toml:7:7: row: \"% 3\" holds no number; write numbers and one unit, such as \"0 25 50 %\"",
            "f.toml:8:14: list[2]: 4 is not a text; write it in quotes",
            "f.toml:8:17: list[3]: \"\" is not a text; write it in quotes",
        ],
    );
}

#[test]
fn ranges_are_held() {
    check(
        "share = \"140 %\"\ncount = 9\nrow = \"-5 200 %\"\n",
        |root| {
            assert_eq!(root.quantity_within("share", Unit::Percent, 0.0..=100.0), None);
            assert_eq!(root.integer_within("count", 1..=5), None);
            assert_eq!(root.series_within("row", Unit::Percent, 0.0..=100.0), None);
        },
        &[
            "f.toml:1:9: share: 140 % is out of range; write 0 % to 100 %",
            "f.toml:2:9: count: 9 is out of range; write 1 to 5",
            "f.toml:3:7: row: -5 % is out of range; write 0 % to 100 %",
        ],
    );
}

#[test]
fn what_nobody_asked_for_is_a_problem() {
    check(
        "nmae = \"x\"\n[deep]\nx = 1\ny = 2\n[stray]\nz = 1\n[[item]]\nn = 1\nm = 2\n",
        |root| {
            assert_eq!(root.text("name"), None);
            assert_eq!(root.section("deep").unwrap().integer("x"), Some(1));
            assert_eq!(root.tables("item")[0].integer("n"), Some(1));
        },
        &[
            "f.toml:1: name: this is missing; write a text in quotes",
            "f.toml:1:1: nmae: nobody knows the field \"nmae\"; did you mean \"name\"?",
            "f.toml:4:1: deep.y: nobody knows the field \"y\"; known here: x",
            "f.toml:5:2: stray: nobody knows the field \"stray\"; known here: deep, item, name",
            "f.toml:9:1: item[1].m: nobody knows the field \"m\"; known here: n",
        ],
    );
}

#[test]
fn two_faults_of_syntax_are_both_named_and_what_they_hid_is_not_called_missing() {
    let document = Document::parse("f.toml", "a = \nname = \"x\"\nb = [1,\n");
    assert_eq!(document.root().text("name").as_deref(), Some("x"));
    assert_eq!(document.root().text("other"), None);
    let problems = document.finish();
    assert!(problems.len() >= 2, "{problems:?}");
    assert!(problems.iter().all(|problem| problem.message.starts_with("this is not TOML: ")), "{problems:?}");
    assert_eq!(problems[0].line, 1);
}

#[test]
fn what_is_said_of_a_file_is_one_line_whatever_stands_in_it() {
    let problem =
        super::Problem::new("a.toml", 2, "lessons[\"a\nb\"]", "there is no lesson \"c\",\r\n    \"d\u{0}\", at 5 °C");
    assert_eq!(
        problem.to_string(),
        "a.toml:2: lessons[\"a\\nb\"]: there is no lesson \"c\",\\r\\n    \"d\\u{0}\", at 5 °C"
    );
}
