//! The PDF, read by poppler's tools and, from its picture, by a decoder of square codes.

use super::{SCHEME, certified, change, check_path};
use crate::support::app::address_of;
use crate::support::sittings::{certify, manager};
use crate::support::tools::tool_says;
use sootmark::actions::change_person::{PersonChange, Standing, change_person};
use sootmark::domain::certification::certificate::{EventKind, Number};
use sootmark::domain::people::Role;
use sootmark::store::people;
use std::path::Path;
use tempfile::TempDir;

/// A folder with the PDF in it.
fn kept(bytes: &[u8]) -> (TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("certificate.pdf");
    std::fs::write(&path, bytes).expect("written");
    let path = path.to_str().expect("UTF-8").to_owned();
    (folder, path)
}

#[tokio::test]
async fn the_paper_says_what_was_certified_and_carries_the_signed_file() {
    let (app, mut ines, number) = certified().await;
    let path = format!("/record/certificates/{number}/pdf");
    let reply = ines.get(&path).await;
    assert_eq!((reply.status, reply.header("content-type")), (200, Some("application/pdf")));
    let name = format!("inline; filename=\"certificate-{number}.pdf\"");
    assert_eq!(reply.header("content-disposition"), Some(name.as_str()));
    app.clock.advance(86_400);
    let mut ines = app.signed_in_as("ines.varga@example.org").await;
    assert_eq!(ines.get(&path).await.bytes, reply.bytes, "the same bytes a day later");
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let theirs = manager.get(&format!("/decisions/certificates/{number}/pdf")).await;
    assert_eq!(theirs.bytes, reply.bytes, "and for the service manager");

    let check = check_path(&mut ines, number).await;
    let address = format!("{}{check}", app.deeds.origin);
    let (folder, pdf) = kept(&reply.bytes);
    if let Some(text) = tool_says("pdftotext", &["-layout", &pdf, "-"]) {
        let told = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            number.to_string().as_str(),
            "Ines Varga",
            "First day on site",
            "version 1",
            "Fire and burns",
            "profile version 1",
            "24 Nov 2026",
            "24 Nov 2029",
            "Service manager",
            "operator's manual, local codes and licensed practice decide.",
            "valid or not valid",
            "Open Badges 3.0",
            "http://127.0.0.1:8080/issuer",
        ] {
            assert!(told.contains(words), "{words} in {told}");
        }
        let run_together: String = text.split_whitespace().collect();
        assert!(run_together.contains(&address), "{address} in {run_together}");
        assert!(
            !told.contains("example.org") && !told.contains("Test Service manager"),
            "no address, no decider: {told}"
        );
    }
    if let Some(told) = tool_says("pdfinfo", &["-meta", &pdf]) {
        // Source: ISO 19005-3, 6.6.4: part 3 and the level stand in the metadata.
        let flat: String = told.split_whitespace().collect();
        assert!(flat.contains("<pdfaid:part>3</pdfaid:part>") && flat.contains("<pdfaid:conformance>B"), "{told}");
    }
    if let Some(told) = tool_says("pdfinfo", &[&pdf]) {
        assert!(told.lines().any(|line| line.starts_with("Pages:") && line.ends_with(" 1")), "{told}");
    }
    let out = folder.path().to_str().expect("UTF-8");
    if tool_says("pdfdetach", &["-saveall", "-o", out, &pdf]).is_some() {
        let inside = std::fs::read(folder.path().join("certificate.json")).expect("the file inside");
        let beside = ines.get(&format!("/record/certificates/{number}/signed-file")).await;
        assert!(inside == beside.bytes, "the file inside is the one to download");
    }
    app.stop().await;
}

#[tokio::test]
async fn whoever_decided_is_named_by_the_role_in_which_they_decided_whatever_they_become() {
    let (app, mut ines, number) = certified().await;
    let path = format!("/record/certificates/{number}/pdf");
    let before = ines.get(&path).await;
    assert_eq!(before.status, 200);
    let decider = manager(&app).await.person;
    let found = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Administrator)).await.expect("the store");
    let administrator = found.expect("an administrator").id;
    for role in [Role::Technician, Role::Trainer, Role::ServiceManager, Role::Technician] {
        let to = Standing { role, branch: app.branch, active: true };
        let changed = change_person(&app.deeds, administrator, decider, to).await.expect("the store");
        assert_eq!(changed, PersonChange::Changed);
        assert_eq!(ines.get(&path).await.bytes, before.bytes, "the same bytes when the decider is {role:?}");
    }
    app.stop().await;
}

