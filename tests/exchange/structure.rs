//! What stands where in a package that is written.

use super::{QUESTIONS, exported, files, package};
use roxmltree::{Document, Node};
use sootmark::bank_files::embedded;
use sootmark::domain::bank::Bank;
use sootmark::domain::examination::form::assemble;
use sootmark::domain::units::TemperatureUnit;
use sootmark::exchange::{Form, Package, export};
use std::collections::{BTreeMap, BTreeSet};

// Source: 1EdTech QTI 3.0, public examples: namespace, schema name and version, resource types, order of children.
const ITEMS: &str = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0";
const CHILD_ORDER: [&str; 7] = [
    "qti-response-declaration",
    "qti-outcome-declaration",
    "qti-template-declaration",
    "qti-template-processing",
    "qti-item-body",
    "qti-response-processing",
    "qti-modal-feedback",
];

fn parsed(files: &BTreeMap<String, String>) -> BTreeMap<&str, Document<'_>> {
    files.iter().map(|(name, text)| (name.as_str(), Document::parse(text).expect(name))).collect()
}

fn children<'n>(node: Node<'n, 'n>, name: &str) -> Vec<Node<'n, 'n>> {
    node.children().filter(|child| child.has_tag_name((ITEMS, name))).collect()
}

fn all<'n>(node: Node<'n, 'n>, name: &str) -> Vec<Node<'n, 'n>> {
    node.descendants().filter(|child| child.tag_name().name() == name).collect()
}

fn attribute<'n>(node: Node<'n, 'n>, name: &str) -> &'n str {
    node.attribute(name).unwrap_or_else(|| panic!("{} has {name}", node.tag_name().name()))
}

/// Letters, digits, `_`, `-` and `.`, and no digit first.
// From memory, not confirmed: 1EdTech QTI 3.0 information model, identifier (an NCName without a colon).
fn lawful(identifier: &str) -> bool {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-.".contains(c);
    !identifier.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.')
        && !identifier.is_empty()
        && identifier.chars().all(plain)
}

#[test]
fn the_same_questions_give_the_same_bytes() {
    assert_eq!(exported(), exported());
    let mut fewer = package();
    fewer.forms[0].questions.pop();
    assert_ne!(export(&fewer).expect("a package"), exported());
}

#[test]
fn the_manifest_names_every_file_once_with_its_type() {
    let files = files(&exported());
    let trees = parsed(&files);
    let manifest = trees["imsmanifest.xml"].root_element();
    let namespace = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1";
    assert!(manifest.has_tag_name((namespace, "manifest")));
    assert!(manifest.descendants().filter(Node::is_element).all(|node| node.tag_name().namespace() == Some(namespace)));
    let said = |name| all(manifest, name)[0].text();
    assert_eq!((said("schema"), said("schemaversion")), (Some("QTI Package"), Some("3.0.0")));
    let order: Vec<&str> = manifest.children().filter(Node::is_element).map(|node| node.tag_name().name()).collect();
    assert_eq!(order, ["metadata", "organizations", "resources"]);

    let resources = all(manifest, "resource");
    let mut identifiers: Vec<&str> = resources.iter().map(|resource| attribute(*resource, "identifier")).collect();
    identifiers.push(attribute(manifest, "identifier"));
    assert!(identifiers.iter().all(|identifier| lawful(identifier)), "{identifiers:?}");
    assert_eq!(identifiers.iter().collect::<BTreeSet<_>>().len(), identifiers.len(), "identifiers are unique");

    let mut named = BTreeSet::from(["imsmanifest.xml"]);
    for resource in resources {
        let href = attribute(resource, "href");
        let root = trees.get(href).unwrap_or_else(|| panic!("{href} exists")).root_element();
        let wanted = match root.tag_name().name() {
            "qti-assessment-item" => "imsqti_item_xmlv3p0",
            "qti-assessment-test" => "imsqti_test_xmlv3p0",
            other => panic!("{other}"),
        };
        assert_eq!(attribute(resource, "type"), wanted, "{href}");
        assert_eq!(attribute(resource, "identifier"), attribute(root, "identifier"), "{href}");
        assert_eq!(all(resource, "file").iter().map(|file| attribute(*file, "href")).collect::<Vec<_>>(), [href]);
        assert!(named.insert(href), "{href} is named once");
    }
    assert_eq!(named, files.keys().map(String::as_str).collect(), "every file is named");
}

