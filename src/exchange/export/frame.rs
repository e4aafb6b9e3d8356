//! What holds the questions together: a form as a test, and the manifest.

use super::{Form, Named};
use crate::exchange::xml::Element;
use crate::exchange::{ITEM_TYPE, ITEMS, MANIFEST, TEST_TYPE};

/// A form as a test. Its score is the sum of its questions'; whether somebody is qualified is never decided by it.
pub(super) fn test(identifier: &str, form: &Form, asked: &[usize], items: &[Named]) -> Element {
    let refer = |(number, (place, question)): (usize, (&usize, &crate::domain::scenario::Question))| {
        let item = &items[*place];
        let mandatory = if question.mandatory { " safety-mandatory" } else { "" };
        Element::new("qti-assessment-item-ref")
            .with("identifier", format!("question-{number}"))
            .with("href", format!("../{}", item.href))
            .with(
                "category",
                format!("{} level-{}{mandatory}", super::as_identifier(&question.competence), question.level),
            )
    };
    let section = Element::new("qti-assessment-section")
        .with("identifier", "section-1")
        .with("title", form.title.as_str())
        .with("visible", "true")
        .holding_all((1..).zip(asked.iter().zip(&form.questions)).map(refer));
    let part = Element::new("qti-test-part")
        .with("identifier", "part-1")
        .with("navigation-mode", "nonlinear")
        .with("submission-mode", "individual")
        .holding(Element::new("qti-item-session-control").with("show-feedback", "true"))
        .holding(section);
    let sum = Element::new("qti-sum").holding(Element::new("qti-test-variables").with("variable-identifier", "SCORE"));
    Element::new("qti-assessment-test")
        .with("xmlns", ITEMS)
        .with("identifier", identifier)
        .with("title", form.title.as_str())
        .with("xml:lang", "en")
        .holding(super::scoring::number_outcome("SCORE", "0"))
        .holding(part)
        .holding(
            Element::new("qti-outcome-processing")
                .holding(Element::new("qti-set-outcome-value").with("identifier", "SCORE").holding(sum)),
        )
}

/// The manifest: every file with its type, and which questions a form needs.
pub(super) fn manifest(identifier: &str, items: &[Named], forms: &[(Named, Vec<usize>)]) -> Element {
    let resource = |named: &Named, kind: &str| {
        Element::new("resource")
            .with("identifier", named.identifier.as_str())
            .with("type", kind)
            .with("href", named.href.as_str())
            .holding(Element::new("file").with("href", named.href.as_str()))
    };
    let needs = |asked: &[usize]| {
        let mut places = asked.to_vec();
        places.sort_unstable();
        places.dedup();
        let depend = |place: usize| Element::new("dependency").with("identifierref", items[place].identifier.as_str());
        places.into_iter().map(depend).collect::<Vec<_>>()
    };
    let of_items = items.iter().map(|named| resource(named, ITEM_TYPE));
    let of_forms = forms.iter().map(|(named, asked)| resource(named, TEST_TYPE).holding_all(needs(asked)));
    let about = Element::new("metadata")
        .holding(Element::new("schema").saying("QTI Package"))
        .holding(Element::new("schemaversion").saying("3.0.0"));
    Element::new("manifest")
        .with("xmlns", MANIFEST)
        .with("identifier", identifier)
        .holding(about)
        .holding(Element::new("organizations"))
        .holding(Element::new("resources").holding_all(of_items.chain(of_forms)))
}
