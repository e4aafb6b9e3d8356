//! Writing on the sheet: the fonts, how wide a text is, and where a line must be broken.
//!
//! Never leaves out a letter without a trace: one that no font has is written as a question mark.

use super::PaperError;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Rect};
use krilla::paint::Fill;
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider as _};

/// How strong letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

/// A colour of the sheet.
#[derive(Clone, Copy, Debug)]
pub(super) enum Ink {
    /// Text and strong rules.
    Dark,
    /// Secondary text.
    Soft,
    /// Ruled lines.
    Rule,
}

impl Ink {
    fn fill(self) -> Fill {
        let color = match self {
            Self::Dark => rgb::Color::new(0x1c, 0x23, 0x29),
            Self::Soft => rgb::Color::new(0x55, 0x60, 0x6a),
            Self::Rule => rgb::Color::new(0xcf, 0xc6, 0xb4),
        };
        Fill { paint: color.into(), ..Fill::default() }
    }
}

const REGULAR: &[u8] = include_bytes!("fonts/hyperlegible-next-regular.ttf");
const BOLD: &[u8] = include_bytes!("fonts/hyperlegible-next-bold.ttf");
/// Names in letters that the others do not have: Greek, Cyrillic, Armenian, Georgian, Hebrew, Arabic, Vietnamese.
const MORE_SCRIPTS: &[u8] = include_bytes!("fonts/dejavu-sans-more-scripts.ttf");

struct Face {
    font: Font,
    shapes: FontRef<'static>,
}

impl Face {
    fn new(bytes: &'static [u8]) -> Result<Self, PaperError> {
        let broken = || PaperError::new("a font of the program is broken");
        let font = Font::new(bytes.into(), 0).ok_or_else(broken)?;
        Ok(Self { font, shapes: FontRef::new(bytes).map_err(|_| broken())? })
    }

    fn has(&self, letter: char) -> bool {
        self.shapes.charmap().map(letter).is_some()
    }

    fn width(&self, text: &str, size: f32) -> f32 {
        let metrics = self.shapes.glyph_metrics(Size::new(size), LocationRef::default());
        let charmap = self.shapes.charmap();
        text.chars().filter_map(|letter| metrics.advance_width(charmap.map(letter)?)).sum()
    }
}

/// Writes and draws on a page.
pub(super) struct Pen<'s, 'p> {
    surface: &'s mut Surface<'p>,
    faces: [Face; 3],
}

impl<'s, 'p> Pen<'s, 'p> {
    pub(super) fn new(surface: &'s mut Surface<'p>) -> Result<Self, PaperError> {
        Ok(Self { surface, faces: [Face::new(REGULAR)?, Face::new(BOLD)?, Face::new(MORE_SCRIPTS)?] })
    }

    /// Writes one line with its base at `y`; gives where it ends.
    pub(super) fn write(&mut self, at: (f32, f32), size: f32, weight: Weight, ink: Ink, text: &str) -> f32 {
        self.surface.set_fill(Some(ink.fill()));
        let mut x = at.0;
        for (face, run) in self.runs(weight, text) {
            let face = &self.faces[face];
            let font = face.font.clone();
            self.surface.draw_text(Point::from_xy(x, at.1), font, size, &run, false, TextDirection::Auto);
            x += face.width(&run, size);
        }
        x
    }

    /// Writes one line that ends at `x`.
    pub(super) fn write_to(&mut self, at: (f32, f32), size: f32, weight: Weight, ink: Ink, text: &str) {
        let width = self.width(size, weight, text);
        self.write((at.0 - width, at.1), size, weight, ink, text);
    }

    /// How wide a line is.
    pub(super) fn width(&self, size: f32, weight: Weight, text: &str) -> f32 {
        self.runs(weight, text).iter().map(|(face, run)| self.faces[*face].width(run, size)).sum()
    }

    /// Breaks a text into lines of at most this width: between words, and inside one only when it is too long by itself.
    pub(super) fn lines(&self, size: f32, weight: Weight, width: f32, text: &str) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.width(size, weight, &longer) <= width {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for letter in word.chars() {
                line.push(letter);
                if self.width(size, weight, &line) > width && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, letter.to_string()));
                }
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// Fills a rectangle.
    pub(super) fn fill(&mut self, left: f32, top: f32, width: f32, height: f32, ink: Ink) {
        let mut path = PathBuilder::new();
        if let Some(rect) = Rect::from_xywh(left, top, width, height) {
            path.push_rect(rect);
        }
        self.draw(path, ink);
    }

    /// Fills an outline.
    pub(super) fn draw(&mut self, path: PathBuilder, ink: Ink) {
        if let Some(path) = path.finish() {
            self.surface.set_fill(Some(ink.fill()));
            self.surface.draw_path(&path);
        }
    }

    /// The text in pieces, each with the first font that has its letters.
    fn runs(&self, weight: Weight, text: &str) -> Vec<(usize, String)> {
        let first = usize::from(weight == Weight::Bold);
        let mut runs: Vec<(usize, String)> = Vec::new();
        for letter in text.chars() {
            // Spaces and signs stay with the letters before them, so that words written from right to left keep their order.
            let before = runs.last().map(|(face, _)| *face).filter(|_| !letter.is_alphanumeric());
            let faces = before.into_iter().chain([first, 2]);
            let (face, letter) = match faces.into_iter().find(|face| self.faces[*face].has(letter)) {
                Some(face) => (face, letter),
                // Joiners are not seen anyway.
                None if matches!(letter, '\u{200c}' | '\u{200d}') => continue,
                None => (first, '?'),
            };
            match runs.last_mut() {
                Some((last, run)) if *last == face => run.push(letter),
                _ => runs.push((face, letter.to_string())),
            }
        }
        runs
    }
}
