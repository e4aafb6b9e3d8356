//! Versions of the bank's texts.

use super::sample::MORNING;
use crate::support::database::for_each_database;
use sootmark::store::{
    Db, StoreError,
    bank_documents::{self, Document, DocumentKind, DocumentOrigin, DocumentState, NewDocument},
    conflict,
};

fn version(kind: DocumentKind, key: &str, version: i32, origin: DocumentOrigin, state: DocumentState) -> NewDocument {
    NewDocument {
        kind,
        key: key.to_owned(),
        version,
        source: format!("{key}\r\nversion {version} at 600 \u{b0}C\n"),
        sha256: "0".repeat(64),
        origin,
        state,
        author_id: None,
        created_at: MORNING,
    }
}

fn names(documents: Vec<Document>) -> Vec<String> {
    documents.into_iter().map(|document| format!("{} {}", document.key, document.version)).collect()
}

#[tokio::test]
async fn the_newest_published_version_is_used() {
    for_each_database(async |db: Db| {
        use DocumentKind::{Machine, Template};
        use DocumentOrigin::{Editor, File};
        use DocumentState::{Draft, Published, Retired};
        assert_eq!(bank_documents::next_version(&db, Template, "lamps-1").await.unwrap(), 1);
        for new in [
            version(Template, "lamps-1", 1, File, Published),
            version(Template, "lamps-1", 2, Editor, Published),
            version(Template, "lamps-1", 3, Editor, Draft),
            version(Template, "fire-1", 1, File, Published),
            version(Template, "gone", 1, File, Retired),
            version(Machine, "lamps-1", 7, File, Published),
        ] {
            bank_documents::insert(&db, new).await.unwrap();
        }
        assert_eq!(bank_documents::next_version(&db, Template, "lamps-1").await.unwrap(), 4);
        let twice = bank_documents::insert(&db, version(Template, "lamps-1", 3, Editor, Draft)).await;
        assert!(matches!(twice, Err(StoreError::Conflict(name)) if name == conflict::DOCUMENT_VERSION));

        let published = bank_documents::latest_published_of_kind(&db, Template).await.unwrap();
        assert_eq!(names(published), ["fire-1 1", "lamps-1 2"]);
        let all = bank_documents::all_latest_published(&db).await.unwrap();
        assert_eq!(names(all), ["lamps-1 7", "fire-1 1", "lamps-1 2"]);
        let files = bank_documents::latest_from_files(&db).await.unwrap();
        assert_eq!(names(files), ["lamps-1 7", "fire-1 1", "gone 1", "lamps-1 1"]);
        assert_eq!(names(bank_documents::versions(&db, Template, "lamps-1").await.unwrap()).len(), 3);

        let draft = bank_documents::by_version(&db, Template, "lamps-1", 3).await.unwrap();
        assert_eq!(draft.source, "lamps-1\r\nversion 3 at 600 \u{b0}C\n", "byte by byte");
        bank_documents::set_state(&db, draft.id, Published).await.unwrap();
        let latest = bank_documents::find_latest_published(&db, Template, "lamps-1").await.unwrap().unwrap();
        assert_eq!(latest.version, 3);
        assert!(bank_documents::find_latest_published(&db, Template, "gone").await.unwrap().is_none());
    })
    .await;
}
