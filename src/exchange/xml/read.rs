//! Reads a stranger's XML file into a tree, within limits.
//!
//! Never follows a reference to another file, never takes a document type, never expands an entity beyond XML's own five.

use super::{Element, Node};
use quick_xml::NsReader;
use quick_xml::XmlVersion;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesRef, BytesStart, Event};
use quick_xml::name::{Namespace, ResolveResult};

/// Deepest nesting; chosen by us: what is looked at is walked by recursion, and a question is flat.
const DEEPEST: usize = 60;
/// Most elements of a file; chosen by us.
const MOST_ELEMENTS: usize = 20_000;
/// Most attributes of an element; chosen by us: that none stands twice is found by comparing each with each.
const MOST_ATTRIBUTES: usize = 100;

/// A file that was read.
#[derive(Debug)]
pub(in crate::exchange) struct Tree {
    pub(in crate::exchange) root: Element,
    /// The namespace of the root; empty when it has none.
    pub(in crate::exchange) namespace: String,
}

/// Why a file was not read, and where that was seen.
#[derive(Debug, PartialEq, Eq)]
pub(in crate::exchange) struct NotRead {
    pub(in crate::exchange) line: u32,
    pub(in crate::exchange) message: String,
}

/// Reads a file.
///
/// # Errors
/// The first thing that is not well-formed, forbidden, or beyond a limit.
pub(in crate::exchange) fn read(text: &str) -> Result<Tree, NotRead> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let starts: Vec<usize> = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
    let line_at = |at: u64| {
        let at = usize::try_from(at).unwrap_or(usize::MAX);
        u32::try_from(starts.partition_point(|start| *start <= at)).unwrap_or(u32::MAX)
    };
    let mut reader = NsReader::from_str(text);
    reader.config_mut().check_comments = true;
    let mut building = Building::default();
    loop {
        let from = line_at(reader.buffer_position());
        let event = match reader.read_resolved_event() {
            Ok((namespace, event)) => Ok((owned(&namespace), event)),
            Err(error) => Err(error.to_string()),
        };
        let taken = match event {
            Ok((_, Event::Eof)) => return building.finish().map_err(|message| NotRead { line: from, message }),
            Ok((namespace, event)) => building.take(namespace, event, from),
            Err(message) => {
                let line = line_at(reader.error_position());
                // It quotes the text, and a finding is one line.
                let message = message.split_whitespace().collect::<Vec<_>>().join(" ");
                return Err(NotRead { line, message: format!("this is not well-formed XML: {message}") });
            }
        };
        taken.map_err(|message| NotRead { line: from, message })?;
    }
}

fn owned(namespace: &ResolveResult<'_>) -> Result<String, String> {
    match namespace {
        ResolveResult::Bound(Namespace(name)) => Ok((*name).to_owned()),
        ResolveResult::Unbound => Ok(String::new()),
        ResolveResult::Unknown(prefix) => Err(format!("the prefix \"{prefix}\" is not declared")),
    }
}

#[derive(Default)]
struct Building {
    /// The elements that are open, the outermost first.
    open: Vec<Element>,
    namespace: Option<String>,
    root: Option<Element>,
    elements: usize,
}

impl Building {
    fn take(&mut self, namespace: Result<String, String>, event: Event<'_>, line: u32) -> Result<(), String> {
        match event {
            Event::Start(start) => {
                let element = self.element(&namespace?, &start, line)?;
                self.open.push(element);
                if self.open.len() > DEEPEST {
                    return Err(format!("elements stand in each other more than {DEEPEST} deep"));
                }
            }
            Event::Empty(start) => {
                let element = self.element(&namespace?, &start, line)?;
                self.close(element);
            }
            Event::End(_) => {
                // The reader has checked that this is the end of what is open.
                if let Some(element) = self.open.pop() {
                    self.close(element);
                }
            }
            Event::Text(text) => self.text(&text.xml10_content())?,
            Event::CData(text) => self.text(&text.xml10_content())?,
            Event::GeneralRef(reference) => {
                let text = referred(&reference)?;
                self.text(&text)?;
            }
            Event::DocType(_) => return Err("a document type is not taken; leave the <!DOCTYPE> out".to_owned()),
            Event::Decl(declaration) => {
                if let Some(encoding) = declaration.encoding() {
                    let encoding = encoding.map_err(|error| error.to_string())?;
                    if !encoding.eq_ignore_ascii_case("utf-8") && !encoding.eq_ignore_ascii_case("us-ascii") {
                        return Err("only UTF-8 is taken; save the file as UTF-8".to_owned());
                    }
                }
            }
            Event::Comment(_) | Event::PI(_) | Event::Eof => {}
        }
        Ok(())
    }