#[test]
fn a_form_asks_its_questions_and_says_that_it_needs_them() {
    let (package, files) = (package(), files(&exported()));
    let trees = parsed(&files);
    let manifest = trees["imsmanifest.xml"].root_element();
    for (number, form) in (1..).zip(&package.forms) {
        let href = format!("tests/form-{number}.xml");
        let test = trees[href.as_str()].root_element();
        assert!(test.has_tag_name((ITEMS, "qti-assessment-test")));
        assert_eq!(attribute(test, "title"), form.title);
        let references = all(test, "qti-assessment-item-ref");
        assert_eq!(references.len(), form.questions.len());
        let own: BTreeSet<&str> = references.iter().map(|reference| attribute(*reference, "identifier")).collect();
        assert_eq!(own.len(), references.len(), "references are unique");
        let mut needed = BTreeSet::new();
        for (reference, question) in references.iter().zip(&form.questions) {
            let href = attribute(*reference, "href").strip_prefix("../").expect("from tests/ up to items/");
            let item = trees[href].root_element();
            needed.insert(attribute(item, "identifier"));
            let prompt = &question.shown.prompt;
            assert!(item.descendants().any(|node| node.text() == Some(prompt)), "{href} asks \"{prompt}\"");
            let mandatory = attribute(*reference, "category").split(' ').any(|word| word == "safety-mandatory");
            assert_eq!(mandatory, question.mandatory, "{href}");
        }
        let resource = all(manifest, "resource").into_iter().find(|node| node.attribute("href") == Some(&href));
        let depends = all(resource.expect("the form's resource"), "dependency");
        let depends: Vec<&str> = depends.into_iter().map(|node| attribute(node, "identifierref")).collect();
        assert_eq!(depends.len(), needed.len());
        assert_eq!(depends.into_iter().collect::<BTreeSet<_>>(), needed);
    }
    let items = files.keys().filter(|name| name.starts_with("items/")).count();
    assert_eq!(items, package.forms[0].questions.len(), "a question that two forms ask is written once");
}

#[test]
fn the_form_of_a_scheme_goes_out_whole() {
    let (bank, _) = Bank::read(&embedded());
    let scheme = &bank.scheme("operator").expect("a scheme").scheme;
    let questions = assemble(&bank, scheme, [5; 32], TemperatureUnit::Fahrenheit).expect("a form");
    let form = Form { title: scheme.title.clone(), questions };
    let package = Package { identifier: scheme.id.clone(), forms: vec![form] };
    let files = files(&export(&package).expect("a package"));
    let trees = parsed(&files);
    let references = all(trees["tests/form-1.xml"].root_element(), "qti-assessment-item-ref");
    assert_eq!(references.len(), scheme.questions());
    let hrefs: BTreeSet<&str> = references.into_iter().map(|reference| attribute(reference, "href")).collect();
    assert_eq!(hrefs.len(), scheme.questions(), "no question stands twice");
    assert!(hrefs.iter().all(|href| files.contains_key(href.trim_start_matches("../"))), "{hrefs:?}");
}

#[test]
fn an_items_children_stand_in_the_order_of_the_standard() {
    let files = files(&exported());
    for (name, tree) in parsed(&files).iter().filter(|(name, _)| name.starts_with("items/")) {
        let item = tree.root_element();
        assert!(item.has_tag_name((ITEMS, "qti-assessment-item")), "{name}");
        assert_eq!((attribute(item, "adaptive"), attribute(item, "time-dependent")), ("false", "false"));
        assert!(!attribute(item, "title").is_empty(), "{name}");
        let places: Vec<usize> = item
            .children()
            .filter(Node::is_element)
            .map(|child| {
                let place = CHILD_ORDER.iter().position(|known| child.has_tag_name((ITEMS, *known)));
                place.unwrap_or_else(|| panic!("{name}: {}", child.tag_name().name()))
            })
            .collect();
        assert!(places.is_sorted(), "{name}: {places:?}");
        for once in [0, 4, 5] {
            assert_eq!(places.iter().filter(|place| **place == once).count(), 1, "{name}: {}", CHILD_ORDER[once]);
        }
        assert!(item.descendants().filter(Node::is_element).all(|node| node.tag_name().namespace() == Some(ITEMS)));
    }
}

