//! What the bank asks about: counted here by the lines of its files, not by the program that reads them.

use crate::support::app::TestApp;
use sootmark::bank_files;
use sootmark::domain::bank::DocumentKind;
use sootmark::domain::people::Role;

/// How many scenarios have these lines in their head.
fn with_lines(lines: &[&str]) -> usize {
    let all = bank_files::embedded();
    let scenarios = all.iter().filter(|document| document.kind == DocumentKind::Template);
    scenarios.filter(|scenario| lines.iter().all(|line| scenario.text.lines().any(|its| its == *line))).count()
}

#[tokio::test]
async fn a_trainer_sees_what_is_asked_and_what_is_left_out() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    assert!(trainer.get("/templates").await.body.contains("href=\"/templates/coverage\""), "the list leads there");
    let page = trainer.get("/templates/coverage").await;
    assert_eq!(page.status, 200);

    let by_level = page.between("Scenarios by level", "Scenarios by kind").expect("a table");
    let row = by_level.split("<tr>").find(|row| row.contains("Fire and burns")).expect("a row");
    assert!(row.contains("mandatory"), "{row}");
    for (level, words) in [(1, "1, knows"), (2, "2, applies"), (3, "3, judges")] {
        let count = with_lines(&["competence: fire", &format!("level: {level}")]);
        let shown = if count == 0 { "<strong>none</strong>".to_owned() } else { count.to_string() };
        assert!(row.contains(&format!("data-name=\"{words}\">{shown}</td>")), "{words} {shown}: {row}");
        let hole = format!("Nothing asks about Fire and burns at level {words}.");
        assert_eq!(page.text().contains(&hole), count == 0, "{hole}");
    }
    let by_kind = page.between("Scenarios by kind", "Scenarios by machine").expect("a table");
    let row = by_kind.split("<tr>").find(|row| row.contains("Lamps")).expect("a row");
    let several = with_lines(&["competence: lamps", "kind: choose several"]);
    assert!(several > 0 && row.contains(&format!("data-name=\"choose several\">{several}</td>")), "{several}: {row}");
    assert!(page.text().contains("Scenarios by band of soot load") && page.text().contains("very high"));
    app.stop().await;
}

#[tokio::test]
async fn nobody_else_sees_it() {
    let app = TestApp::start_with_bank().await;
    for role in [Role::Technician, Role::ServiceManager, Role::Administrator] {
        assert_eq!(app.signed_in(role).await.get("/templates/coverage").await.status, 404, "{role}");
    }
    app.stop().await;
}
