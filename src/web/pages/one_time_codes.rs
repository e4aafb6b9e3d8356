//! One-time codes: the step after the password, setting them up, and one's own under `/account/one-time-codes`.
//!
//! Never shows recovery codes but in the reply to what made them: nobody finds them by going back.

mod own;
mod set_up;
mod step;

pub use own::{confirm, recovery, remove, show};
pub use set_up::{confirm as confirm_first, show as set_up};
pub(super) use step::with_held;
pub use step::{give, show as step};

use crate::actions::Token;
use crate::actions::set_up_codes::Offer;
use crate::web::error::PageError;
use crate::web::square_code::{SquareCode, square_code};
use crate::web::view::Page;
use crate::web::{App, reply, session};
use actix_web::HttpResponse;
use serde::Serialize;

/// What is said of a code that does not count.
pub(super) const WRONG: &str = "This code does not count. Type the one that the phone shows now; each counts once.";

/// What is said of too many wrong ones.
pub(super) fn wait(seconds: i64) -> String {
    format!("That was wrong several times. Wait {seconds} s, then try again.")
}

/// A key as a page shows it.
#[derive(Serialize)]
struct Shown {
    /// In groups of four.
    key: String,
    code: Option<SquareCode>,
}

impl From<Offer> for Shown {
    fn from(offer: Offer) -> Self {
        let letters: Vec<char> = offer.key.chars().collect();
        let groups: Vec<String> = letters.chunks(4).map(|group| group.iter().collect()).collect();
        Self { key: groups.join(" "), code: square_code(&offer.uri) }
    }
}

#[derive(Serialize)]
struct Recovery {
    page: Page,
    codes: Vec<String>,
    /// Where it goes on.
    next: String,
}

/// The page that shows recovery codes, once; with a session when one begins with it.
fn recovery_page(
    app: &App,
    page: Page,
    codes: Vec<String>,
    next: &str,
    begun: Option<&Token>,
) -> Result<HttpResponse, PageError> {
    let next = if next.is_empty() { "/" } else { next };
    let context = Recovery { page, codes, next: next.to_owned() };
    let mut reply = reply::page(app, "pages/one_time_codes/recovery.html", &context)?;
    if let Some(token) = begun {
        super::sign_in::set(&mut reply, session::begun(token, &app.settings))?;
    }
    Ok(reply)
}
