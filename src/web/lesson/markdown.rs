//! A lesson's Markdown: cut at its fences, turned into HTML, cleaned.
//!
//! Raw HTML in a lesson is dropped before it is HTML of ours, and what is left is cleaned once more against a list of
//! what may stay. Never passes on a script, a style, a picture, an id, a class or an address of an unknown kind.

use super::fence::WORDS;
use crate::domain::units::{TemperatureUnit, told};
use ammonia::Builder;
use pulldown_cmark::{CodeBlockKind, Event, HeadingLevel, Options, Parser, Tag, TagEnd, html};
use std::collections::{HashMap, HashSet};
use std::ops::Range;

/// A stretch of a lesson's text.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// Clean HTML.
    Text(String),
    /// Something to draw; `line` is the fence's own, from 1.
    Fence { word: String, body: String, line: u32 },
    /// Something to draw that stands where nothing can be drawn.
    Misplaced { word: String, line: u32 },
}

/// Cuts a lesson's text into pieces, with temperatures in the reader's scale.
pub(super) fn pieces(text: &str, unit: TemperatureUnit) -> Vec<Piece> {
    let mut cut = Cut { text, unit, pieces: Vec::new(), open: Vec::new(), depth: 0, fence: None };
    let known = Options::ENABLE_TABLES | Options::ENABLE_STRIKETHROUGH;
    for (event, range) in Parser::new_ext(text, known).into_offset_iter() {
        cut.take(event, range);
    }
    cut.close_text();
    cut.pieces
}

struct Cut<'t> {
    text: &'t str,
    unit: TemperatureUnit,
    pieces: Vec<Piece>,
    /// Events of the text that is being collected.
    open: Vec<Event<'t>>,
    /// How many tags are open around the present place.
    depth: usize,
    /// The fence that is being read: word, body, line, whether it stands on its own.
    fence: Option<(String, String, u32, bool)>,
}

impl<'t> Cut<'t> {
    fn take(&mut self, event: Event<'t>, range: Range<usize>) {
        match (event, &mut self.fence) {
            (Event::Text(text), Some((_, body, ..))) => body.push_str(&text),
            (Event::End(TagEnd::CodeBlock), Some(_)) => self.end_fence(),
            (_, Some(_)) => {}
            (Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(word))), None) if WORDS.contains(&word.trim()) => {
                let line = self.text[..range.start].matches('\n').count() + 1;
                let line = u32::try_from(line).unwrap_or(u32::MAX);
                self.fence = Some((word.trim().to_owned(), String::new(), line, self.depth == 0));
            }
            (Event::Html(_) | Event::InlineHtml(_), None) => {}
            (Event::Text(text), None) => {
                self.open.push(Event::Text(told::temperatures(&text, self.unit).into_owned().into()))
            }
            (event, None) => {
                match &event {
                    Event::Start(_) => self.depth += 1,
                    Event::End(_) => self.depth = self.depth.saturating_sub(1),
                    _ => {}
                }
                self.open.push(lowered(event));
            }
        }
    }

    fn end_fence(&mut self) {
        let Some((word, body, line, alone)) = self.fence.take() else { return };
        if alone {
            self.close_text();
            self.pieces.push(Piece::Fence { word, body, line });
        } else {
            self.pieces.push(Piece::Misplaced { word, line });
        }
    }

    fn close_text(&mut self) {
        let mut raw = String::new();
        html::push_html(&mut raw, self.open.drain(..));
        let clean = clean(&raw);
        if !clean.trim().is_empty() {
            self.pieces.push(Piece::Text(clean));
        }
    }
}

