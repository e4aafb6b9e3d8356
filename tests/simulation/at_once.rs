//! Sixty-four windows that send the same at the same moment: one effect, and everybody is told the same. On both databases.

use crate::support::app::{TestApp, address_of};
use crate::support::database::for_each_database;
use crate::support::sittings::{fields_of, questions_of, read_everything, right};
use futures_util::future::join_all;
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::store::{AttemptId, Db, attempts, people, record};

const SCHEME: &str = "first-day";
const WINDOWS: usize = 64;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sixty_four_times_the_same_click_is_one_click() {
    for_each_database(async |db: Db| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
        let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
        read_everything(&app, technician.expect("the store").expect("a technician").id, SCHEME).await;
        let mut browser = app.signed_in(Role::Technician).await;
        let mut windows = vec![browser.clone(); WINDOWS];

        // Begun by all of them: one sitting, and all are led to it.
        let path = format!("/examine/{SCHEME}");
        let begun = join_all(windows.iter_mut().map(|window| window.post(&path, &[]))).await;
        let first = begun[0].location().to_owned();
        let told: Vec<_> = begun.iter().map(|reply| (reply.status, reply.location())).collect();
        assert!(told.iter().all(|told| *told == (303, first.as_str())), "{told:?}");
        let attempt: AttemptId = first.split('/').nth(3).and_then(|id| id.parse().ok()).expect("a sitting");
        assert_eq!(attempts::all(&app.deeds.db).await.expect("the store").len(), 1);

        // The same answer from all of them.
        let question = questions_of(&app, attempt).await.swap_remove(0);
        let (path, fields) = (format!("/examine/sitting/{attempt}/1"), fields_of(&right(&question)));
        let saved = join_all(windows.iter_mut().map(|window| window.post_all(&path, &fields))).await;
        let told: Vec<_> = saved.iter().map(|reply| (reply.status, reply.location())).collect();
        assert!(saved.iter().all(|reply| reply.seen() == saved[0].seen() && reply.status == 303), "{told:?}");
        let kept = attempts::responses(&app.deeds.db, attempt).await.expect("the store");
        assert_eq!(kept.len(), 1, "one answer");
        let answer = serde_json::from_str::<serde_json::Value>(&kept[0].answer).ok();
        assert_eq!(answer, serde_json::to_value(right(&question)).ok());

        // Handed in by all of them with one key.
        let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
        let key = review.between("name=\"submit_key\" value=\"", "\"").expect("a key").to_owned();
        let (path, fields) = (format!("/examine/sitting/{attempt}/submit"), [("submit_key", key.as_str())]);
        let handed_in = join_all(windows.iter_mut().map(|window| window.post(&path, &fields))).await;
        let same = handed_in.iter().all(|reply| reply.seen() == handed_in[0].seen() && reply.status == 303);
        let told: Vec<_> = handed_in.iter().map(|reply| (reply.status, reply.location())).collect();
        assert!(same, "{told:?}");
        let entries = record::of_subject(&app.deeds.db, "attempt", attempt.0).await.expect("the record");
        let deeds: Vec<_> = entries.iter().map(|entry| entry.deed.as_str()).collect();
        assert_eq!(deeds, ["examination_begun", "examination_graded"]);
        assert_eq!(app.letters().await.len(), 1, "one letter");
        assert_eq!(
            attempts::grades(&app.deeds.db, attempt).await.expect("the store").len(),
            questions_of(&app, attempt).await.len()
        );
        app.stop().await;
    })
    .await;
}
