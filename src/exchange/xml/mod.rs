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
