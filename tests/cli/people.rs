//! `sootmark people import`: everyone or nobody, with every bad row on stderr.

use crate::support::database::OneDatabase;
use std::process::{Command, Output};

fn import(home: &OneDatabase, roster: &str, arguments: &[&str]) -> Output {
    let folder = home.folder.path();
    std::fs::write(folder.join("roster.csv"), roster).expect("a roster");
    Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["people", "import", "roster.csv"])
        .args(arguments)
        .current_dir(folder)
        .env_remove("SOOTMARK_SETTINGS")
        .env("SOOTMARK_DATABASE_URL", &home.url)
        .output()
        .expect("the program runs")
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("UTF-8")
}

#[tokio::test]
async fn a_roster_on_a_fresh_machine() {
    let home = OneDatabase::empty().await;
    let roster =
        "name,email,branch,role\nAda,ada@example.org,Coldbrook,administrator\nBen,ben@example.org,Coldbrook,trainer\n";

    let refused = import(&home, roster, &[]);
    assert_eq!(refused.status.code(), Some(1));
    assert_eq!(text(&refused.stdout), "");
    assert_eq!(
        text(&refused.stderr),
        "roster.csv: row 2, branch: there is no branch \"Coldbrook\". The branches are: none yet\n\
         roster.csv: row 3, branch: there is no branch \"Coldbrook\". The branches are: none yet\n\
         Nobody was brought in: 2 problems.\n"
    );

    let done = import(&home, roster, &["--add-branches"]);
    assert_eq!(text(&done.stdout), "branch added: Coldbrook\npeople brought in: 2\n", "{}", text(&done.stderr));
    assert_eq!(done.status.code(), Some(0));

    let again = import(&home, roster, &["--add-branches"]);
    assert_eq!(again.status.code(), Some(1));
    assert!(text(&again.stderr).contains("row 2, email: belongs to Ada already: take the row out"));
    home.close().await;
}

#[tokio::test]
async fn a_roster_names_schemes_even_before_the_first_start() {
    let home = OneDatabase::empty().await;
    let roster =
        |scheme: &str| format!("name,email,branch,role,scheme\nAda,ada@example.org,Coldbrook,technician,{scheme}\n");
    let refused = import(&home, &roster("no-such"), &["--add-branches"]);
    assert_eq!(refused.status.code(), Some(1));
    let said =
        "roster.csv: row 2, scheme: there is no scheme \"no-such\". The schemes are: field-technician, first-day, ";
    assert!(text(&refused.stderr).starts_with(said), "{}", text(&refused.stderr));
    let done = import(&home, &roster("first-day"), &["--add-branches"]);
    assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
    home.close().await;
}

#[test]
fn an_error_names_the_file_or_the_setting() {
    let folder = tempfile::tempdir().expect("a folder");
    let run = |arguments: &[&str], setting: (&str, &str)| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_sootmark"));
        command.args(arguments).current_dir(folder.path()).env(setting.0, setting.1).output().expect("the program runs")
    };
    let missing = run(&["people", "import", "nowhere.csv"], ("SOOTMARK_TIME_ZONE", "UTC"));
    assert_eq!(missing.status.code(), Some(1));
    assert!(text(&missing.stderr).starts_with("Sootmark: nowhere.csv: "), "{}", text(&missing.stderr));
    let wrong = run(&["people", "import", "-"], ("SOOTMARK_TIME_ZONE", "Nowhere/Nothing"));
    assert!(text(&wrong.stderr).contains("time_zone"), "{}", text(&wrong.stderr));
}
