//! People, branches, sessions, invitations, progress.

use super::sample::{MORNING, new_person, technician};
use crate::support::database::for_each_database;
use sootmark::domain::{people::Role, units::TemperatureUnit};
use sootmark::store::{
    BranchId, Db, PersonId, StoreError, branches, conflict, invitations,
    people::{self, PeopleFilter},
    progress, sessions,
};

fn conflict_of<T: std::fmt::Debug>(outcome: Result<T, StoreError>) -> String {
    match outcome {
        Err(StoreError::Conflict(name)) => name,
        other => panic!("no conflict: {other:?}"),
    }
}

#[tokio::test]
async fn an_address_is_taken_whatever_its_case() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let twin = new_person(branch, "Another Ines", "INES@Fennmark.example", Role::Trainer);
        assert_eq!(conflict_of(people::insert(&db, twin).await), conflict::EMAIL);
        let nowhere = new_person(BranchId(99), "Ulf Brandt", "ulf@fennmark.example", Role::Trainer);
        assert_eq!(conflict_of(people::insert(&db, nowhere).await), conflict::REFERENCE);
        let found = people::find_by_email_norm(&db, "ines@fennmark.example").await.unwrap().unwrap();
        assert_eq!(found.id, ines);
    })
    .await;
}

#[tokio::test]
async fn a_person_changes() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let before = people::by_id(&db, ines).await.unwrap();
        assert!(!before.has_password && before.active && before.created_at == MORNING);
        people::set_password(&db, ines, "$argon2id$x").await.unwrap();
        people::set_role(&db, ines, Role::ServiceManager).await.unwrap();
        people::set_unit(&db, ines, TemperatureUnit::Fahrenheit).await.unwrap();
        people::set_active(&db, ines, false).await.unwrap();
        people::set_scheme(&db, ines, Some("operator")).await.unwrap();
        let after = people::by_id(&db, ines).await.unwrap();
        assert_eq!(
            (after.role, after.temperature_unit, after.active, after.scheme_key.as_deref(), after.has_password),
            (Role::ServiceManager, TemperatureUnit::Fahrenheit, false, Some("operator"), true)
        );
        assert_eq!(people::find_password_phc(&db, ines).await.unwrap().as_deref(), Some("$argon2id$x"));
        people::set_scheme(&db, ines, None).await.unwrap();
        assert_eq!(people::by_id(&db, ines).await.unwrap().scheme_key, None);
        let nobody = people::set_active(&db, PersonId(999), true).await;
        assert!(matches!(nobody, Err(StoreError::NotFound)));
    })
    .await;
}

#[tokio::test]
async fn people_are_found_by_part_of_a_name_in_any_script() {
    for_each_database(async |db: Db| {
        let (branch, _) = technician(&db).await;
        let other = branches::insert(&db, "Saltmarsh", "Europe/Dublin").await.unwrap();
        for (at, name, email) in [
            (branch, "Örjan Ödmark", "orjan_o@fennmark.example"),
            (other, "Orjana O'Dell", "orjanao@fennmark.example"),
            (other, "Percy 100%", "percy@fennmark.example"),
        ] {
            people::insert(&db, new_person(at, name, email, Role::Trainer)).await.unwrap();
        }
        let names = async |filter: PeopleFilter| {
            let page = people::list(&db, &filter, 1, 50).await.unwrap();
            assert_eq!(page.total as usize, page.people.len());
            page.people.into_iter().map(|(person, _)| person.display_name).collect::<Vec<_>>()
        };
        let search = |text: &str| PeopleFilter { search: Some(text.to_owned()), ..PeopleFilter::default() };
        assert_eq!(names(search("öDM")).await, ["Örjan Ödmark"]);
        // The wildcards of LIKE are only themselves.
        assert_eq!(names(search("orjan_")).await, ["Örjan Ödmark"]);
        assert_eq!(names(search("100%")).await, ["Percy 100%"]);
        assert_eq!(names(search("\\")).await, [""; 0]);
        assert_eq!(names(search("  ")).await.len(), 4);
        assert_eq!(names(PeopleFilter { branch: Some(other), ..search("orjan") }).await, ["Orjana O'Dell"]);
        let technicians = PeopleFilter { role: Some(Role::Technician), ..PeopleFilter::default() };
        assert_eq!(names(technicians).await, ["Ines Varga"]);
        let second = people::list(&db, &PeopleFilter::default(), 2, 3).await.unwrap();
        assert_eq!((second.total, second.people.len()), (4, 1));
        assert_eq!(second.people[0].1, "Coldbrook");
    })
    .await;
}

