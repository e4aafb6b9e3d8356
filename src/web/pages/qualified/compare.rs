//! `/qualified/branches`: the share of people who may be sent, by competence and branch, with what can be said from so few.
//!
//! Never ranks: branches stand in the order of their names.

use super::filter::{Filter, Lines};
use crate::domain::people::{Permission, allows};
use crate::store::branches;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::plot::shares::{FEW, Share, drawn};
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Figure {
    name: String,
    svg: String,
    words: Vec<String>,
}

#[derive(Serialize)]
struct Compare {
    page: Page,
    competences: Vec<Choice>,
    competence: String,
    figures: Vec<Figure>,
    few: usize,
    now: i64,
    zone: String,
}

/// The comparison, of one competence or of all.
///
/// # Errors
/// The program cannot do it now.
pub async fn compare(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let in_use = app.deeds.bank.now();
    let (bank, now) = (&in_use.bank, app.deeds.clock.now());
    let competence = bank.competence(query.typed("competence")).map(|known| known.id.clone());
    let found = Lines::read(&app, bank, &Filter::default(), now).await?;
    let known = branches::list(&app.deeds.db).await?;
    let mut figures = Vec::new();
    for (at, subject) in found.subjects.iter().enumerate() {
        if competence.as_ref().is_some_and(|wanted| *wanted != subject.key) {
            continue;
        }
        let share = |branch: &branches::Branch| {
            let (mut part, mut whole) = (0, 0);
            for line in found.lines.iter().filter(|line| line.row.branch_id == branch.id) {
                let asked = allows(line.row.role, Permission::SitExaminations) && line.stood[at].standing.is_some();
                whole += usize::from(asked);
                part += usize::from(asked && line.stood[at].may_be_sent());
            }
            Share { label: branch.name.clone(), part, whole }
        };
        let shares: Vec<Share> = known.iter().map(share).collect();
        figures.push(Figure {
            svg: drawn(&format!("{}: who may be sent, by branch", subject.name), &shares),
            words: shares.iter().map(Share::words).collect(),
            name: subject.name.clone(),
        });
    }
    let all = Choice { value: String::new(), text: "All competences".to_owned() };
    let each = bank.competences().iter().map(|known| Choice { value: known.id.clone(), text: known.name.clone() });
    let context = Compare {
        page: reader.page("Branches compared", "/qualified"),
        competences: std::iter::once(all).chain(each).collect(),
        competence: competence.unwrap_or_default(),
        figures,
        few: FEW,
        now: now.0,
        zone: reader.time_zone,
    };
    reply::page(&app, "pages/qualified/compare.html", &context)
}
