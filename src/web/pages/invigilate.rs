//! `/invigilate`: watching examinations at one's own branch: opened with a code, who sits and how far they are, incidents.
//!
//! Never shows a question, an answer or a grade.

mod list;
mod one;

pub use list::{list, open};
pub use one::{close, note, show};

use crate::actions::invigilate::Invigilator;
use crate::web::App;
use crate::web::guard::SignedIn;

const fn invigilator(reader: &SignedIn) -> Invigilator {
    Invigilator { person: reader.person, branch: reader.branch }
}

/// A scheme's title; its key when the bank no longer has it.
fn scheme_title(app: &App, key: &str) -> String {
    let read = app.deeds.bank.now();
    read.bank.scheme(key).map_or_else(|| key.to_owned(), |entry| entry.scheme.title.clone())
}
