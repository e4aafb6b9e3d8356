//! `sootmark record export-xapi`: every line a statement, and nothing of an open examination.

use super::audit::run;
use crate::audit::Fates;
use crate::exchange::xapi::broken_rules;
use crate::support::database::OneDatabase;
use serde_json::Value;
use sootmark::store::read::record_head::record_head;
use std::collections::{BTreeMap, BTreeSet};

#[tokio::test]
async fn every_attempt_is_written_out_as_statements() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let out = database.folder.path().join("statements.jsonl");
    let out = out.to_str().expect("UTF-8");
    let (said, told, code) = run(&database.url, &["record", "export-xapi", "--out", out]);
    let text = std::fs::read_to_string(out).expect("the file");
    let statements: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert_eq!((said, code), (format!("Statements written to {out}: {}\n", statements.len()), 0));
    let head = record_head(&database.db).await.expect("the head").hash;
    assert!(told.contains(&head), "{told}");
    let mut verbs: BTreeMap<&str, usize> = BTreeMap::new();
    let mut ids = BTreeSet::new();
    for statement in &statements {
        assert_eq!(broken_rules(statement), Vec::<String>::new(), "{statement:#}");
        let verb = statement["verb"]["id"].as_str().and_then(|id| id.rsplit('/').next()).expect("a verb");
        *verbs.entry(verb).or_default() += 1;
        ids.insert(statement["id"].as_str().expect("an id"));
    }
    // Five attempts; nine answers twice, one that the clock handed in, two in practice; one of three examinations passed.
    let wanted = [("answered", 21), ("attempted", 5), ("completed", 3), ("failed", 2), ("passed", 1)];
    assert_eq!(verbs, BTreeMap::from(wanted));
    assert_eq!(ids.len(), statements.len());
    assert!(!text.contains("fennmark.example") && !text.contains("Ines"), "people are numbers");
    let open = format!("/attempt/{}/", fates.open);
    assert!(!text.contains(&open), "nothing of an open examination");

    let (_, wrong, code) = run(&database.url, &["record", "export-xapi", "--out", out]);
    assert!(wrong.contains("--out") && code == 1, "a file is never written over: {wrong}");
    let named = format!("{out}.named");
    let (_, _, code) = run(&database.url, &["record", "export-xapi", "--with-email", "--out", &named]);
    let text = std::fs::read_to_string(&named).expect("the file");
    assert!(code == 0 && text.contains("mailto:ines.varga@fennmark.example"), "{text}");
    fates.app.stop().await;
    database.close().await;
}
