//! `/assets`: stylesheets, scripts, fonts and signs out of the program itself.

use crate::web::error::PageError;
use crate::web::view::assets;
use actix_web::{HttpResponse, web};

/// One file. Its address changes with its content, so a browser may keep it for good.
///
/// # Errors
/// Not found.
pub async fn file(path: web::Path<(String, String)>) -> Result<HttpResponse, PageError> {
    let (hash, name) = path.into_inner();
    let (content, media_type) = assets::find(&hash, &name).ok_or(PageError::NotFound)?;
    let reply = HttpResponse::Ok()
        .insert_header(("cache-control", assets::CACHE_CONTROL))
        .content_type(media_type)
        .body(content);
    Ok(reply)
}
