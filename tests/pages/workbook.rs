//! The list as a workbook, read back by a general library; what lapses soon; branches compared.

use crate::support::app::TestApp;
use crate::support::sittings::certify;
use calamine::{Data, Reader as _, Xlsx};
use sootmark::domain::people::Role;
use sootmark::store::record;
use std::io::Cursor;

const DAY: i64 = 86_400;

#[tokio::test]
async fn the_workbook_reads_back_typed_and_runs_nothing() {
    let app = TestApp::start_with_bank().await;
    let evil = "=HYPERLINK(\"http://example.org\",\"Ada\")";
    let person = app.person_towards(evil, "evil@example.org", "first-day").await;
    certify(&app, person, "first-day").await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let reply = reader.get("/qualified.xlsx?search=evil").await;
    let (status, bytes) = (reply.status, reply.bytes);
    assert_eq!(status, 200);
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(bytes)).expect("a workbook");
    assert_eq!(book.sheet_names(), ["Qualified", "Proof"]);
    let formulas = book.worksheet_formula("Qualified").expect("the sheet");
    assert!(formulas.used_cells().all(|(_, _, formula)| formula.is_empty()), "no formula in it");
    let sheet = book.worksheet_range("Qualified").expect("the sheet");
    let rows: Vec<&[Data]> = sheet.rows().collect();
    assert_eq!(rows.len(), 1 + 4, "a heading, and a row for each competence of the scheme");
    assert_eq!(rows[0][0], Data::String("person".to_owned()));
    let lamps = rows.iter().find(|row| row[3] == Data::String("Lamps".to_owned())).expect("lamps");
    assert_eq!(lamps[0], Data::String(format!("'{evil}")));
    assert_eq!(lamps[4], Data::String("qualified".to_owned()));
    let Data::DateTime(from) = &lamps[5] else { panic!("{:?}", lamps[5]) };
    // Source: ECMA-376, part 1, 18.17.4: days since 1899-12-30. 24 Nov 2026 is day 46 350, and 08:00 a third of one more.
    assert!((from.as_f64() - (46_350.0 + 1.0 / 3.0)).abs() < 1e-6, "{from:?}");
    assert_eq!(lamps[9], Data::Float(1.0), "the scheme's version is a number");
    let whole = record::verify(&app.deeds.db).await.expect("the record");
    let record::Verification::Whole { entries, last_hash } = whole else { panic!("{whole:?}") };
    assert_eq!(lamps[11], Data::String(last_hash.clone()));
    let proof = book.worksheet_range("Proof").expect("the sheet");
    #[expect(clippy::cast_precision_loss, reason = "a handful")]
    let count = Data::Float(entries as f64);
    assert_eq!(proof.get_value((0, 1)), Some(&count));
    assert_eq!(proof.get_value((1, 1)), Some(&Data::String(last_hash)));
    app.stop().await;
}

#[tokio::test]
async fn what_lapses_is_listed_by_its_day_within_thirty_sixty_and_ninety() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    app.clock.advance(30 * DAY);
    let tomas = app.person_towards("Tomas Reyk", "tomas@example.org", "first-day").await;
    certify(&app, tomas, "first-day").await;
    // 24 Nov 2029 ends hers, 24 Dec 2029 his: 40 days before hers.
    app.clock.advance((365 * 3 + 1 - 30 - 40) * DAY);
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let page = reader.get("/qualified/lapsing?days=30").await.text();
    assert!(page.contains("0 in 30 days, 1 in 60 days, 2 in 90 days") && page.contains("Nothing lapses"), "{page}");
    let page = reader.get("/qualified/lapsing").await.text();
    assert!(page.contains("Ines Varga") && !page.contains("Tomas Reyk") && page.contains("in 40 days"), "{page}");
    let page = reader.get("/qualified/lapsing?days=90").await.text();
    assert!(page.find("Ines Varga") < page.find("Tomas Reyk") && page.contains("in 70 days"), "{page}");
    let page = reader.get("/qualified/lapsing?days=90&branch=99").await.text();
    assert!(page.contains("No rows"), "{page}");
    app.stop().await;
}

#[tokio::test]
async fn branches_are_compared_with_intervals_and_without_ranks() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let page = reader.get("/qualified/branches?competence=fire").await;
    assert_eq!(page.body.matches("<svg class=\"drawing plot shares\"").count(), 1);
    // Source: E. B. Wilson 1927: 1 of 3 gives 6.15 to 79.23 % (worked by hand from the formula).
    let words = "Coldbrook: 1 of 3, too few to compare (6 to 80 %)";
    assert!(page.body.contains(words), "{}", page.text());
    assert!(
        page.body.contains("aria-label=\"Fire and burns: who may be sent, by branch. Coldbrook"),
        "for who cannot see it"
    );
    assert!(!page.body.contains("<rect class=\"point\""), "no mark for three people");
    app.stop().await;
}
