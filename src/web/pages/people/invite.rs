//! Inviting one person.

use super::{Choice, choices, role_choices};
use crate::actions::invite_person::{Invited, Invitee, invite_person};
use crate::domain::people::{EmailAddress, PersonName, Role};
use crate::store::BranchId;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/people/invite.html";

#[derive(Serialize)]
struct Invite<'a> {
    page: Page,
    branches: Vec<Choice>,
    roles: Vec<Choice>,
    name: &'a str,
    email: &'a str,
    branch: &'a str,
    role: &'a str,
}

/// The form.
///
/// # Errors
/// The program cannot do it now.
pub async fn form(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let empty = Fields::default();
    let context = filled(&app, &reader, &empty, Vec::new()).await?;
    reply::page(&app, TEMPLATE, &context)
}

/// Adds the person and sends the letter.
///
/// # Errors
/// The program cannot do it now.
pub async fn submit(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let mut read = Reader::new(&fields);
    let name = read.line("name", PersonName::parse);
    let email = read.line("email", EmailAddress::parse);
    let branch = read.line("branch", |typed| typed.parse::<BranchId>().map_err(|_| "Choose a branch."));
    let role = read.line("role", |typed| Role::from_id(typed).ok_or("Choose a role."));
    if let (Some(name), Some(email), Some(branch), Some(role)) = (name, email, branch, role) {
        let invitee = Invitee { name, email, branch, role, scheme_key: None };
        match invite_person(&app.deeds, Some(reader.person), invitee).await? {
            Invited::Sent(_) => return Ok(reply::see_other("/people?done=invited")),
            Invited::AddressTaken => {
                read.wrong("email", "Somebody has this address already. Look in the list of people.")
            }
            Invited::NoSuchBranch => read.wrong("branch", "Choose a branch."),
            Invited::RoleNotYours => {
                read.wrong("role", "Choose a role from the list. An administrator invites the others.")
            }
        }
    }
    let context = filled(&app, &reader, &fields, read.into_errors()).await?;
    reply::form_again(&app, TEMPLATE, &context)
}

async fn filled<'a>(
    app: &App,
    reader: &SignedIn,
    fields: &'a Fields,
    errors: Vec<FieldError>,
) -> Result<Invite<'a>, PageError> {
    let mut page = reader.page("Invite a person", "/people");
    page.errors = errors;
    let branches = choices(app, "Choose a branch").await?;
    let typed = |name| fields.typed(name);
    let (name, email, branch, role) = (typed("name"), typed("email"), typed("branch"), typed("role"));
    let roles = std::iter::once(Choice { value: String::new(), text: "Choose a role".to_owned() });
    let roles = roles.chain(role_choices(reader.role)).collect();
    Ok(Invite { page, branches, roles, name, email, branch, role })
}
