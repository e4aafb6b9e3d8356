//! Pages from templates: what a reader sees, with text escaped and numbers in the reader's units.
//!
//! Never fetches anything and never decides who may see it: a handler hands over a finished view model. Text of trainers and readers
//! is data here; it never becomes a template.

pub mod assets;
mod filters;

use include_dir::{Dir, include_dir};
use serde::Serialize;
use std::error::Error as _;
use std::sync::Arc;
use tera::{Context, Tera};

static TEMPLATES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/templates");

/// Every template of the program, read once and shared by all workers.
#[derive(Clone, Debug)]
pub struct Views(Arc<Tera>);

/// Why a page could not be drawn. Always a fault of the program, never of the reader.
#[derive(Clone, Debug, thiserror::Error)]
#[error("the template {template} cannot be used: {reason}")]
pub struct ViewError {
    /// The template's name under `templates/`.
    pub template: String,
    /// What the template engine says, causes included.
    pub reason: String,
}

/// What every page's context carries as `page`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Page {
    /// The page's own title.
    pub title: String,
    /// Who is signed in.
    pub me: Option<Me>,
    /// One sentence about what has just happened.
    pub notice: Option<String>,
    /// What is wrong with the form on this page. Not empty: the title begins with "Error: ".
    pub errors: Vec<FieldError>,
}

/// The person the page is drawn for.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Me {
    /// The person's number: a page that was put away comes back to the same person only.
    pub id: String,
    /// The person's name.
    pub name: String,
    /// The role in words.
    pub role_name: String,
    /// The session's form token; every form that changes something carries it.
    pub form_token: String,
    /// The places this person may go to.
    pub places: Vec<Place>,
}

/// A place in the line at the top.
#[derive(Clone, Debug, Serialize)]
pub struct Place {
    /// The word.
    pub label: String,
    /// Where it leads.
    pub href: String,
    /// Whether the reader is there.
    pub current: bool,
}

/// One thing wrong with a form.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FieldError {
    /// The field's name, which is also its id on the page.
    pub field: String,
    /// What is wrong and what to do.
    pub message: String,
}

impl Views {
    /// Reads all templates.
    ///
    /// # Errors
    /// When a template has a mistake or uses a component or filter that does not exist.
    pub fn load() -> Result<Self, ViewError> {
        let mut tera = Tera::default();
        tera.autoescape_on([".html"]);
        filters::register(&mut tera);
        let mut sources = Vec::new();
        collect(&TEMPLATES, &mut sources);
        tera.add_raw_templates(sources).map_err(|error| ViewError::new("templates", &error))?;
        Ok(Self(Arc::new(tera)))
    }

    /// Draws a template, such as `pages/home/home.html`. The context is a map or a struct.
    ///
    /// # Errors
    /// When the template does not exist or uses a value that the context does not have.
    pub fn render(&self, name: &str, context: &(impl Serialize + ?Sized)) -> Result<String, ViewError> {
        let context = Context::from_serialize(context).map_err(|error| ViewError::new(name, &error))?;
        self.0.render(name, &context).map_err(|error| ViewError::new(name, &error))
    }
}

impl ViewError {
    fn new(template: &str, error: &tera::Error) -> Self {
        let mut reason = error.to_string();
        let mut cause = error.source();
        while let Some(inner) = cause {
            reason.push_str(": ");
            reason.push_str(&inner.to_string());
            cause = inner.source();
        }
        Self { template: template.to_owned(), reason }
    }
}

fn collect(folder: &'static Dir<'static>, sources: &mut Vec<(String, &'static str)>) {
    for file in folder.files() {
        let name = file.path().to_string_lossy().replace('\\', "/");
        let is_template = name.ends_with(".html") || name.ends_with(".txt");
        if let (true, false, Some(text)) = (is_template, name.starts_with("assets/"), file.contents_utf8()) {
            sources.push((name, text));
        }
    }
    folder.dirs().for_each(|inner| collect(inner, sources));
}
