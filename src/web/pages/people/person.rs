//! One person: what they are here, a new link for them, and what an administrator may change.

use super::{Choice, role_choices, state};
use crate::actions::change_person::{PersonChange, Standing, change_person};
use crate::actions::invite_again::{InvitedAgain, invite_again as send_link};
use crate::actions::set_extra_time::Setter;
use crate::domain::people::{Permission, Role};
use crate::store::people::Person;
use crate::store::{BranchId, PersonId, branches, one_time_codes, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/people/person.html";

#[derive(Serialize)]
struct PersonPage {
    page: Page,
    id: i64,
    name: String,
    email: String,
    branch_name: String,
    role_name: &'static str,
    state: &'static str,
    since: i64,
    zone: String,
    may_invite: bool,
    may_change: bool,
    /// Where it is set how much more time the person gets, for whom may.
    time: Option<String>,
    roles: Vec<Choice>,
    branches: Vec<Choice>,
    role: String,
    branch: String,
    active: &'static str,
    /// Whether this reader may take one-time codes away that the person has.
    codes: bool,
    /// The reason for it, as typed.
    codes_reason: String,
    /// Who may be named as the trainer; nobody when this reader names none.
    trainers: Vec<Choice>,
    trainer: String,
}

/// The person.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn show(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    id: web::Path<i64>,
) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, PersonId(id.into_inner())).await?;
    let mut context = described(&app, &reader, person, Vec::new()).await?;
    context.page.notice = match Fields::from_text(request.query_string())?.typed("done") {
        "again" => Some("A new link is on its way. Earlier links no longer work.".to_owned()),
        "changed" => Some("Saved.".to_owned()),
        "codes" => Some("The one-time codes are taken away, and the person is signed out everywhere.".to_owned()),
        _ => None,
    };
    reply::page(&app, TEMPLATE, &context)
}

/// Sends the person a new link to choose a password.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn invite_again(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
) -> Result<HttpResponse, PageError> {
    let id = id.into_inner();
    match send_link(&app.deeds, reader.person, PersonId(id)).await? {
        InvitedAgain::Sent => Ok(reply::see_other(&format!("/people/{id}?done=again"))),
        InvitedAgain::NoSuchPerson => Err(PageError::NotFound),
    }
}

/// Changes role, branch and whether the person may sign in.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn change(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let id = PersonId(id.into_inner());
    let mut read = Reader::new(&fields);
    let role = read.line("role", |typed| Role::from_id(typed).ok_or("Choose a role."));
    let branch = read.line("branch", |typed| typed.parse::<BranchId>().map_err(|_| "Choose a branch."));
    let active = read.line("active", |typed| match typed {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err("Choose whether the person may sign in."),
    });
    if let (Some(role), Some(branch), Some(active)) = (role, branch, active) {
        match change_person(&app.deeds, reader.person, id, Standing { role, branch, active }).await? {
            PersonChange::Changed => return Ok(reply::see_other(&format!("/people/{id}?done=changed"))),
            PersonChange::NoSuchPerson => return Err(PageError::NotFound),
            PersonChange::NoSuchBranch => read.wrong("branch", "Choose a branch."),
            PersonChange::OwnStanding => {
                read.wrong("role", "Your own role, and whether you may sign in, is changed by another administrator.");
            }
        }
    }
    let person = people::by_id(&app.deeds.db, id).await?;
    let mut context = described(&app, &reader, person, read.into_errors()).await?;
    context.role = fields.typed("role").to_owned();
    context.branch = fields.typed("branch").to_owned();
    context.active = if fields.typed("active") == "no" { "no" } else { "yes" };
    reply::form_again(&app, TEMPLATE, &context)
}

/// The person once more, with what is wrong.
pub(super) async fn again(
    app: &App,
    reader: &SignedIn,
    id: PersonId,
    errors: Vec<FieldError>,
) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, id).await?;
    reply::form_again(app, TEMPLATE, &described(app, reader, person, errors).await?)
}

/// The same, with a reason that was typed.
pub(super) async fn again_with(
    app: &App,
    reader: &SignedIn,
    id: PersonId,
    errors: Vec<FieldError>,
    codes_reason: String,
) -> Result<HttpResponse, PageError> {
    let person = people::by_id(&app.deeds.db, id).await?;
    let context = PersonPage { codes_reason, ..described(app, reader, person, errors).await? };
    reply::form_again(app, TEMPLATE, &context)
}

async fn described(
    app: &App,
    reader: &SignedIn,
    person: Person,
    errors: Vec<FieldError>,
) -> Result<PersonPage, PageError> {
    let all = branches::list(&app.deeds.db).await?;
    let branch_name = all.iter().find(|branch| branch.id == person.branch_id).map(|branch| branch.name.clone());
    let names = reader.may(Permission::NameTrainers) && matches!(person.role, Role::Technician | Role::Trainer);
    let (trainers, trainer) =
        if names { super::trainer::choices(app, person.id).await? } else { (Vec::new(), String::new()) };
    let choice = |branch: branches::Branch| Choice { value: branch.id.to_string(), text: branch.name };
    let setter = Setter { person: reader.person, role: reader.role, branch: reader.branch };
    let may_set_time = setter.may_for(person.branch_id);
    let mut page = reader.page(&person.display_name, "/people");
    page.errors = errors;
    Ok(PersonPage {
        page,
        id: person.id.0,
        state: state(&person),
        branch_name: branch_name.unwrap_or_default(),
        role_name: person.role.name(),
        since: person.created_at.0,
        zone: reader.time_zone.clone(),
        may_invite: reader.may(Permission::InvitePeople) && person.active,
        codes: reader.may(Permission::ChangePeople)
            && person.id != reader.person
            && one_time_codes::has_confirmed(&app.deeds.db, person.id).await?,
        codes_reason: String::new(),
        time: may_set_time.then(|| format!("/people/{}/time", person.id)),
        may_change: reader.may(Permission::ChangePeople),
        roles: role_choices(reader.role).collect(),
        branches: all.into_iter().map(choice).collect(),
        role: person.role.id().to_owned(),
        branch: person.branch_id.to_string(),
        active: if person.active { "yes" } else { "no" },
        trainers,
        trainer,
        name: person.display_name,
        email: person.email,
    })
}