    fn element(&mut self, namespace: &str, start: &BytesStart<'_>, line: u32) -> Result<Element, String> {
        self.elements += 1;
        if self.elements > MOST_ELEMENTS {
            return Err(format!("a file has at most {MOST_ELEMENTS} elements"));
        }
        if self.open.is_empty() && self.root.is_some() {
            return Err("this is not well-formed XML: there is a second root".to_owned());
        }
        let own = self.namespace.get_or_insert_with(|| namespace.to_owned());
        let mut element = Element::new(start.local_name().as_ref());
        (element.foreign, element.line) = (own != namespace, line);
        for (number, attribute) in start.attributes().enumerate() {
            if number == MOST_ATTRIBUTES {
                return Err(format!("an element has at most {MOST_ATTRIBUTES} attributes"));
            }
            let attribute = attribute.map_err(|error| format!("this is not well-formed XML: {error}"))?;
            let name = attribute.key.as_ref();
            if name == "xmlns" || name.starts_with("xmlns:") {
                continue;
            }
            let value = attribute
                .normalized_value(XmlVersion::Implicit1_0)
                .map_err(|error| format!("the attribute {name} is not well-formed: {error}"))?;
            element.attributes.push((name.to_owned(), value.into_owned()));
        }
        Ok(element)
    }

    fn close(&mut self, element: Element) {
        match self.open.last_mut() {
            Some(parent) => parent.inside.push(Node::Element(element)),
            None => self.root = Some(element),
        }
    }

    fn text(&mut self, text: &str) -> Result<(), String> {
        match self.open.last_mut() {
            Some(parent) => match parent.inside.last_mut() {
                Some(Node::Text(before)) => before.push_str(text),
                _ => parent.inside.push(Node::Text(text.to_owned())),
            },
            None if text.trim().is_empty() => {}
            None => return Err("this is not well-formed XML: text stands outside the root".to_owned()),
        }
        Ok(())
    }

    fn finish(self) -> Result<Tree, String> {
        match (self.open.last(), self.root) {
            (Some(open), _) => {
                Err(format!("this is not well-formed XML: <{}> of line {} is not closed", open.name, open.line))
            }
            (None, Some(root)) => Ok(Tree { root, namespace: self.namespace.unwrap_or_default() }),
            (None, None) => Err("there is no element in this file".to_owned()),
        }
    }
}

fn referred(reference: &BytesRef<'_>) -> Result<String, String> {
    let name: &str = reference;
    match reference.resolve_char_ref() {
        Ok(Some(letter)) => Ok(letter.to_string()),
        Ok(None) => resolve_xml_entity(name)
            .map(str::to_owned)
            .ok_or_else(|| format!("the entity &{name}; is not XML's own; write the letter itself")),
        Err(error) => Err(format!("&{name}; is no letter: {error}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_becomes_a_tree_with_lines() {
        let text = "\u{FEFF}<?xml version='1.0'?>\n<a:x xmlns:a='u' k='1 &lt; 2'>\n one &amp; <a:y/><z xmlns='v'/><![CDATA[<3>]]>&#52;\n</a:x>\n";
        let tree = read(text).unwrap();
        assert_eq!((tree.namespace.as_str(), tree.root.name.as_str(), tree.root.line), ("u", "x", 2));
        assert_eq!(tree.root.attribute("k"), Some("1 < 2"));
        assert_eq!(tree.root.text(), "one & <3>4");
        assert_eq!(tree.root.children().map(|child| (child.name.as_str(), child.line)).collect::<Vec<_>>(), [("y", 3)]);
        assert!(matches!(&tree.root.inside[2], Node::Element(z) if z.foreign));
    }

    #[test]
    fn what_is_forbidden_or_broken_is_refused_with_its_line() {
        let deep = "<a>".repeat(DEEPEST + 1);
        let many = format!("<a>{}</a>", "<b/>".repeat(MOST_ELEMENTS));
        let crowded = format!("<a{}/>", (0..120_000).map(|number| format!(" a{number}=''")).collect::<String>());
        for (text, line, says) in [
            ("", 1, "no element"),
            ("<a>\n<b>\n</a>", 3, "well-formed"),
            ("<a>\n<b/>\n", 3, "<a> of line 1 is not closed"),
            ("<a/>\n<b/>", 2, "second root"),
            ("<a/>\nb", 1, "outside the root"),
            ("\n<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", 2, "document type"),
            ("<a>\n\n&nbsp;</a>", 3, "&nbsp;"),
            ("<a b='&c;'/>", 1, "attribute b"),
            ("<a b='1' b='2'/>", 1, "well-formed"),
            ("<a b=1/>", 1, "well-formed"),
            ("<a>1 & 2</a>", 1, "well-formed"),
            ("<a>&#0;</a>", 1, "no letter"),
            ("<a:b/>", 1, "prefix \"a\""),
            ("<?xml version='1.0' encoding='ISO-8859-1'?><a/>", 1, "UTF-8"),
            (&deep, 1, "60 deep"),
            (&many, 1, "20000 elements"),
            (&crowded, 1, "100 attributes"),
        ] {
            let refused = read(text).unwrap_err();
            let shown: String = text.chars().take(40).collect();
            assert_eq!(refused.line, line, "{shown}: {refused:?}");
            assert!(refused.message.contains(says), "{shown}: {refused:?}");
        }
    }
}
