//! The words of an element as paragraphs: tags are gone, white space is single, and a gap stands where an answer goes.
//!
//! What has no words (pictures, formulas, scripts) is reported, not replaced.

use super::item::Findings;
use crate::exchange::xml::{Element, Node};

/// Where an answer goes. The letter stands for an object in text, and is taken out of a stranger's words before.
pub(super) const GAP: char = '\u{FFFC}';

/// Elements that stand on lines of their own.
const BLOCKS: [&str; 36] = [
    "address",
    "article",
    "aside",
    "blockquote",
    "br",
    "caption",
    "dd",
    "div",
    "dl",
    "dt",
    "figcaption",
    "figure",
    "footer",
    "h1",
    "h2",
    "h3",
    "h4",
    "h5",
    "h6",
    "header",
    "hr",
    "li",
    "main",
    "nav",
    "ol",
    "p",
    "pre",
    "qti-content-body",
    "qti-prompt",
    "section",
    "table",
    "tbody",
    "td",
    "th",
    "tr",
    "ul",
];
/// What cannot be told in words.
const MEDIA: [&str; 12] = [
    "audio",
    "canvas",
    "embed",
    "iframe",
    "img",
    "math",
    "object",
    "picture",
    "qti-stylesheet",
    "script",
    "svg",
    "video",
];
/// What is told after an answer, or to somebody else; whoever needs it asks for it.
const ASIDE: [&str; 4] = ["qti-feedback-block", "qti-feedback-inline", "qti-modal-feedback", "qti-rubric-block"];

/// The paragraphs of an element; those of [`ASIDE`] within it are left out.
pub(super) fn paragraphs(element: &Element, findings: &mut Findings) -> Vec<String> {
    let mut flow = Flow { done: Vec::new(), open: String::new(), findings };
    flow.inside(element);
    flow.end();
    flow.done
}

/// All words of an element on one line.
pub(super) fn words(element: &Element, findings: &mut Findings) -> String {
    paragraphs(element, findings).join(" ")
}

/// A text on one line, without letters that are none.
pub(super) fn on_one_line(text: &str) -> String {
    let seen = text.split(|c: char| c.is_whitespace() || c.is_control());
    seen.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

struct Flow<'f> {
    done: Vec<String>,
    open: String,
    findings: &'f mut Findings,
}

impl Flow<'_> {
    fn inside(&mut self, element: &Element) {
        for node in &element.inside {
            match node {
                Node::Text(text) => self.open.extend(text.chars().filter(|c| *c != GAP)),
                Node::Element(inner) => self.element(inner),
            }
        }
    }

    fn element(&mut self, element: &Element) {
        let name = element.name.as_str();
        if element.foreign || MEDIA.contains(&name) {
            let instead = element.attribute("alt").map(on_one_line).filter(|alt| !alt.is_empty());
            let instead = instead.map(|alt| format!(" (it says of itself: \"{alt}\")")).unwrap_or_default();
            let name = super::shortened(name);
            self.findings.note(
                element.line,
                "media",
                format!("<{name}> is not taken; say in words what it shows{instead}"),
            );
        } else if name.ends_with("-interaction") {
            let inline = matches!(name, "qti-text-entry-interaction" | "qti-inline-choice-interaction");
            if !inline {
                self.end();
            }
            self.open.push(GAP);
            if !inline {
                self.end();
            }
        } else if ASIDE.contains(&name) {
            if name == "qti-rubric-block" {
                self.findings.note(
                    element.line,
                    "rubric",
                    "what is told to examiners or before a question is not taken",
                );
            }
        } else if BLOCKS.contains(&name) {
            self.end();
            self.inside(element);
            self.end();
        } else {
            self.inside(element);
        }
    }

    fn end(&mut self) {
        let paragraph = on_one_line(&std::mem::take(&mut self.open));
        if !paragraph.is_empty() {
            self.done.push(paragraph);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::xml;

    #[test]
    fn words_become_paragraphs_and_pictures_become_findings() {
        let text = "<b>One\n <i>two</i>&#xFFFC;<p> three<br/>four </p><qti-feedback-inline>no</qti-feedback-inline>\
                    five<p>\n</p><p>six <qti-text-entry-interaction/> h</p><img alt='a lamp'/></b>";
        let tree = xml::read(text).unwrap();
        let mut findings = Findings::default();
        let found = paragraphs(&tree.root, &mut findings);
        assert_eq!(found, ["One two", "three", "four", "five", "six \u{FFFC} h"]);
        let told: Vec<_> = findings.0.iter().map(|(line, field, message)| (*line, *field, message.as_str())).collect();
        let says = "<img> is not taken; say in words what it shows (it says of itself: \"a lamp\")";
        assert_eq!(told, [(3, "media", says)]);
    }
}