#[tokio::test]
async fn a_session_ends_and_stays_ended() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let hour = |hours: i64| MORNING.plus_seconds(hours * 3600);
        for token in ["a", "b"] {
            let session = sessions::Session {
                waits_for: sessions::WaitsFor::Nothing,
                device: sessions::Device::Phone,
                token_hash: token.to_owned(),
                person_id: ines,
                form_token: format!("form {token}"),
                created_at: MORNING,
                last_seen_at: MORNING,
                expires_at: hour(12),
            };
            sessions::insert(&db, session).await.unwrap();
        }
        let found = sessions::find(&db, "a", hour(1)).await.unwrap().unwrap();
        assert_eq!((found.person.id, found.branch.id, &*found.session.form_token), (ines, branch, "form a"));
        assert!(sessions::find(&db, "a", hour(12)).await.unwrap().is_none(), "it ends by itself");
        sessions::touch(&db, "a", hour(11), hour(23)).await.unwrap();
        assert!(sessions::find(&db, "a", hour(12)).await.unwrap().is_some(), "it was put off");

        sessions::delete(&db, "a").await.unwrap();
        sessions::touch(&db, "a", hour(11), hour(23)).await.unwrap();
        assert!(sessions::find(&db, "a", hour(1)).await.unwrap().is_none(), "a request under way revives nothing");

        people::set_active(&db, ines, false).await.unwrap();
        assert!(sessions::find(&db, "b", hour(1)).await.unwrap().is_none(), "who may not sign in has no session");
        people::set_active(&db, ines, true).await.unwrap();
        assert_eq!(sessions::sweep(&db, hour(1)).await.unwrap(), 0);
        assert_eq!(sessions::delete_all_for_person(&db, ines).await.unwrap(), 1);
    })
    .await;
}

#[tokio::test]
async fn an_invitation_is_used_once() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let invite = |token: &str| invitations::Invitation {
            token_hash: token.to_owned(),
            person_id: ines,
            created_at: MORNING,
            expires_at: MORNING.plus_seconds(60),
        };
        invitations::insert(&db, invite("a")).await.unwrap();
        invitations::insert(&db, invite("late")).await.unwrap();
        let late = invitations::mark_used(&db, "late", MORNING.plus_seconds(60)).await;
        assert!(matches!(late, Err(StoreError::NotFound)));
        assert_eq!(invitations::find_usable(&db, "a", MORNING).await.unwrap(), Some(invite("a")));
        assert_eq!(invitations::mark_used(&db, "a", MORNING).await.unwrap(), ines);
        assert!(matches!(invitations::mark_used(&db, "a", MORNING).await, Err(StoreError::NotFound)));
        assert_eq!(invitations::find_usable(&db, "a", MORNING).await.unwrap(), None);
        assert_eq!(invitations::delete_unused(&db, ines).await.unwrap(), 1);
    })
    .await;
}

#[tokio::test]
async fn the_first_reading_counts() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        for seconds in [0, 60] {
            progress::mark_read(&db, ines, "fire", "01-hot.md", MORNING.plus_seconds(seconds)).await.unwrap();
        }
        let read = progress::lessons_read(&db, ines).await.unwrap();
        assert_eq!(read.len(), 1);
        assert_eq!(read[0].read_at, MORNING);
    })
    .await;
}