#[test]
fn whatever_an_item_names_is_there() {
    let files = files(&exported());
    for (name, tree) in parsed(&files).iter().filter(|(name, _)| name.starts_with("items/")) {
        let item = tree.root_element();
        let identifiers = |name: &str| -> Vec<&str> {
            all(item, name).into_iter().map(|node| attribute(node, "identifier")).collect()
        };
        let declared = [identifiers("qti-response-declaration"), identifiers("qti-outcome-declaration")].concat();
        let named = ["qti-variable", "qti-correct", "qti-set-outcome-value"].map(identifiers).concat();
        assert!(named.iter().all(|name| declared.contains(name)), "{name}: {named:?}");
        let interactions: Vec<Node<'_, '_>> =
            item.descendants().filter(|node| node.tag_name().name().ends_with("-interaction")).collect();
        assert_eq!(interactions.len(), 1, "{name}");
        assert_eq!(attribute(interactions[0], "response-identifier"), "RESPONSE");
        let options = identifiers("qti-simple-choice");
        assert_eq!(options.iter().collect::<BTreeSet<_>>().len(), options.len(), "{name}");
        let told = identifiers("qti-modal-feedback");
        assert_eq!(told.iter().collect::<BTreeSet<_>>().len(), told.len(), "{name}");
        let response = children(item, "qti-response-declaration")[0];
        let values: Vec<&str> = all(response, "qti-value").iter().filter_map(Node::text).collect();
        if attribute(response, "base-type") == "identifier" {
            assert!(!values.is_empty() && values.iter().all(|value| options.contains(value)), "{name}: {values:?}");
            assert_eq!(told, options, "{name}: every option is explained");
        } else {
            assert!(values.len() == 1 && values[0].parse::<f64>().is_ok_and(f64::is_finite), "{name}: {values:?}");
        }
    }
}

#[test]
fn nothing_that_gives_the_key_away_is_shown_before_the_answer() {
    let files = files(&exported());
    let trees = parsed(&files);
    for (question, (name, tree)) in super::QUESTIONS.iter().filter_map(|question| {
        let source = &question.source;
        let name = format!("items/{}.{}.{}.xml", source.template.replace('/', "."), source.machine, source.stream);
        trees.get_key_value(name.as_str()).map(|found| (question, found))
    }) {
        let body = children(tree.root_element(), "qti-item-body")[0];
        let later: Vec<Node<'_, '_>> = all(body, "qti-feedback-block");
        assert_eq!(later.len(), 1, "{name}");
        let is_later = |node: &Node<'_, '_>| node.ancestors().any(|above| above == later[0]);
        let words = |later: bool| -> Vec<&str> {
            body.descendants().filter(|node| is_later(node) == later).filter_map(|node| node.text()).collect()
        };
        let (before, after) = (words(false).join("\n"), words(true).join("\n"));
        for caution in &question.cautions {
            assert!(!before.contains(&caution.avoid), "{name}: {}", caution.avoid);
            assert!(after.contains(&caution.avoid) && after.contains(caution.signal.word()), "{name}");
        }
        for reason in &question.reasons {
            assert!(after.contains(reason.as_str()), "{name}: {reason}");
        }
        assert!(after.contains("operator's manual, local codes and licensed practice decide"), "{name}");
        for (label, value) in &question.shown.facts {
            assert!(before.contains(&format!("{label}: {value}")), "{name}: {label}");
        }
        for lamp in question.shown.lamps.iter().flat_map(|lamps| lamps.iter()) {
            assert!(before.contains(lamp.name()), "{name}: {}", lamp.name());
        }
    }
    assert_eq!(trees.len(), super::QUESTIONS.len() + 3, "every question was looked at");
}

#[test]
fn a_plot_leaves_as_text() {
    let mut plotted = 0;
    for question in QUESTIONS.iter() {
        let form = Form { title: "One".to_owned(), questions: vec![question.clone()] };
        let zip = export(&Package { identifier: "one".to_owned(), forms: vec![form] }).expect("a package");
        let said = files(&zip).values().any(|text| text.contains("<li>Course before this moment: 0 min: "));
        let course = question.shown.course.as_ref();
        assert_eq!(said, course.is_some(), "{}", question.source.template);
        let Some(course) = course else { continue };
        let end = course.points.last().expect("a point");
        let words = format!("min: {} %, {} °C</li>", end.soot_percent, end.outlet);
        assert!(files(&zip).values().any(|text| text.contains(&words)), "{}: {words}", question.source.template);
        plotted += 1;
    }
    assert!(plotted >= 9, "{plotted} questions with a plot");
}
