//! Packages that other systems could have made: what is taken, and what is said about the rest.

use super::{manifest, one_item, zipped};
use sootmark::bank_files::embedded;
use sootmark::domain::bank::Bank;
use sootmark::domain::document::Problem;
use sootmark::domain::scenario::Template;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::units::TemperatureUnit;
use sootmark::exchange::import;

const CHOICE: &str = "<qti-response-declaration identifier=\"R\" cardinality=\"single\" base-type=\"identifier\">
<qti-correct-response><qti-value>b</qti-value></qti-correct-response></qti-response-declaration>
<qti-item-body><p>One &lt;story&gt; with {braces}.</p><p>[option]</p><p># 7 is lit</p>
<qti-choice-interaction response-identifier=\"R\" max-choices=\"1\"><qti-prompt>What <i>now</i>?</qti-prompt>
<qti-simple-choice identifier=\"a\">Work on<qti-feedback-inline outcome-identifier=\"F\" identifier=\"a\">No: {it} is full.</qti-feedback-inline></qti-simple-choice>
<qti-simple-choice identifier=\"b\">Stop</qti-simple-choice><qti-simple-choice identifier=\"c\">Wait</qti-simple-choice></qti-choice-interaction>
<p>Look at the panel.</p></qti-item-body>
<qti-modal-feedback outcome-identifier=\"F\" identifier=\"b\" show-hide=\"show\"><qti-content-body>Yes.</qti-content-body></qti-modal-feedback>
";

/// What is said about a package, as it is printed.
fn told(package: &[u8]) -> Vec<String> {
    import(package).problems.iter().map(Problem::to_string).collect()
}

/// What is said about the one question of a package, and whether it was taken.
#[track_caller]
fn check(inside: &str, taken: bool, says: &[&str]) {
    let imported = import(&one_item(inside));
    let told: Vec<String> = imported.problems.iter().map(Problem::to_string).collect();
    assert_eq!(told.len(), says.len(), "{told:#?}");
    for (told, says) in told.iter().zip(says) {
        assert!(told.contains(says), "{told} should say {says}");
    }
    assert_eq!(imported.drafts.len(), usize::from(taken), "{told:?}");
}

#[test]
fn a_choice_becomes_a_draft() {
    let imported = import(&one_item(CHOICE));
    assert_eq!(imported.problems, []);
    assert_eq!((imported.drafts[0].name.as_str(), imported.drafts[0].from.as_str()), ("q1", "q.xml"));
    insta::assert_snapshot!(imported.drafts[0].text);
}

#[test]
fn a_draft_that_is_filled_in_is_a_scenario_with_the_strangers_words() {
    let (bank, _) = Bank::read(&embedded());
    let draft = &import(&one_item(CHOICE)).drafts[0].text;
    let read = |text: &str| Template::read("drafts/q1", "q1.scenario", text, &bank.lexicon());
    let open = read(draft).expect_err("unfinished").into_iter().map(|problem| problem.to_string()).collect::<Vec<_>>();
    let line = |wanted: &str, nth: usize| {
        let lines = draft.lines().enumerate().filter(|(_, line)| *line == wanted);
        lines.map(|(number, _)| number + 1).nth(nth).expect("a line")
    };
    // An empty line is left open right behind its colon.
    let left_open = |name: &str, nth: usize| {
        let named = format!("{name}:");
        let (line, column) = (line(&named, nth), named.len() + 1);
        let left = "this is left open, so the scenario is not finished; write it behind the name";
        format!("q1.scenario:{line}:{column}: {named} {left}")
    };
    let wanted = [
        left_open("competence", 0),
        left_open("level", 0),
        left_open("right if", 0),
        left_open("right if", 1),
        left_open("right if", 2),
        left_open("because", 0),
    ];
    assert_eq!(open, wanted);

    let mut filled = draft.replace("competence:", "competence: stop_and_call").replace("level:", "level: 1");
    filled = filled.replace("[situation]", "[draw]\nload = inside stop keep 3 %\n\n[situation]\nsoot = load");
    for condition in ["permitted(keep_working)", "route = stop_and_call", "permitted(start_parked)"] {
        filled = filled.replacen("right if:\n", &format!("right if: {condition}\n"), 1);
    }
    filled = filled.replace("because:\n", "because: It is not.\n");
    let template = read(&filled).expect("finished");
    let machine = bank.machine("tarrel-60").expect("a machine");
    let seed = Seed { secret: [1; 32], stream: 1 };
    let question = generate(&template, 1, machine, seed, TemperatureUnit::Celsius).expect("a question");
    assert_eq!(question.shown.story, ["One <story> with {braces}.", "[option]", "# 7 is lit"]);
    assert_eq!(question.shown.prompt, "What now?");
    let why = |text: &str| &question.choices.iter().find(|choice| choice.text == text).expect("an option").why;
    assert_eq!((why("Work on").as_str(), why("Stop").as_str()), ("No: {it} is full.", "Yes."));
}

