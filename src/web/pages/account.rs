//! `/account`: one's own password, units and letters.

use super::sign_in::set;
use crate::actions::change_password::{PasswordChange, change_password};
use crate::actions::choose_units::choose_units;
use crate::actions::letter_choices::{choose_letters, offered_to};
use crate::domain::letters::Kind;
use crate::domain::people::Permission;
use crate::domain::units::TemperatureUnit;
use crate::store::letter_choices;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, address, reply, session};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/account/account.html";

#[derive(Serialize)]
struct Letters {
    kind: Kind,
    label: &'static str,
    wanted: bool,
}

#[derive(Serialize)]
struct Account {
    page: Page,
    email: String,
    branch: String,
    unit: TemperatureUnit,
    /// The letters between which this reader may choose.
    letters: Vec<Letters>,
    /// Whether this reader makes keys for other programs.
    keys: bool,
}

async fn account(
    app: &App,
    reader: SignedIn,
    notice: Option<&str>,
    errors: Vec<FieldError>,
) -> Result<Account, PageError> {
    let refused = letter_choices::refused_by(&app.deeds.db, reader.person).await?;
    let choice = |kind: Kind| Letters { kind, label: label(kind), wanted: !refused.contains_key(&kind) };
    let letters = offered_to(reader.role).into_iter().map(choice).collect();
    let mut page = reader.page("Your account", "/account");
    page.notice = notice.map(str::to_owned);
    page.errors = errors;
    let keys = reader.may(Permission::ManageAccessKeys);
    let unit = reader.temperature_unit;
    Ok(Account { page, letters, keys, email: reader.email, branch: reader.branch_name, unit })
}

/// What a choice says.
const fn label(kind: Kind) -> &'static str {
    match kind {
        Kind::Expiry => "Before a certificate of mine ends: 60, 30 and 7 days ahead",
        Kind::Reminder => "Reminders of what waits for me",
        Kind::Digest => "The week at my branch: what lapses, waits or is overdue, on Mondays",
        Kind::Invitation | Kind::Password | Kind::Result | Kind::Decision | Kind::Assignment => kind.name(),
    }
}

/// Keeps which letters the reader wants.
///
/// # Errors
/// The program cannot do it now.
pub async fn letters(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let wanted = offered_to(reader.role).into_iter().filter(|kind| fields.typed(kind.id()) == "yes").collect();
    choose_letters(&app.deeds, reader.person, reader.role, &wanted).await?;
    Ok(reply::see_other("/account?saved=letters"))
}

/// The page with both forms.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let notice = match Fields::from_text(request.query_string())?.typed("saved") {
        "password" => Some("Your password is changed. Everywhere else you are signed out."),
        "units" => Some("Saved: this is how you read temperatures from now on."),
        "letters" => Some("Saved: these letters you get from now on."),
        _ => None,
    };
    reply::page(&app, TEMPLATE, &account(&app, reader, notice, Vec::new()).await?)
}

/// Changes the password.
///
/// # Errors
/// The program cannot do it now.
pub async fn password(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let (old, new) = (fields.typed("old_password"), fields.typed("password"));
    let mut read = Reader::new(&fields);
    if new != fields.typed("again") {
        read.wrong("again", "The two new passwords are not the same. Type the new one twice.");
    } else {
        let device = address::device(&request);
        match change_password(&app.deeds, reader.person, (old, new), &reader.session, device).await? {
            PasswordChange::Changed(token) => {
                let mut reply = reply::see_other("/account?saved=password");
                set(&mut reply, session::begun(&token, &app.settings))?;
                return Ok(reply);
            }
            PasswordChange::Meanwhile => return Err(PageError::SignedOut(None)),
            PasswordChange::WrongOld => read.wrong("old_password", "This is not your password of until now."),
            PasswordChange::Wait { seconds } => {
                read.wrong("old_password", format!("That was wrong several times. Wait {seconds} s, then try again."));
            }
            PasswordChange::Unfit(problem) => read.wrong("password", problem),
        }
    }
    reply::form_again(&app, TEMPLATE, &account(&app, reader, None, read.into_errors()).await?)
}

/// Changes the scale for temperatures.
///
/// # Errors
/// The program cannot do it now.
pub async fn units(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let mut read = Reader::new(&fields);
    let unit = read.line("unit", |typed| match typed {
        "celsius" => Ok(TemperatureUnit::Celsius),
        "fahrenheit" => Ok(TemperatureUnit::Fahrenheit),
        _ => Err("Choose one of the two."),
    });
    let Some(unit) = unit else {
        return reply::form_again(&app, TEMPLATE, &account(&app, reader, None, read.into_errors()).await?);
    };
    choose_units(&app.deeds, reader.person, unit).await?;
    Ok(reply::see_other("/account?saved=units"))
}
