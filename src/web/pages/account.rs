//! `/account`: one's own password and units.

use super::sign_in::set;
use crate::actions::change_password::{PasswordChange, change_password};
use crate::actions::choose_units::choose_units;
use crate::domain::people::Permission;
use crate::domain::units::TemperatureUnit;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply, session};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/account/account.html";

#[derive(Serialize)]
struct Account {
    page: Page,
    email: String,
    branch: String,
    unit: TemperatureUnit,
    /// Whether this reader makes keys for other programs.
    keys: bool,
}

fn account(reader: SignedIn, notice: Option<&str>, errors: Vec<FieldError>) -> Account {
    let mut page = reader.page("Your account", "/account");
    page.notice = notice.map(str::to_owned);
    page.errors = errors;
    let keys = reader.may(Permission::ManageAccessKeys);
    Account { page, keys, email: reader.email, branch: reader.branch_name, unit: reader.temperature_unit }
}

/// The page with both forms.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let notice = match Fields::from_text(request.query_string())?.typed("saved") {
        "password" => Some("Your password is changed. Everywhere else you are signed out."),
        "units" => Some("Saved: this is how you read temperatures from now on."),
        _ => None,
    };
    reply::page(&app, TEMPLATE, &account(reader, notice, Vec::new()))
}

/// Changes the password.
///
/// # Errors
/// The program cannot do it now.
pub async fn password(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let (old, new) = (fields.typed("old_password"), fields.typed("password"));
    let mut read = Reader::new(&fields);
    if new != fields.typed("again") {
        read.wrong("again", "The two new passwords are not the same. Type the new one twice.");
    } else {
        match change_password(&app.deeds, reader.person, old, new).await? {
            PasswordChange::Changed(token) => {
                let mut reply = reply::see_other("/account?saved=password");
                set(&mut reply, session::begun(&token, &app.settings))?;
                return Ok(reply);
            }
            PasswordChange::WrongOld => read.wrong("old_password", "This is not your password of until now."),
            PasswordChange::Wait { seconds } => {
                read.wrong("old_password", format!("That was wrong several times. Wait {seconds} s, then try again."));
            }
            PasswordChange::Unfit(problem) => read.wrong("password", problem),
        }
    }
    reply::form_again(&app, TEMPLATE, &account(reader, None, read.into_errors()))
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
        return reply::form_again(&app, TEMPLATE, &account(reader, None, read.into_errors()));
    };
    choose_units(&app.deeds, reader.person, unit).await?;
    Ok(reply::see_other("/account?saved=units"))
}