const NUMBER: &str = "<qti-response-declaration identifier=\"R\" cardinality=\"single\" base-type=\"float\">
<qti-correct-response><qti-value>2.5</qti-value></qti-correct-response></qti-response-declaration>
<qti-item-body><p>It is warm.</p><p>It takes <qti-text-entry-interaction response-identifier=\"R\"/> hours.</p></qti-item-body>
<qti-response-processing><qti-response-condition><qti-response-if><qti-equal tolerance-mode=\"absolute\" tolerance=\"0.5 0.5\">
<qti-correct identifier=\"R\"/><qti-variable identifier=\"R\"/></qti-equal></qti-response-if></qti-response-condition></qti-response-processing>
";

#[test]
fn a_number_and_an_order_are_taken() {
    let text = |inside: &str| import(&one_item(inside)).drafts.first().expect("a draft").text.clone();
    let number = text(NUMBER);
    let told = "[question]\nIt takes ... hours.\n\n[answer]\nask: number\n# the package says 2.5 is right; say here how the \
                model knows it\nkey =\n# the package writes \"hours.\" behind the number; add a line such as `unit: h`\n# the \
                package allows 0.5 more or less\ntolerance =\n";
    assert!(number.contains(told), "{number}");
    let order = CHOICE
        .replace("choice-interaction", "order-interaction")
        .replace("single", "ordered")
        .replace("<qti-value>b</qti-value>", "<qti-value>c</qti-value><qti-value>a</qti-value>");
    let order = text(&order);
    for (option, says) in
        [("Work on", "puts this in place 2"), ("Stop", "does not say what this is"), ("Wait", "puts this in place 1")]
    {
        assert!(order.contains(&format!("text: {option}\n# the package {says}; ")), "{option}: {order}");
    }
}

#[test]
fn what_is_not_taken_is_said_with_its_line() {
    let body = |inside: &str| CHOICE.replace("<p>Look at the panel.</p>", inside);
    check(&body("<p><img src=\"lamp.png\" alt=\"a lamp\"/></p>"), true, &["q.xml:8: media: <img> is not taken"]);
    check(&body("<m:math xmlns:m=\"urn:m\"><m:mi>x</m:mi></m:math>"), true, &["q.xml:8: media: <math>"]);
    check(&body("<qti-rubric-block use=\"scoring\">x</qti-rubric-block>"), true, &["q.xml:8: rubric: "]);
    check(&format!("{CHOICE}<qti-stylesheet href=\"a.css\"/>"), true, &["q.xml:10: media: "]);
    let second = body("\n<qti-slider-interaction response-identifier=\"S\"/>");
    check(&second, false, &["q.xml:9: interaction: <qti-slider-interaction>", "q.xml:9: interaction: more than one"]);
    let script = CHOICE.replace("qti-choice-interaction", "qti-portable-custom-interaction");
    check(&script, false, &["q.xml:5: interaction: <qti-portable-custom-interaction> is not taken"]);
    let drawn = format!("<qti-template-declaration identifier=\"T\"/>{CHOICE}");
    check(&drawn, false, &["q.xml:2: template: "]);
    let mapped = CHOICE.replace("</qti-correct-response>", "</qti-correct-response>\n<qti-mapping/>");
    check(&mapped, true, &["q.xml:4: points: "]);
    check(&CHOICE.replace("single", "record"), false, &["q.xml:2: cardinality: "]);
    check(
        &CHOICE.replace("identifier=\"R\" card", "identifier=\"S\" card"),
        false,
        &["q.xml:5: response-identifier: "],
    );
    check(&CHOICE.replace(">Stop<", "><img/><"), false, &["q.xml:7: media: ", "q.xml:7: qti-simple-choice: "]);
    check(&NUMBER.replace("float", "string"), false, &["q.xml:2: base-type: an answer in words"]);
    check(&NUMBER.replace("absolute", "relative"), true, &["q.xml:5: tolerance: "]);
    check("<qti-item-body><p>Read this.</p></qti-item-body>", false, &["q.xml:1: interaction: nothing is asked"]);
    check("<!DOCTYPE x>", false, &["q.xml:2: xml: a document type is not taken"]);
    check("<p>\n&nbsp;</p>", false, &["q.xml:3: xml: the entity &nbsp;"]);
    check("<p>", false, &["q.xml:2: xml: this is not well-formed XML"]);
}

