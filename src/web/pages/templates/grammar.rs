//! How a scenario is written: the bank's own guide.

use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use pulldown_cmark::{Options, Parser, html};
use serde::Serialize;

static GUIDE: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/question-bank/GRAMMAR.md"));

#[derive(Serialize)]
struct Guide {
    page: Page,
    guide: String,
}

/// The guide.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    // The card has the title already.
    let text = GUIDE.split_once('\n').filter(|(first, _)| first.starts_with("# ")).map_or(GUIDE, |(_, rest)| rest);
    let mut guide = String::new();
    html::push_html(&mut guide, Parser::new_ext(text, Options::ENABLE_TABLES));
    let page = reader.page("Writing a scenario", "/templates");
    reply::page(&app, "pages/templates/grammar.html", &Guide { page, guide: ammonia::clean(&guide) })
}
