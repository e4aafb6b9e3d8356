//! An XML file as a small tree, for building one and for looking at one.
//!
//! Knows no word of QTI.

mod read;
mod write;

pub(super) use read::{Tree, read};
pub(super) use write::write;

/// An element.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Element {
    /// Its name without a prefix.
    pub(super) name: String,
    /// Whether it is of another namespace than the file's root.
    pub(super) foreign: bool,
    /// Its line in the file that was read, from 1; 0 when it was built here.
    pub(super) line: u32,
    /// Name, with its prefix where it has one, and value.
    attributes: Vec<(String, String)>,
    pub(super) inside: Vec<Node>,
}

/// What stands in an element.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Node {
    Element(Element),
    Text(String),
}

impl Element {
    /// An empty element.
    pub(super) fn new(name: &str) -> Self {
        Self { name: name.to_owned(), ..Self::default() }
    }

    /// With one more attribute.
    pub(super) fn with(mut self, name: &str, value: impl Into<String>) -> Self {
        self.attributes.push((name.to_owned(), value.into()));
        self
    }

    /// With text at its end.
    pub(super) fn saying(mut self, text: impl Into<String>) -> Self {
        self.inside.push(Node::Text(text.into()));
        self
    }

    /// With an element at its end.
    pub(super) fn holding(self, element: Self) -> Self {
        self.holding_all([element])
    }

    /// With elements at its end.
    pub(super) fn holding_all(mut self, elements: impl IntoIterator<Item = Self>) -> Self {
        self.inside.extend(elements.into_iter().map(Node::Element));
        self
    }

    /// An attribute's value.
    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(own, _)| own == name).map(|(_, value)| value.as_str())
    }

    /// The elements right inside it that are of its file's own namespace.
    pub(super) fn children(&self) -> impl Iterator<Item = &Self> {
        self.inside.iter().filter_map(|node| match node {
            Node::Element(element) if !element.foreign => Some(element),
            Node::Element(_) | Node::Text(_) => None,
        })
    }

    /// The first child of a name.
    pub(super) fn child(&self, name: &str) -> Option<&Self> {
        self.children().find(|child| child.name == name)
    }

    /// Looks at it and at every element below it, foreign ones too, in the file's order. Trees that were read are not
    /// deep, see [`read`].
    pub(super) fn walk<'e>(&'e self, look: &mut impl FnMut(&'e Self)) {
        look(self);
        for node in &self.inside {
            if let Node::Element(element) = node {
                element.walk(look);
            }
        }
    }

    /// Every element of its file's namespace with this name, itself included.
    pub(super) fn all(&self, name: &str) -> Vec<&Self> {
        let mut found = Vec::new();
        self.walk(&mut |element| {
            if element.name == name && !element.foreign {
                found.push(element);
            }
        });
        found
    }

    /// The text right inside it, without the white space around it.
    pub(super) fn text(&self) -> String {
        let text: String = self
            .inside
            .iter()
            .filter_map(|node| match node {
                Node::Text(text) => Some(text.as_str()),
                Node::Element(_) => None,
            })
            .collect();
        text.trim().to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plain() -> impl Strategy<Value = Element> {
        let parts = ("[a-z][a-z0-9-]{0,6}", proptest::option::of("[a-z<>&\"'é ]{0,8}"));
        parts.prop_map(|(name, value)| match value {
            Some(value) => Element::new(&name).with("k", value),
            None => Element::new(&name),
        })
    }

    /// What XML 1.0 can hold and reads back: no carriage return (section 2.11), no text beside another.
    fn element() -> impl Strategy<Value = Element> {
        let words = || proptest::option::of("[a-zäß<>&\"' \n\t\u{2028}😀-]{1,12}");
        plain().prop_recursive(4, 30, 5, move |inner| {
            let parts = (plain(), words(), proptest::collection::vec(inner, 0..4), words());
            parts.prop_map(|(outer, before, inside, after)| {
                let outer = before.into_iter().fold(outer, |outer, words| outer.saying(words));
                let apart = !inside.is_empty() || outer.inside.is_empty();
                let outer = outer.holding_all(inside);
                after.filter(|_| apart).into_iter().fold(outer, |outer, words| outer.saying(words))
            })
        })
    }

    fn without_lines_and_layout(element: &Element) -> Element {
        let layout = |node: &&Node| !matches!(node, Node::Text(text) if text.trim_matches([' ', '\n']).is_empty());
        let mixed = element
            .inside
            .iter()
            .any(|node| matches!(node, Node::Text(text) if !text.trim_matches([' ', '\n']).is_empty()));
        let inside = element.inside.iter().filter(|node| mixed || layout(node)).map(|node| match node {
            Node::Element(inner) => Node::Element(without_lines_and_layout(inner)),
            Node::Text(text) => Node::Text(text.clone()),
        });
        Element { line: 0, inside: inside.collect(), ..element.clone() }
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again(tree in element()) {
            let text = String::from_utf8(write(&tree).unwrap()).unwrap();
            let read = read(&text).unwrap();
            prop_assert_eq!(without_lines_and_layout(&read.root), without_lines_and_layout(&tree), "{}", text);
        }

        #[test]
        fn any_text_is_a_tree_or_refused_at_a_line_that_is_there(
            text in ".{0,60}", near in "(<[/a-z!?:]{0,4}|>|/>|&[a-z#0-9;]{0,5}|[a-z ='\"\n]{0,6}|\\]\\]>|<!\\[CDATA\\[|--){0,14}",
        ) {
            for text in [text, near] {
                if let Err(refused) = read(&text) {
                    prop_assert!((1..=text.matches('\n').count() + 1).contains(&(refused.line as usize)), "{refused:?}");
                    prop_assert!(!refused.message.contains('\n'), "{refused:?}");
                }
            }
        }
    }
}
