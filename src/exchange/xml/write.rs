//! Writes a tree as XML 1.0 in UTF-8, the same bytes for the same tree.

use super::{Element, Node};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};
use std::io::Result;

/// The file of a tree. Elements that hold no text are set on lines of their own; what holds text stays on one line, so
/// that no white space is added to what people read.
pub(in crate::exchange) fn write(root: &Element) -> Result<Vec<u8>> {
    let mut writer = Writer::new(Vec::new());
    writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    element(&mut writer, root, Some(0))?;
    writer.write_event(Event::Text(BytesText::from_escaped("\n")))?;
    Ok(writer.into_inner())
}

/// An element, indented to a depth; on the line where it stands when there is none.
fn element(writer: &mut Writer<Vec<u8>>, element: &Element, depth: Option<usize>) -> Result<()> {
    line(writer, depth)?;
    let attributes: Vec<(&str, String)> =
        element.attributes.iter().map(|(name, value)| (name.as_str(), lawful(value))).collect();
    let mut start = BytesStart::new(element.name.as_str());
    start.extend_attributes(attributes.iter().map(|(name, value)| (*name, value.as_str())));
    if element.inside.is_empty() {
        return writer.write_event(Event::Empty(start));
    }
    writer.write_event(Event::Start(start))?;
    let mixed = element.inside.iter().any(|node| matches!(node, Node::Text(_)));
    let below = depth.filter(|_| !mixed).map(|depth| depth + 1);
    for node in &element.inside {
        match node {
            Node::Element(inner) => self::element(writer, inner, below)?,
            Node::Text(text) => writer.write_event(Event::Text(BytesText::new(&lawful(text))))?,
        }
    }
    line(writer, depth.filter(|_| !mixed))?;
    writer.write_event(Event::End(BytesEnd::new(element.name.as_str())))
}

fn line(writer: &mut Writer<Vec<u8>>, depth: Option<usize>) -> Result<()> {
    match depth {
        Some(depth) => {
            let text = format!("\n{}", "  ".repeat(depth));
            writer.write_event(Event::Text(BytesText::from_escaped(text)))
        }
        None => Ok(()),
    }
}

/// The text without the letters that XML 1.0 does not allow, not even as references.
// Source: W3C XML 1.0 (fifth edition), production 2 (Char).
fn lawful(text: &str) -> String {
    let allowed = |c: &char| matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{FFFD}' | '\u{10000}'..='\u{10FFFF}');
    text.chars().filter(allowed).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_people_read_gets_no_white_space_and_marks_are_escaped() {
        let tree = Element::new("a")
            .holding(
                Element::new("p").with("t", "\"<&\"").saying("1 < 2 & ").holding(Element::new("b").saying("3\u{1}")),
            )
            .holding(Element::new("q"));
        let text = String::from_utf8(write(&tree).unwrap()).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines,
            [
                "<?xml version=\"1.0\" encoding=\"UTF-8\"?>",
                "<a>",
                "  <p t=\"&quot;&lt;&amp;&quot;\">1 &lt; 2 &amp; <b>3</b></p>",
                "  <q/>",
                "</a>",
            ]
        );
    }
}
