//! Branches: who is there in numbers, adding one, giving one another name or time zone.

use crate::support::app::{TestApp, address_of};
use crate::support::database::for_each_database;
use futures_util::future::join_all;
use sootmark::actions::add_branch::{BranchKept, add_branch};
use sootmark::actions::change_branch::change_branch;
use sootmark::config::Settings;
use sootmark::domain::people::{BranchName, Role};
use sootmark::store::{BranchId, branches, people, record};

fn named(name: &str) -> BranchName {
    BranchName::parse(name).expect("a name")
}

#[tokio::test]
async fn the_list_says_who_is_where_in_numbers() {
    let app = TestApp::start().await;
    app.person("Second technician", "second@example.org", Role::Technician).await;
    let leaver = app.person("Test leaver", "leaver@example.org", Role::Technician).await;
    app.suspend(leaver).await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let list = administrator.get("/branches").await;
    assert_eq!(list.status, 200);
    let heads = "Name Time zone technician trainer service manager administrator suspended People";
    assert!(list.text().contains(heads), "{}", list.text());
    assert!(list.text().contains("Coldbrook UTC 2 1 1 1 1 Show"), "{}", list.text());
    assert!(list.body.contains(&format!("href=\"/people?branch={}\"", app.branch)));
    assert!(list.body.contains("<a href=\"/branches\" aria-current=\"page\">Branches</a>"));
    app.stop().await;
}

#[tokio::test]
async fn a_branch_is_added_and_people_can_be_brought_in_there() {
    let app = TestApp::start().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let added = administrator.post("/branches", &[("name", "  Upper   Tarn "), ("time_zone", "europe/dublin")]).await;
    assert_eq!((added.status, added.location()), (303, "/branches?done=added"), "{}", added.text());
    let list = administrator.get("/branches?done=added").await.text();
    assert!(list.contains("The branch is there.") && list.contains("Upper Tarn Europe/Dublin 0 0 0 0 0"), "{list}");
    let roster = "name,email,branch,role\nAda,ada@example.org,upper tarn,technician\n";
    assert_eq!(administrator.post("/people/import", &[("roster", roster)]).await.status, 303);
    let list = administrator.get("/branches").await.text();
    assert!(list.contains("Upper Tarn Europe/Dublin 1 0 0 0 0"), "{list}");
    app.stop().await;
}

#[tokio::test]
async fn what_cannot_stand_is_named_beside_its_field_and_stays_as_typed() {
    let app = TestApp::start().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let one = format!("/branches/{}", app.branch);
    for (name, zone, field, words) in [
        ("", "UTC", "name", "Write the branch's name"),
        ("a\u{200B}b", "UTC", "name", "Write the branch's name"),
        ("Saltmarsh", "Nowhere/Land", "time_zone", "There is no such time zone."),
        ("Saltmarsh", "", "time_zone", "There is no such time zone."),
        ("Saltmarsh", "UTC\u{0}", "time_zone", "hidden character"),
    ] {
        for path in ["/branches", one.as_str()] {
            let again = administrator.post(path, &[("name", name), ("time_zone", zone)]).await;
            assert_eq!(again.status, 422, "{name} {zone} at {path}");
            assert!(again.text().contains(words), "{words} in {}", again.text());
            assert!(again.body.contains(&format!("href=\"#{field}\"")) && again.body.contains("<title>Error: "));
            assert!(name.is_empty() || again.body.contains(&format!("value=\"{name}\"")), "{}", again.body);
        }
    }
    let taken = administrator.post("/branches", &[("name", "COLDBROOK"), ("time_zone", "UTC")]).await;
    assert!(taken.status == 422 && taken.text().contains("There is a branch of this name already."));
    assert_eq!(branches::list(&app.deeds.db).await.expect("the store").len(), 1);
    app.stop().await;
}

#[tokio::test]
async fn a_branch_gets_another_name_and_its_people_read_its_time() {
    let app = TestApp::start().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let path = format!("/branches/{}", app.branch);
    let form = administrator.get(&path).await;
    assert!(form.body.contains("value=\"Coldbrook\"") && form.body.contains("value=\"UTC\""), "{}", form.body);
    let fields = [("name", "Coldbrook Yard"), ("time_zone", "Europe/Berlin")];
    for _ in 0..2 {
        let changed = administrator.post(&path, &fields).await;
        assert_eq!((changed.status, changed.location()), (303, "/branches?done=changed"), "{}", changed.text());
    }
    let list = administrator.get("/branches?done=changed").await.text();
    assert!(list.contains("Saved.") && list.contains("Coldbrook Yard Europe/Berlin 1 1 1 1 0"), "{list}");
    let home = app.signed_in(Role::Technician).await.get("/").await.text();
    assert!(home.contains("Coldbrook Yard"), "{home}");
    // Its own name in other capitals is no other branch's.
    let own = administrator.post(&path, &[("name", "COLDBROOK YARD"), ("time_zone", "UTC")]).await;
    assert_eq!(own.status, 303, "{}", own.text());

    let entries = record::of_subject(&app.deeds.db, "branch", app.branch.0).await.expect("the record");
    let deeds: Vec<_> = entries.iter().map(|entry| entry.deed.as_str()).collect();
    assert_eq!(deeds, ["branch_changed"; 2], "nothing is entered when nothing was different");
    let by = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Administrator)).await.expect("the store");
    assert_eq!(entries[0].actor_id, by.map(|by| by.id));
    for nowhere in ["/branches/999", "/branches/x", "/branches/-1"] {
        assert_eq!(administrator.get(nowhere).await.status, 404, "{nowhere}");
        assert_eq!(administrator.post(nowhere, &fields).await.status, 404, "{nowhere}");
    }
    app.stop().await;
}

#[tokio::test]
async fn a_name_is_given_once_on_both_databases() {
    for_each_database(async |db| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        let by = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Administrator)).await;
        let by = by.expect("the store").expect("the administrator").id;
        let name = named("Saltmarsh");
        let all = join_all((0..10).map(|_| add_branch(&app.deeds, by, &name, "UTC"))).await;
        let kept: Vec<BranchId> = all
            .iter()
            .filter_map(|outcome| if let Ok(BranchKept::Kept(id)) = outcome { Some(*id) } else { None })
            .collect();
        // The same words ten times are one branch; with another zone they are not the same.
        assert!(kept.len() == 10 && kept.iter().all(|id| *id == kept[0]), "{all:?}");
        let other = add_branch(&app.deeds, by, &name, "Europe/Dublin").await.expect("the store");
        assert_eq!(other, BranchKept::NameTaken);
        let clash = change_branch(&app.deeds, by, app.branch, &named("saltmarsh"), "UTC").await.expect("the store");
        assert_eq!(clash, BranchKept::NameTaken);
        let moved = change_branch(&app.deeds, by, kept[0], &named("Salt Marsh"), "UTC").await.expect("the store");
        assert_eq!(moved, BranchKept::Kept(kept[0]));
        let names: Vec<_> =
            branches::list(&app.deeds.db).await.expect("the store").into_iter().map(|b| b.name).collect();
        assert_eq!(names, ["Coldbrook", "Salt Marsh"]);
        assert!(matches!(record::verify(&app.deeds.db).await, Ok(record::Verification::Whole { entries: 2, .. })));
        app.stop().await;
    })
    .await;
}
