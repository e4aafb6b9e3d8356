//! `/invitation`: choosing a password with the link from a letter.

use super::sign_in::{known_browser, set};
use crate::actions::Token;
use crate::actions::accept_invitation::{Acceptance, accept_invitation, invited};
use crate::actions::refused_invitation::note_refused_invitation;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::view::Page;
use crate::web::{App, address, halfway, reply, session};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TITLE: &str = "Choose your password";

#[derive(Serialize)]
struct InvitationPage<'a> {
    page: Page,
    token: &'a str,
    email: String,
    name: String,
}

/// The form, or a page that says that the link is no longer good.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, token: web::Path<String>) -> Result<HttpResponse, PageError> {
    form(&app, &token, Reader::new(&Fields::default())).await
}

/// Keeps the password and signs in.
///
/// # Errors
/// The program cannot do it now.
pub async fn submit(app: web::Data<App>, request: HttpRequest, fields: Fields) -> Result<HttpResponse, PageError> {
    let mut read = Reader::new(&fields);
    let typed = fields.typed("token");
    let Some(token) = Token::from_text(typed) else { return not_valid(&app, None).await };
    let password = fields.typed("password");
    if password != fields.typed("again") {
        read.wrong("again", "The two passwords are not the same. Type the new one twice.");
        return form(&app, typed, read).await;
    }
    match accept_invitation(&app.deeds, &token, password, address::device(&request)).await? {
        Acceptance::Begun(session, waits_for) => {
            let mut reply = reply::see_other(&halfway::step(waits_for, ""));
            set(&mut reply, session::begun(&session, &app.settings))?;
            set(&mut reply, known_browser(&app, &request, &session).await?)?;
            Ok(reply)
        }
        Acceptance::NotValid => not_valid(&app, Some(&token)).await,
        Acceptance::Unfit(problem) => {
            read.wrong("password", problem);
            form(&app, typed, read).await
        }
    }
}

async fn form(app: &App, token: &str, read: Reader<'_>) -> Result<HttpResponse, PageError> {
    let known = Token::from_text(token);
    let person = match &known {
        Some(token) => invited(&app.deeds, token).await?,
        None => None,
    };
    let Some(person) = person else { return not_valid(app, known.as_ref()).await };
    let page = Page { title: TITLE.to_owned(), errors: read.into_errors(), ..Page::default() };
    let wrong = !page.errors.is_empty();
    let context = InvitationPage { page, token, email: person.email, name: person.display_name };
    let template = "pages/account/invitation.html";
    if wrong { reply::form_again(app, template, &context) } else { reply::page(app, template, &context) }
}

async fn not_valid(app: &App, token: Option<&Token>) -> Result<HttpResponse, PageError> {
    if let Some(token) = token {
        note_refused_invitation(&app.deeds, token).await?;
    }
    #[derive(Serialize)]
    struct NotValid {
        page: Page,
    }
    let page = Page { title: "This link is no longer good".to_owned(), ..Page::default() };
    reply::form_again(app, "pages/account/invitation_over.html", &NotValid { page })
}
