//! The outbox: each mail to one sender, none lost.

use super::sample::{MORNING, technician};
use crate::support::database::for_each_database;
use sootmark::domain::letters::Kind;
use sootmark::store::{
    Db, PersonId, StoreError, letter_choices,
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
        kind: Kind::Invitation,
        person: None,
        about: None,
        threshold: 0,
        unsubscribe_link: None,
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
        let id = outbox::enqueue(&db, mail(1)).await.unwrap().unwrap();
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

fn keyed(person: PersonId, about: &str, threshold: i32) -> NewMail {
    NewMail { kind: Kind::Expiry, person: Some(person), about: Some(about.to_owned()), threshold, ..mail(1) }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_letter_is_written_once_however_many_write_it() {
    for_each_database(async |db: Db| {
        let (_, person) = technician(&db).await;
        let writers: Vec<_> = (0..8)
            .map(|_| {
                let db = db.clone();
                tokio::spawn(async move {
                    let again = async |tx: &_| outbox::enqueue(tx, keyed(person, "certificate 1", 30)).await;
                    write::<_, StoreError, _>(&db, again).await.unwrap().is_some()
                })
            })
            .collect();
        let mut written = 0;
        for writer in writers {
            written += usize::from(writer.await.unwrap());
        }
        assert_eq!(written, 1);
        // Another threshold, another thing: other letters. The next write in the same transaction still works.
        let three = write::<_, StoreError, _>(&db, async |tx| {
            let again = outbox::enqueue(tx, keyed(person, "certificate 1", 30)).await?;
            let later = outbox::enqueue(tx, keyed(person, "certificate 1", 7)).await?;
            Ok((
                again.is_some(),
                later.is_some(),
                outbox::enqueue(tx, keyed(person, "certificate 2", 30)).await?.is_some(),
            ))
        });
        assert_eq!(three.await.unwrap(), (false, true, true));
        assert_eq!(outbox::keys(&db, &[Kind::Expiry]).await.unwrap().len(), 3);
        assert!(outbox::keys(&db, &[Kind::Digest]).await.unwrap().is_empty());
        // Sent is written, too.
        for claimed in claim(&db, 0, 9).await {
            outbox::mark_sent(&db, claimed.id, MORNING).await.unwrap();
        }
        assert_eq!(outbox::enqueue(&db, keyed(person, "certificate 1", 30)).await.unwrap(), None);
        // A letter about nothing, such as an invitation, may come again.
        let invitation = NewMail { person: Some(person), ..mail(1) };
        for _ in 0..2 {
            assert!(outbox::enqueue(&db, invitation.clone()).await.unwrap().is_some());
        }
    })
    .await;
}

#[tokio::test]
async fn a_refused_mail_is_tried_a_few_times_and_left() {
    for_each_database(async |db: Db| {
        let id = outbox::enqueue(&db, mail(1)).await.unwrap().unwrap();
        let mut now = 0;
        let refuse = async |now: i64| {
            let at = MORNING.plus_seconds(now);
            write::<_, StoreError, _>(&db, async |tx| outbox::mark_refused(tx, id, "550 nobody here", at).await).await
        };
        for wait in outbox::REFUSED_WAIT_SECONDS {
            assert_eq!(claim(&db, now, 5).await.len(), 1, "due after {now} s");
            assert_eq!(refuse(now).await.unwrap(), Some(MORNING.plus_seconds(now + wait)));
            assert!(claim(&db, now + wait - 1, 5).await.is_empty(), "not due before {wait} s");
            now += wait;
        }
        assert_eq!(claim(&db, now, 5).await.len(), 1);
        assert_eq!(refuse(now).await.unwrap(), None, "left");
        assert!(claim(&db, now + 1_000_000, 5).await.is_empty());
        assert_eq!(outbox::waiting(&db).await.unwrap(), 0);
    })
    .await;
}

#[tokio::test]
async fn choices_are_kept_and_forgotten() {
    for_each_database(async |db: Db| {
        let (_, person) = technician(&db).await;
        assert!(letter_choices::refuse(&db, person, Kind::Digest, MORNING).await.unwrap());
        assert!(!letter_choices::refuse(&db, person, Kind::Digest, MORNING).await.unwrap(), "it was so before");
        assert!(letter_choices::refuse(&db, person, Kind::Expiry, MORNING).await.unwrap());
        assert!(letter_choices::refuse(&db, person, Kind::Decision, MORNING).await.is_err(), "always reaches people");
        assert!(letter_choices::want(&db, person, Kind::Expiry).await.unwrap());
        assert!(!letter_choices::want(&db, person, Kind::Expiry).await.unwrap());
        let refused = letter_choices::refused_by(&db, person).await.unwrap();
        assert_eq!(refused.into_iter().collect::<Vec<_>>(), [(Kind::Digest, MORNING)]);
        letter_choices::keep_link(&db, "hash", person, Kind::Digest, MORNING).await.unwrap();
        assert_eq!(letter_choices::find_link(&db, "hash").await.unwrap(), Some((person, Kind::Digest)));
        assert_eq!(letter_choices::find_link(&db, "hush").await.unwrap(), None);
        letter_choices::forget(&db, person).await.unwrap();
        assert_eq!(letter_choices::find_link(&db, "hash").await.unwrap(), None);
        assert!(letter_choices::all_refused(&db).await.unwrap().is_empty());
    })
    .await;
}