#[test]
fn what_a_manifest_names_wrongly_is_said() {
    let two = manifest(&["q.xml", "q.xml", "gone.xml", "../../etc/q.xml"]);
    let item = "<qti-assessment-item xmlns=\"http://www.imsglobal.org/xsd/imsqti_v2p1\"/>";
    let package = zipped(&[("imsmanifest.xml", &*two), ("q.xml", item), ("left.xml", "<a/>"), ("lamp.png", "x")]);
    let wanted = [
        "imsmanifest.xml:4: href: q.xml is named twice; it is taken once",
        "imsmanifest.xml:5: href: there is no XML file gone.xml in the package",
        "imsmanifest.xml:6: href: there is no XML file ../../etc/q.xml in the package",
        "lamp.png:0: media: pictures, sounds, styles and scripts are not taken; only plain text is",
        "left.xml:0: manifest: the manifest does not name this file as a question; it is not taken",
        "q.xml:1: item: <qti-assessment-item> of the namespace \"http://www.imsglobal.org/xsd/imsqti_v2p1\" is no \
         question of QTI 3.0",
    ];
    assert_eq!(told(&package), wanted);
    let old = manifest(&["q.xml"]).replace("xmlv3p0", "xmlv2p2");
    let package = zipped(&[("imsmanifest.xml", &*old), ("q.xml", CHOICE)]);
    assert_eq!(
        told(&package),
        ["imsmanifest.xml:3: resource: \"imsqti_item_xmlv2p2\" is another version of QTI; only 3.0 is taken"]
    );
    let missing = ":0: manifest: there is no imsmanifest.xml: this is no QTI package";
    assert!(told(&zipped(&[("a.txt", "x")])).contains(&missing.to_owned()));
}

#[test]
fn a_prefix_is_as_good_as_none_and_equal_names_are_told_apart() {
    let item = "<q:qti-assessment-item xmlns:q=\"http://www.imsglobal.org/xsd/imsqtiasi_v3p0\" identifier=\"ä/../Q 1\">"
        .to_owned()
        + &CHOICE
            .replace("</qti-", "</q:qti-")
            .replace("<qti-", "<q:qti-")
            .replace("<p>", "<q:p>")
            .replace("</p>", "</q:p>")
            .replace("<i>", "<q:i>")
            .replace("</i>", "</q:i>") + "</q:qti-assessment-item>";
    let package =
        zipped(&[("imsmanifest.xml", manifest(&["a.xml", "b.xml"])), ("a.xml", item.clone()), ("b.xml", item)]);
    let imported = import(&package);
    assert_eq!(imported.problems, []);
    assert_eq!(imported.drafts.iter().map(|draft| draft.name.as_str()).collect::<Vec<_>>(), ["q-1", "q-1-2"]);
    assert!(imported.drafts[0].text.contains("\n[question]\nWhat now?\n"));
}