/// The text of the square code in a grey picture, as `pdftoppm -gray` writes it.
fn read_code(picture: &Path) -> String {
    let bytes = std::fs::read(picture).expect("the picture");
    let mut rest = &bytes[..];
    let mut words = Vec::new();
    while words.len() < 4 {
        let end = rest.iter().position(u8::is_ascii_whitespace).expect("a head of four words");
        words.push(std::str::from_utf8(&rest[..end]).expect("ASCII").to_owned());
        rest = &rest[end + 1..];
    }
    assert_eq!((words[0].as_str(), words[3].as_str()), ("P5", "255"));
    let (width, height): (usize, usize) = (words[1].parse().expect("a width"), words[2].parse().expect("a height"));
    let mut prepared = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| rest[y * width + x]);
    let codes = prepared.detect_grids();
    assert_eq!(codes.len(), 1, "one code is on the sheet");
    codes[0].decode().expect("it can be read").1
}

#[tokio::test]
async fn the_code_on_the_paper_leads_to_the_public_page() {
    let (app, mut ines, number) = certified().await;
    let (folder, pdf) = kept(&ines.get(&format!("/record/certificates/{number}/pdf")).await.bytes);
    let picture = folder.path().join("sheet");
    let picture_path = picture.to_str().expect("UTF-8");
    if tool_says("pdftoppm", &["-gray", "-r", "120", "-singlefile", &pdf, picture_path]).is_some() {
        let address = read_code(&picture.with_extension("pgm"));
        assert_eq!(address, format!("{}{}", app.deeds.origin, check_path(&mut ines, number).await));
        let path = address.strip_prefix(&app.deeds.origin).expect("our address").to_owned();
        let page = app.browser().get(&path).await;
        assert!(page.status == 200 && page.text().contains("This certificate is valid."), "{}", page.text());
    }
    app.stop().await;
}

#[tokio::test]
async fn somebody_elses_certificate_looks_as_if_it_were_not_there() {
    let (app, _, number) = certified().await;
    let mut other = app.signed_in(Role::Technician).await;
    let missing = Number { year: 2026, running: 77 };
    for form in ["pdf", "signed-file"] {
        let foreign = other.get(&format!("/record/certificates/{number}/{form}")).await;
        let nothing = other.get(&format!("/record/certificates/{missing}/{form}")).await;
        assert_eq!((foreign.status, foreign.seen()), (404, nothing.seen()), "{form}");
        let malformed = other.get(&format!("/record/certificates/nonsense/{form}")).await;
        assert_eq!(malformed.seen(), nothing.seen(), "{form}");
    }
    app.stop().await;
}

#[tokio::test]
async fn a_certificate_that_does_not_stand_has_no_paper() {
    let (app, mut ines, number) = certified().await;
    change(&app, number, EventKind::Suspended).await;
    for form in ["pdf", "signed-file"] {
        let reply = ines.get(&format!("/record/certificates/{number}/{form}")).await;
        assert!(reply.status == 410 && reply.text().contains("This certificate is suspended."), "{}", reply.text());
    }
    assert!(!ines.get(&format!("/record/certificates/{number}")).await.body.contains("/pdf\""), "it is not offered");
    change(&app, number, EventKind::Reinstated).await;
    assert_eq!(ines.get(&format!("/record/certificates/{number}/pdf")).await.status, 200);
    change(&app, number, EventKind::Withdrawn).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let reply = manager.get(&format!("/decisions/certificates/{number}/pdf")).await;
    assert!(reply.status == 410 && reply.text().contains("This certificate is withdrawn."), "{}", reply.text());
    app.stop().await;
}

#[tokio::test]
async fn a_name_in_other_letters_or_as_long_as_may_be_stands_on_the_paper_whole() {
    let (app, _, _) = certified().await;
    let longest = "W".repeat(100);
    for (name, email) in [
        ("Şule Öztürk", "sule@example.org"),
        ("Оксана Гнатюк", "oksana@example.org"),
        (&longest, "longest@example.org"),
    ] {
        let person = app.person(name, email, Role::Technician).await;
        let number = certify(&app, person, SCHEME).await;
        let mut browser = app.signed_in_as(email).await;
        let (_folder, pdf) = kept(&browser.get(&format!("/record/certificates/{number}/pdf")).await.bytes);
        if let Some(text) = tool_says("pdftotext", &["-layout", &pdf, "-"]) {
            let run_together = |text: &str| text.split_whitespace().collect::<String>();
            assert!(run_together(&text).contains(&run_together(name)), "{name} in {text}");
        }
    }
    app.stop().await;
}