/// The page's one first heading is the lesson's title: headings inside begin one lower.
fn lowered(event: Event<'_>) -> Event<'_> {
    match event {
        Event::Start(Tag::Heading { level: HeadingLevel::H1, .. }) => {
            Event::Start(Tag::Heading { level: HeadingLevel::H2, id: None, classes: Vec::new(), attrs: Vec::new() })
        }
        Event::End(TagEnd::Heading(HeadingLevel::H1)) => Event::End(TagEnd::Heading(HeadingLevel::H2)),
        other => other,
    }
}

/// What may stay.
const TAGS: [&str; 21] = [
    "p",
    "h2",
    "h3",
    "h4",
    "ul",
    "ol",
    "li",
    "blockquote",
    "em",
    "strong",
    "del",
    "code",
    "pre",
    "table",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "a",
    "br",
];

fn clean(raw: &str) -> String {
    Builder::empty()
        .generic_attributes(HashSet::new())
        .tags(HashSet::from(TAGS))
        .clean_content_tags(HashSet::from(["script", "style"]))
        .tag_attributes(HashMap::from([("a", HashSet::from(["href"])), ("ol", HashSet::from(["start"]))]))
        .url_schemes(HashSet::from(["https", "http", "mailto"]))
        .link_rel(Some("noopener noreferrer"))
        .clean(raw)
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn html(text: &str) -> String {
        let texts = pieces(text, TemperatureUnit::Celsius).into_iter().map(|piece| match piece {
            Piece::Text(html) => html,
            other => format!("{other:?}"),
        });
        texts.collect()
    }

    #[test]
    fn what_could_run_or_fetch_is_dropped() {
        for hostile in [
            "<script>alert(1)</script>",
            "a <b onclick=\"alert(1)\">b</b>",
            "<img src=x onerror=alert(1)>",
            "![a](https://example.org/a.png)",
            "[a](javascript:alert(1))",
            "[a](JaVaScRiPt&colon;alert(1))",
            "[a](data:text/html,<script>alert(1)</script>)",
            "<iframe src=\"//example.org\"></iframe>",
            "<style>p { display: none }</style>",
            "<svg/onload=alert(1)>",
            "- <details ontoggle=alert(1) open>",
            "## Title {#id .class onclick=alert(1)}",
            "```\n</code></pre><script>alert(1)</script>\n```",
            "```\"><script>alert(1)</script>\na\n```",
            "[a](https://example.org \"x\\\" onmouseover=\\\"alert(1)\")",
        ] {
            let drawn = html(hostile);
            for never in
                ["<script", "<img", "<iframe", "<style", "<svg", "<b", "<details", " on", " id=", " class=", " src="]
            {
                let inside =
                    drawn.split('<').skip(1).any(|tag| format!("<{}", tag.split('>').next().unwrap()).contains(never));
                assert!(!inside, "{never} of {hostile} in {drawn}");
            }
            for never in ["href=\"javascript", "href=\"data"] {
                assert!(!drawn.to_lowercase().contains(never), "{never} of {hostile} in {drawn}");
            }
        }
    }

    #[test]
    fn plain_structure_stays() {
        assert_eq!(html("# A\n\n**b** *c* `d`"), "<h2>A</h2>\n<p><strong>b</strong> <em>c</em> <code>d</code></p>\n");
        assert!(html("| a | b |\n|---|---|\n| 1 | 2 |").contains("<th>a</th>"));
        assert_eq!(html("1. a\n2. b"), "<ol>\n<li>a</li>\n<li>b</li>\n</ol>\n");
        assert!(html("[a](https://example.org/b)").contains("rel=\"noopener noreferrer\""));
    }

    #[test]
    fn the_text_is_cut_at_its_fences_and_only_there() {
        let cut = pieces("a\n\n```lamps\nmachine = \"x\"\n```\n\nb\n\n```\nlamps\n```\n", TemperatureUnit::Celsius);
        let fence = Piece::Fence { word: "lamps".to_owned(), body: "machine = \"x\"\n".to_owned(), line: 3 };
        assert_eq!(cut[1], fence);
        assert_eq!(cut.len(), 3, "{cut:?}");
        let in_list = pieces("- a\n\n  ```lamps\n  machine = \"x\"\n  ```\n- b\n", TemperatureUnit::Celsius);
        assert!(in_list.contains(&Piece::Misplaced { word: "lamps".to_owned(), line: 3 }), "{in_list:?}");
    }

    proptest! {
        #[test]
        fn whatever_a_lesson_holds_no_tag_or_address_comes_through_that_may_not_stay(
            pieces in proptest::collection::vec(piece(), 0..12),
        ) {
            let text = pieces.concat();
            let lines = text.matches('\n').count() + 1;
            for piece in super::pieces(&text, TemperatureUnit::Fahrenheit) {
                match piece {
                    Piece::Text(html) => {
                        for tag in html.split('<').skip(1) {
                            let name = tag.trim_start_matches('/').split([' ', '>']).next().unwrap_or_default();
                            prop_assert!(TAGS.contains(&name), "{name} in {html}");
                            let inside = tag.split('>').next().unwrap_or_default();
                            for never in [" on", " id=", " class=", " style=", "javascript:", "data:"] {
                                prop_assert!(!inside.to_lowercase().contains(never), "{never} in {html}");
                            }
                        }
                    }
                    Piece::Fence { line, .. } | Piece::Misplaced { line, .. } => prop_assert!((1..=lines).contains(&(line as usize))),
                }
            }
        }
    }

    /// What means something to a reader of Markdown or of HTML.
    fn piece() -> impl Strategy<Value = String> {
        let known = [
            "\n",
            "\n\n",
            "# ",
            "- ",
            "> ",
            "1. ",
            "  ",
            "    ",
            "```",
            "```lamps\n",
            "~~~",
            "`",
            "**",
            "[a](",
            ")",
            "<",
            ">",
            "|",
            "<script>",
            "</script>",
            "<svg ",
            " onload=x",
            "<a href=",
            "\"",
            "'",
            "javascript:",
            "data:x",
            "&colon;",
            "&#106;",
            "600 °C",
            "&lt;",
            "]: ",
            "[a",
            "![",
            "{#id .c}",
            "<!--",
            "-->",
            "<p class=\"x\">",
            "<style>",
            "://",
        ];
        prop_oneof![4 => prop::sample::select(known.to_vec()).prop_map(str::to_owned), 1 => "\\PC{0,6}"]
    }
}
