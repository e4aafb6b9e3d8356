//! Review: by another trainer, with a remark; never one's own; of two drafts the second shows both.

use super::{INSIDE, KEY, begun, changing, press, press_in, published, second_trainer, text};
use crate::support::app::TestApp;
use sootmark::domain::people::Role;
use sootmark::store::DraftId;
use sootmark::store::bank_documents::{DocumentKind, by_version, versions};
use sootmark::store::record;

#[tokio::test]
async fn nobody_approves_what_they_wrote() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let draft = begun(&mut trainer, KEY).await;
    press(&mut trainer, &draft, &text(INSIDE), "send").await;
    let review = format!("{draft}/review");
    let page = trainer.get(&review).await;
    assert!(page.text().contains("You wrote this") && !page.body.contains("value=\"approve\""), "no button");
    for deed in ["approve", "send_back"] {
        let own = trainer.post(&review, &[("remark", "Good."), ("deed", deed)]).await;
        assert_eq!(own.status, 422, "{deed}");
        assert!(own.text().contains("Another trainer reviews it"), "{}", own.text());
    }
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap(), []);
    app.stop().await;
}

#[tokio::test]
async fn a_draft_goes_back_with_a_remark_and_forth_and_all_of_it_is_on_record() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut reviewer = second_trainer(&app).await;
    let draft = begun(&mut trainer, KEY).await;
    press(&mut trainer, &draft, &text(INSIDE), "send").await;
    let (of_author, of_reviewer) = (trainer.get("/templates").await.text(), reviewer.get("/templates").await.text());
    assert!(of_author.contains("Your drafts") && of_author.contains("in review"), "{of_author}");
    assert!(of_reviewer.contains("Waiting for your review") && of_reviewer.contains(KEY), "{of_reviewer}");

    // While it is in review its text stands still.
    let late = press(&mut trainer, &draft, "title: other\n", "keep").await;
    assert_eq!(late.status, 422);
    assert!(late.text().contains("no longer being written") && late.body.contains("title: other"), "{}", late.text());

    let review = format!("{draft}/review");
    let silent = reviewer.post(&review, &[("remark", " "), ("deed", "send_back")]).await;
    assert_eq!(silent.status, 422, "a remark is asked for");
    let back = reviewer.post(&review, &[("remark", "Say which yard."), ("deed", "send_back")]).await;
    assert_eq!(back.location(), "/templates?done=sent_back", "{}", back.text());
    let again = reviewer.post(&review, &[("remark", "Good."), ("deed", "approve")]).await;
    assert_eq!(again.status, 404, "it is its author's now");
    let page = trainer.get(&draft).await.text();
    assert!(page.contains("What Test second said") && page.contains("Say which yard."), "{page}");

    let mended = text(INSIDE).replace("of the yard", "of the upper yard");
    assert_eq!(press(&mut trainer, &draft, &mended, "send").await.status, 303);
    let twice = press(&mut trainer, &draft, &mended, "send").await;
    assert_eq!(twice.location(), format!("{draft}?done=sent"), "a double click is harmless");
    let form = [("remark", "Read and tried on three machines."), ("deed", "approve")];
    assert_eq!(reviewer.post(&review, &form).await.status, 303);
    let again = reviewer.post(&review, &form).await;
    assert_eq!(again.location(), format!("/templates/{KEY}?done=published"), "twice too");
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap().len(), 1);
    let id: DraftId = draft.rsplit('/').next().unwrap().parse().unwrap();
    let deeds = record::of_subject(&app.deeds.db, "template_draft", id.0).await.unwrap();
    let deeds: Vec<_> = deeds.into_iter().map(|entry| entry.deed).collect();
    assert_eq!(deeds, ["template_sent_for_review", "template_sent_back", "template_sent_for_review"]);
    let version = by_version(&app.deeds.db, DocumentKind::Template, KEY, 1).await.unwrap();
    let approved = record::of_subject(&app.deeds.db, "bank_document", version.id.0).await.unwrap();
    assert_eq!(approved.len(), 1);
    assert_eq!(approved[0].deed, "template_approved");
    assert_ne!(approved[0].actor_id, version.author_id, "the reviewer's deed, the author's text");
    assert!(approved[0].detail.contains("Read and tried on three machines."));
    app.stop().await;
}

#[tokio::test]
async fn a_draft_that_was_taken_back_is_not_approved() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut reviewer = second_trainer(&app).await;
    let draft = begun(&mut trainer, KEY).await;
    press(&mut trainer, &draft, &text(INSIDE), "send").await;
    reviewer.get(&format!("{draft}/review")).await;
    assert_eq!(trainer.post(&draft, &[("deed", "take_back")]).await.location(), draft);
    let late = reviewer.post(&format!("{draft}/review"), &[("remark", "Good."), ("deed", "approve")]).await;
    assert_eq!(late.status, 404);
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, KEY).await.unwrap(), []);
    // Nobody else reads or changes what is being written.
    assert_eq!(reviewer.get(&draft).await.status, 404);
    assert_eq!(reviewer.post(&draft, &[("text", "mine"), ("deed", "keep")]).await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn of_two_drafts_of_one_scenario_the_second_shows_both_texts() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let mut reviewer = second_trainer(&app).await;
    let key = "fire/straw-under-the-boom";
    let first = by_version(&app.deeds.db, DocumentKind::Template, key, 1).await.unwrap().source;
    let (mine, theirs) = (changing(&mut trainer, key).await, changing(&mut reviewer, key).await);
    assert_ne!(mine, theirs, "each has a draft of their own");
    let early = first.replace("Straw under the boom", "Straw below the boom");
    let late = first.replace("Straw under the boom", "Straw all around");
    // Both are sent from version 1; the one that is approved first wins.
    assert_eq!(press(&mut reviewer, &theirs, &late, "send").await.status, 303);
    assert_eq!(published(&mut trainer, &mut reviewer, &mine, &early).await.status, 303);
    trainer.get(&format!("{theirs}/review")).await;
    let stale = trainer.post(&format!("{theirs}/review"), &[("remark", "Good."), ("deed", "approve")]).await;
    assert_eq!(stale.status, 422);
    assert!(stale.text().contains("another version was published"), "{}", stale.text());
    assert_eq!(versions(&app.deeds.db, DocumentKind::Template, key).await.unwrap().len(), 2);
    trainer.post(&format!("{theirs}/review"), &[("remark", "See version 2."), ("deed", "send_back")]).await;

    // Its author sees both, decides, and the draft then follows version 2.
    let both = press(&mut reviewer, &theirs, &late, "send").await;
    assert_eq!(both.status, 422);
    for part in ["Straw below the boom", "Straw all around", "Version 2, published meanwhile"] {
        assert!(both.text().contains(part), "{part}: {}", both.text());
    }
    let sent = press_in(&mut reviewer, &both, &theirs, &late, "send").await;
    assert_eq!(sent.status, 303, "{}", sent.text());
    trainer.get(&format!("{theirs}/review")).await;
    let done = trainer.post(&format!("{theirs}/review"), &[("remark", "Good."), ("deed", "approve")]).await;
    assert_eq!(done.status, 303, "{}", done.text());
    assert_eq!(by_version(&app.deeds.db, DocumentKind::Template, key, 3).await.unwrap().source, late);
    app.stop().await;
}
