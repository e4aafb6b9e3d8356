//! The session's cookie: what it is called, how it is set and taken back; and a second one, by which a browser is known
//! that somebody has signed in with.
//!
//! The cookie holds a random token and nothing else; what it stands for is in the store, under the token's hash. A
//! stolen database therefore opens no session, and a session ends when its row is gone.

use crate::actions::{KNOWN_FOR_S, Token};
use crate::config::Settings;
use actix_web::HttpRequest;
use actix_web::cookie::time::Duration;
use actix_web::cookie::{Cookie, SameSite};

/// The cookie's name: the `__Host-` prefix makes browsers insist on https, this host and the path `/`.
const fn name(settings: &Settings) -> &'static str {
    if settings.secure_cookies { "__Host-sootmark" } else { "sootmark" }
}

/// The token that a request brings, if it brings one.
pub(crate) fn brought(request: &HttpRequest, settings: &Settings) -> Option<Token> {
    request.cookie(name(settings)).and_then(|cookie| Token::from_text(cookie.value()))
}

/// The cookie for a session that has just begun. Without an age: it goes with the browser, and the store ends it after
/// twelve idle hours.
pub(crate) fn begun(token: &Token, settings: &Settings) -> Cookie<'static> {
    with_value(token.as_str().to_owned(), settings)
}

/// The token by which a browser is known, if it is. It opens nothing: what others type elsewhere does not count for it.
pub(crate) fn browser(request: &HttpRequest, settings: &Settings) -> Option<Token> {
    request.cookie(name_of_browser(settings)).and_then(|cookie| Token::from_text(cookie.value()))
}

/// The cookie by which a browser is known from now on. It stays when somebody signs out, as long as the program knows it.
pub(crate) fn known(browser: &Token, settings: &Settings) -> Cookie<'static> {
    let mut cookie = with(name_of_browser(settings), browser.as_str().to_owned(), settings);
    cookie.set_max_age(Duration::seconds(KNOWN_FOR_S));
    cookie
}

const fn name_of_browser(settings: &Settings) -> &'static str {
    if settings.secure_cookies { "__Host-sootmark-browser" } else { "sootmark-browser" }
}

/// The cookie that makes a browser forget the session.
pub(crate) fn ended(settings: &Settings) -> Cookie<'static> {
    let mut cookie = with_value(String::new(), settings);
    cookie.make_removal();
    cookie
}

fn with_value(value: String, settings: &Settings) -> Cookie<'static> {
    with(name(settings), value, settings)
}

fn with(name: &'static str, value: String, settings: &Settings) -> Cookie<'static> {
    Cookie::build(name, value)
        .path("/")
        .http_only(true)
        .secure(settings.secure_cookies)
        .same_site(SameSite::Lax)
        .finish()
}
