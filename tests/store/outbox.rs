//! The outbox: each mail to one sender, none lost.

use super::sample::MORNING;
use crate::support::database::for_each_database;
use sootmark::store::{
    Db, StoreError,
    outbox::{self, ClaimedMail, NewMail},
    write,
};
use std::collections::BTreeSet;

fn mail(number: i32) -> NewMail {
    NewMail {
        to_address: format!("person{number}@fennmark.example"),
        to_name: format!("Person {number}"),
        subject: "You are invited".to_owned(),
        text_body: "Welcome.".to_owned(),
        html_body: "<p>Welcome.</p>".to_owned(),
        deed: "invitation".to_owned(),
        created_at: MORNING,
    }
}

async fn claim(db: &Db, seconds: i64, limit: u64) -> Vec<ClaimedMail> {
    let now = MORNING.plus_seconds(seconds);
    write(db, async |tx| outbox::claim_due(tx, now, 60, limit).await).await.unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn each_mail_goes_to_one_sender() {
    for_each_database(async |db: Db| {
        for number in 0..40 {
            outbox::enqueue(&db, mail(number)).await.unwrap();
        }
        let senders: Vec<_> = (0..8)
            .map(|_| {
                let db = db.clone();
                tokio::spawn(async move {
                    let mut mine = Vec::new();
                    loop {
                        let claimed = claim(&db, 1, 3).await;
                        if claimed.is_empty() {
                            return mine;
                        }
                        mine.extend(claimed.into_iter().map(|claimed| claimed.id));
                    }
                })
            })
            .collect();
        let mut claimed = Vec::new();
        for sender in senders {
            claimed.extend(sender.await.unwrap());
        }
        assert_eq!(claimed.len(), 40);
        assert_eq!(claimed.into_iter().collect::<BTreeSet<_>>().len(), 40);
    })
    .await;
}

#[tokio::test]
async fn a_mail_whose_sender_died_is_claimed_again() {
    for_each_database(async |db: Db| {
        outbox::enqueue(&db, mail(1)).await.unwrap();
        assert_eq!(claim(&db, 0, 5).await.len(), 1);
        assert!(claim(&db, 59, 5).await.is_empty(), "it is held");
        let again = claim(&db, 60, 5).await;
        assert_eq!((again.len(), again[0].tries, &again[0].mail), (1, 2, &mail(1)));
        outbox::mark_sent(&db, again[0].id, MORNING).await.unwrap();
        assert!(claim(&db, 9999, 5).await.is_empty());
        assert_eq!(outbox::waiting(&db).await.unwrap(), 0);
    })
    .await;
}

#[tokio::test]
async fn a_mail_that_fails_waits_longer_each_time() {
    for_each_database(async |db: Db| {
        let id = outbox::enqueue(&db, mail(1)).await.unwrap();
        let mut now = 0;
        for wait in [30, 60, 120, 240] {
            assert_eq!(claim(&db, now, 5).await.len(), 1, "due after {now} s");
            let due = write(&db, async |tx| {
                outbox::mark_failed(tx, id, "no route to the mail server", MORNING.plus_seconds(now)).await
            });
            assert_eq!(due.await.unwrap(), MORNING.plus_seconds(now + wait));
            assert!(claim(&db, now + wait - 1, 5).await.is_empty(), "not due before {wait} s");
            now += wait;
        }
        assert_eq!(outbox::waiting(&db).await.unwrap(), 1);
    })
    .await;
}

#[tokio::test]
async fn a_mail_of_a_deed_that_failed_is_not_sent() {
    for_each_database(async |db: Db| {
        let failed: Result<(), StoreError> = write(&db, async |tx| {
            outbox::enqueue(tx, mail(1)).await?;
            Err(StoreError::NotFound)
        })
        .await;
        assert!(failed.is_err());
        assert!(claim(&db, 1, 5).await.is_empty());
    })
    .await;
}
