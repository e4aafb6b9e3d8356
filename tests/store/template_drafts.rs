//! Drafts of scenarios, and documents that are retired.

use super::sample::{MORNING, technician};
use crate::support::database::for_each_database;
use sootmark::domain::units::Moment;
use sootmark::store::bank_documents::{self, DocumentKind, DocumentOrigin, DocumentState, NewDocument};
use sootmark::store::template_drafts::{self, Draft, DraftState};
use sootmark::store::{Db, StoreError, write};

#[tokio::test]
async fn a_draft_is_kept_byte_by_byte_and_found_by_where_it_stands() {
    for_each_database(async |db: Db| {
        let (_, author) = technician(&db).await;
        let text = "title: a\r\n\u{b0}C";
        let insert = async |key: &str| template_drafts::insert(&db, author, key, 2, text, MORNING).await.unwrap();
        let (first, second) = (insert("fire/b").await, insert("fire/a").await);
        let mut draft = template_drafts::by_id(&db, first).await.unwrap();
        let expected = Draft {
            id: first,
            author_id: author,
            key: "fire/b".to_owned(),
            base: 2,
            source: text.to_owned(),
            state: DraftState::Writing,
            revision: 1,
            remark: None,
            reviewer_id: None,
            changed_at: MORNING,
        };
        assert_eq!(draft, expected);
        draft = Draft {
            key: "fire/c".to_owned(),
            base: 3,
            source: "other".to_owned(),
            state: DraftState::InReview,
            revision: 2,
            remark: Some("Good.".to_owned()),
            reviewer_id: Some(author),
            changed_at: Moment(MORNING.0 + 1),
            ..draft
        };
        write::<_, StoreError, _>(&db, async |tx| {
            template_drafts::locked(tx, first).await?;
            template_drafts::update(tx, &draft).await
        })
        .await
        .unwrap();
        let ids = |drafts: Vec<Draft>| drafts.into_iter().map(|draft| draft.id).collect::<Vec<_>>();
        assert_eq!(template_drafts::in_review(&db).await.unwrap(), [draft.clone()]);
        assert_eq!(ids(template_drafts::open_of(&db, author).await.unwrap()), [second, first]);
        assert_eq!(template_drafts::find_writing(&db, author, "fire/a").await.unwrap().map(|d| d.id), Some(second));
        assert_eq!(template_drafts::find_writing(&db, author, "fire/c").await.unwrap(), None, "it is in review");
        draft.state = DraftState::Dropped;
        template_drafts::update(&db, &draft).await.unwrap();
        assert_eq!(ids(template_drafts::open_of(&db, author).await.unwrap()), [second]);
        assert_eq!(template_drafts::by_id(&db, first).await.unwrap().source, "other", "a dropped draft stays");
        let nothing = template_drafts::by_id(&db, sootmark::store::DraftId(99)).await;
        assert!(matches!(nothing, Err(StoreError::NotFound)));
    })
    .await;
}

#[tokio::test]
async fn what_is_retired_is_not_in_use_until_a_later_version() {
    for_each_database(async |db: Db| {
        use DocumentState::{Draft, Published, Retired};
        let add = async |version: i32, state: DocumentState| {
            let new = NewDocument {
                kind: DocumentKind::Template,
                key: "fire/a".to_owned(),
                version,
                source: format!("version {version}"),
                sha256: "0".repeat(64),
                origin: DocumentOrigin::File,
                state,
                author_id: None,
                created_at: MORNING,
            };
            bank_documents::insert(&db, new).await.unwrap();
        };
        let standing = async || {
            let version = |document: &bank_documents::Document| document.version;
            let used = bank_documents::all_latest_published(&db).await.unwrap();
            let gone = bank_documents::retired_of_kind(&db, DocumentKind::Template).await.unwrap();
            let one = bank_documents::find_latest_published(&db, DocumentKind::Template, "fire/a").await.unwrap();
            assert_eq!(used.first(), one.as_ref());
            (used.iter().map(version).collect::<Vec<_>>(), gone.iter().map(version).collect::<Vec<_>>())
        };
        add(1, Published).await;
        assert_eq!(standing().await, (vec![1], vec![]));
        add(2, Retired).await;
        assert_eq!(standing().await, (vec![], vec![2]), "the version before does not come back");
        add(3, Draft).await;
        assert_eq!(standing().await, (vec![], vec![2]));
        add(4, Published).await;
        assert_eq!(standing().await, (vec![4], vec![]));
    })
    .await;
}
