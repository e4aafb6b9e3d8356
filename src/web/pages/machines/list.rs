//! The machines, each with its kind, its version, and for trainers whether a newer text waits to be put right.

use crate::actions::ReadBank;
use crate::domain::bank::DocumentKind;
use crate::domain::people::Permission;
use crate::domain::scenario::Machine;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// An entry of `lists.entries`.
#[derive(Serialize)]
struct Entry {
    href: String,
    title: String,
    note: String,
    state: String,
}

#[derive(Serialize)]
struct List {
    page: Page,
    entries: Vec<Entry>,
    may_write: bool,
}

/// The list.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let read = app.deeds.bank.now();
    let may_write = reader.may(Permission::DescribeMachines);
    let entries = read.bank.machines().map(|machine| entry(&read, machine, may_write)).collect();
    let list = List { page: reader.page("Machines", "/machines"), entries, may_write };
    reply::page(&app, "pages/machines/list.html", &list)
}

fn entry(read: &ReadBank, machine: &Machine, may_write: bool) -> Entry {
    let profile = &machine.profile;
    let path = DocumentKind::Machine.path(&profile.id);
    let broken = may_write && read.problems.iter().any(|problem| problem.file.ends_with(&path));
    let state = if broken { ", problems: a newer text is not used" } else { "" };
    Entry {
        href: format!("/machines/{}", profile.id),
        title: profile.name.clone(),
        note: format!("{}, {} filter", profile.kind, profile.filter.coating.name()),
        state: format!("Version {}{state}", machine.version),
    }
}
