//! What a change of a machine profile does to the built-in bank's questions.
//!
//! Which questions must change follows from what was changed, not from what the program prints: who asks for lamps is
//! touched by other lamps, and nobody else.

use sootmark::bank_files;
use sootmark::domain::bank::effect::Effect;
use sootmark::domain::bank::{Bank, BankDocument, DocumentKind};
use sootmark::domain::document::Problem;
use sootmark::domain::units::TemperatureUnit;

const SEEDS: u64 = 12;

/// The built-in bank with a text of the tarrel-60 in which something is replaced, and what is wrong with it.
fn bank(replace: &[(&str, &str)]) -> (Bank, Vec<Problem>) {
    let mut documents = bank_files::embedded();
    let of = |document: &&mut BankDocument| document.kind == DocumentKind::Machine && document.key == "tarrel-60";
    let machine = documents.iter_mut().find(of).expect("the machine");
    for (from, to) in replace {
        assert!(machine.text.contains(from), "{from} stands in the file");
        machine.text = machine.text.replace(from, to);
    }
    Bank::read(&documents)
}

/// What happens when the built-in text is replaced by another.
fn effect(replace: &[(&str, &str)]) -> Effect {
    let (before, broken) = bank(&[]);
    assert_eq!(broken, [], "the built-in bank is whole");
    let (after, broken) = bank(replace);
    Effect::of(&before, &after, &broken, "tarrel-60", SEEDS, TemperatureUnit::Celsius)
}

#[test]
fn a_remark_changes_nothing_and_everything_is_compared() {
    let effect = effect(&[("# Engine-out soot.", "# What leaves the engine.")]);
    assert_eq!((&effect.changed[..], &effect.unfit[..], &effect.schemes[..]), (&[][..], &[][..], &[][..]));
    let fitting = Bank::read(&bank_files::embedded()).0;
    let parts = fitting.templates().filter(|entry| entry.template.fits("tarrel-60")).map(|e| e.template.part_count());
    let parts: Vec<usize> = parts.collect();
    assert_eq!(effect.templates, parts.len());
    assert_eq!(effect.questions, parts.iter().sum::<usize>() as u64 * SEEDS, "of a case every part");
}

#[test]
fn another_lamp_changes_the_keys_of_those_who_ask_for_lamps_and_shows_one() {
    let effect = effect(&[("lamps = [\"filter\", \"warning\"]", "lamps = [\"filter\"]")]);
    assert!(!effect.changed.is_empty());
    let documents = bank_files::embedded();
    let asks_for_lamps = |template: &str| {
        let of = |document: &&BankDocument| document.kind == DocumentKind::Template && document.key == template;
        let text = &documents.iter().find(of).expect("a template of the bank").text;
        text.contains("ask: lamps") || text.contains("lit(")
    };
    for each in &effect.changed {
        assert!(asks_for_lamps(&each.template), "{each:?}");
        assert!(each.changed > 0 && each.changed <= each.compared, "{each:?}");
        // Of a case every part is compared.
        assert!(each.compared >= SEEDS && each.compared.is_multiple_of(SEEDS), "{each:?}");
        assert_eq!(each.same_situation, each.changed, "lamps move no reading");
        // The same question, of which the amber warning lamp is no part any more: not where lamps are shown, nor in the answer.
        let readings =
            |shown: &[(String, String)]| shown.iter().filter(|(name, _)| name != "Lit").cloned().collect::<Vec<_>>();
        assert_eq!(readings(&each.before.readings), readings(&each.after.readings));
        assert_eq!(each.before.prompt, each.after.prompt);
        let warning = |answer: &[String]| answer.iter().any(|text| text.to_lowercase().contains("warning lamp"));
        assert!(warning(&each.before.answer) && !warning(&each.after.answer), "{each:?}");
    }
    // Who asks what the amber lamp wants has no right answer left.
    let lost: Vec<_> = effect.unfit.iter().filter(|unfit| !asks_for_lamps(&unfit.id)).collect();
    assert!(lost.is_empty(), "{lost:?}");
}

#[test]
fn a_number_within_the_tolerance_is_the_same_key_and_beyond_it_another() {
    // Common practice, no published source: how long soot takes to come depends on how much the filter holds.
    let doubled = effect(&[("volume = \"7.5 L\"", "volume = \"15 L\"")]);
    let hardly = effect(&[("volume = \"7.5 L\"", "volume = \"7.501 L\"")]);
    assert_eq!(hardly.changed, []);
    let numbers =
        |effect: &Effect| effect.changed.iter().filter(|each| each.before.answer[0].contains("right within")).count();
    assert!(numbers(&doubled) > 0, "{:?}", doubled.changed);
}

#[test]
fn who_finds_no_room_to_draw_or_no_word_for_a_band_no_longer_fits() {
    // Parked cleaning from 107 to 110 %: nobody can stay 3 % away from both ends.
    let narrow = [("to = \"84 %\"", "to = \"107 %\""), ("from = \"84 %\"", "from = \"107 %\"")];
    let found = effect(&narrow).unfit;
    assert!(found.iter().any(|unfit| unfit.reason.contains("a draw from")), "{found:?}");
    assert!(found.is_sorted_by_key(|unfit| !unfit.mandatory), "what no one may get wrong stands first");

    // What did not fit before is no effect of a later change.
    let (before, _) = bank(&narrow);
    let (after, broken) = bank(&[narrow[0], narrow[1], ("fuel = \"2.6 L\"", "fuel = \"2.7 L\"")]);
    let later = Effect::of(&before, &after, &broken, "tarrel-60", SEEDS, TemperatureUnit::Celsius);
    assert_eq!(later.unfit, []);

    // A template that speaks of a band of no machine cannot even be read; its own line is named.
    let mut documents = bank_files::embedded();
    let template = BankDocument {
        kind: DocumentKind::Template,
        key: "lamps/amber-belt".to_owned(),
        version: 1,
        file: "amber-belt".to_owned(),
        text: "title: Amber belt\ncompetence: lamps\nlevel: 1\nkind: choose one\nmachines: all\n\n[draw]\n\
               load0 = inside amber_belt keep 3 %\n\n[situation]\nsoot = load0\n\n[story]\nIt runs.\n\n[question]\nWhich?\n\n\
               [answer]\nask: route\n"
            .to_owned(),
    };
    documents.push(template);
    let before: Vec<BankDocument> = documents
        .iter()
        .map(|document| BankDocument {
            text: document.text.replace("\"very_high\"", "\"amber_belt\""),
            ..document.clone()
        })
        .collect();
    let (before, _) = Bank::read(&before);
    assert!(before.template("lamps/amber-belt").is_some());
    let (after, broken) = Bank::read(&documents);
    let effect = Effect::of(&before, &after, &broken, "tarrel-60", 0, TemperatureUnit::Celsius);
    let lost = effect.unfit.iter().find(|unfit| unfit.id == "lamps/amber-belt").expect("it is lost");
    assert!(lost.reason.starts_with("line 8"), "{}", lost.reason);
}

#[test]
fn an_examination_that_cannot_be_put_together_is_named() {
    let documents = bank_files::embedded();
    let (before, _) = Bank::read(&documents);
    let without_lamps: Vec<BankDocument> = documents
        .into_iter()
        .filter(|document| !(document.kind == DocumentKind::Template && document.key.starts_with("lamps/")))
        .collect();
    let (after, broken) = Bank::read(&without_lamps);
    let effect = Effect::of(&before, &after, &broken, "tarrel-60", 0, TemperatureUnit::Celsius);
    let first_day = effect.schemes.iter().find(|scheme| scheme.id == "first-day").expect("it asks for lamps");
    assert!(first_day.reason.contains("lamps"), "{}", first_day.reason);
}
