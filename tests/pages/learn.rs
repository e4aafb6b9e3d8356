//! Learning: the modules, a module's card, a lesson with the model's drawings, noting that it was read.

use crate::support::app::{TestApp, address_of};
use sootmark::bank_files;
use sootmark::domain::aftertreatment::kinetics::burnt_percent_in_one_hour;
use sootmark::domain::bank::{Bank, DocumentKind};
use sootmark::domain::people::Role;
use sootmark::domain::units::TemperatureUnit;
use sootmark::web::lesson::{Part, parts, problems};
use std::fmt::Write as _;

fn bank() -> Bank {
    let (bank, problems) = Bank::read(&bank_files::embedded());
    assert_eq!(problems, []);
    bank
}

#[tokio::test]
async fn reading_the_lessons_of_a_module_leads_through_it_and_is_kept() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let modules = browser.get("/learn").await.text();
    assert!(modules.contains("3. Passive regeneration") && modules.contains("0 of 3 lessons read"), "{modules}");

    let card = browser.get("/learn/passive").await;
    for words in [
        "Module 3 of 11",
        "12 min",
        "0 of 3 lessons read",
        "Read lesson 1",
        "prepares for: Field technician, New operator, Service technician",
    ] {
        assert!(card.text().contains(words), "{words} in {}", card.text());
    }
    let mut at = card.between("class=\"main\" href=\"", "\"").expect("the way to the first lesson").to_owned();
    assert_eq!(at, "/learn/passive/01-the-heat-of-work");
    for number in 1..=3 {
        let lesson = browser.get(&at).await;
        assert!(lesson.text().contains(&format!("Lesson {number} of 3 ")), "{}", lesson.text());
        assert!(!lesson.text().contains(&format!("Lesson {number} of 3, read")));
        let done = browser.post(&format!("{at}/read"), &[]).await;
        assert_eq!(done.status, 303);
        assert!(browser.get(&at).await.text().contains(&format!("Lesson {number} of 3, read")));
        at = done.location().to_owned();
    }
    assert_eq!(at, "/learn/passive");
    let card = browser.get(&at).await.text();
    assert!(card.contains("all 3 lessons read") && !card.contains("Read lesson"), "{card}");
    // Sent twice, as a double click does: nothing changes.
    assert_eq!(browser.post("/learn/passive/03-give-it-more-work/read", &[]).await.status, 303);
    let other = app.signed_in(Role::Trainer).await.get("/learn/passive").await.text();
    assert!(other.contains("0 of 3 lessons read"), "what one person reads, another has not: {other}");
    app.stop().await;
}

#[tokio::test]
async fn the_modules_of_ones_scheme_come_first() {
    let app = TestApp::start_with_bank().await;
    let id = app.person_towards("Test beginner", "beginner@example.org", "first-day").await;
    assert!(id.0 > 0);
    let text = app.signed_in_as("beginner@example.org").await.get("/learn").await.text();
    let place = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words} in {text}"));
    assert!(place("First day on site") < place("2. ") && place("2. ") < place("Other modules"));
    assert!(place("Other modules") < place("3. Passive regeneration"));
    app.stop().await;
}

#[tokio::test]
async fn what_is_not_in_the_bank_is_not_there() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    for path in ["/learn/no-such", "/learn/passive/no-such", "/learn/passive/..%2fmodule.toml"] {
        assert_eq!(browser.get(path).await.status, 404, "{path}");
    }
    assert_eq!(browser.post("/learn/passive/no-such/read", &[]).await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn every_lesson_of_the_bank_is_drawn_in_both_scales() {
    let app = TestApp::start_with_bank().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let in_use = app.deeds.bank.now();
    for unit in ["celsius", "fahrenheit"] {
        assert_eq!(browser.post("/account/units", &[("unit", unit)]).await.status, 303);
        for module in in_use.bank.modules() {
            for lesson in &module.lessons {
                let page = browser.get(&format!("/learn/{}/{}", module.id, lesson.id)).await;
                assert_eq!(page.status, 200, "{}/{}", module.id, lesson.id);
                assert!(!page.text().contains("cannot be shown"), "{}/{}", module.id, lesson.id);
                let other = if unit == "fahrenheit" { "°C" } else { "°F" };
                let text = page.text();
                let around = text.find(other).map(|at| text[..at].chars().rev().take(60).collect::<String>());
                let around = around.map(|backwards| backwards.chars().rev().collect::<String>());
                assert_eq!(around, None, "{other} in {}/{}", module.id, lesson.id);
            }
        }
    }
    app.stop().await;
}

#[test]
fn every_fence_of_the_bank_can_be_drawn() {
    let bank = bank();
    let lessons = bank_files::embedded().into_iter().filter(|document| document.kind == DocumentKind::Lesson);
    let mut fences = 0;
    for lesson in lessons {
        assert_eq!(problems(&lesson.file, &lesson.text, &bank), [], "{}", lesson.file);
        let drawn = parts(&lesson.text, &bank, TemperatureUnit::Celsius);
        fences += drawn.iter().filter(|part| !matches!(part, Part::Text { .. })).count();
    }
    assert!(fences > 20, "only {fences} fences in the bank");
}

#[test]
fn a_broken_fence_becomes_a_note_and_every_problem_has_its_line() {
    let bank = bank();
    let text = "# Title\n\nText.\n\n```plot\nkind = \"nonsense\"\nmachine = \"tarrel-6\"\n```\n\n```caution\nsignal = \"warning\"\n\
                what = \"W\"\nconsequence = \"C\"\n```\n\n```cautions\nmachine = \"tarrel-60\"\nhazards = []\n```\n\n\
                ```bands\nmachine = \n```\n\n- a\n  ```lamps\n  machine = \"tarrel-60\"\n  ```\n";
    let drawn = parts(text, &bank, TemperatureUnit::Celsius);
    assert_eq!(drawn.iter().filter(|part| **part == Part::Missing).count(), 5, "{drawn:?}");
    let mut told = String::new();
    for problem in problems("a.md", text, &bank) {
        let _ = writeln!(told, "{problem}");
    }
    for expected in [
        "a.md:6:8: kind:",
        "a.md:7:11: machine:",
        "a.md:11: avoid:",
        "a.md:18:11: hazards:",
        "a.md:22:",
        "a.md:26: lamps:",
    ] {
        assert!(told.contains(expected), "{expected} in\n{told}");
    }
}

#[test]
fn a_plot_says_the_models_numbers_and_nothing_else() {
    let bank = bank();
    let fence = |kind: &str, machine: &str| format!("```plot\nkind = \"{kind}\"\nmachine = \"{machine}\"\n```\n");
    for machine in bank.machines() {
        let drawn = parts(&fence("burnt_against_temperature", &machine.profile.id), &bank, TemperatureUnit::Celsius);
        let Some(Part::Plot { plot, .. }) = drawn.first() else { panic!("{drawn:?}") };
        assert_eq!((plot.lines[0].points[0].0, plot.lines[0].points.last().map(|point| point.0)), (150.0, Some(650.0)));
        for (celsius, percent) in &plot.lines[0].points {
            assert!((burnt_percent_in_one_hour(&machine.profile, *celsius) - percent).abs() < 1e-9);
        }
        let in_fahrenheit =
            parts(&fence("burnt_against_temperature", &machine.profile.id), &bank, TemperatureUnit::Fahrenheit);
        let Some(Part::Plot { plot, .. }) = in_fahrenheit.first() else { panic!("{in_fahrenheit:?}") };
        // From memory, not confirmed: NIST SP 811, 150 °C = 302 °F.
        assert!((plot.lines[0].points[0].0 - 302.0).abs() < 1e-9);
    }
    let tarrel = bank.machine("tarrel-60").expect("a machine of the bank");
    let drawn = parts(&fence("outlet_against_load", "tarrel-60"), &bank, TemperatureUnit::Celsius);
    let Some(Part::Plot { plot, .. }) = drawn.first() else { panic!("{drawn:?}") };
    let map = &tarrel.profile.outlet_c;
    assert_eq!(plot.lines.first().map(|line| line.points.len()), Some(map.loads_percent().len()));
    for (line, speed) in
        [(plot.lines.first(), map.speeds_rpm()[0]), (plot.lines.last(), map.speeds_rpm()[map.speeds_rpm().len() - 1])]
    {
        for (load, celsius) in &line.expect("a line").points {
            assert!((map.at(*load, speed).value - celsius).abs() < 1e-9);
        }
    }
    let drawn = parts(&fence("load_against_hours", "tarrel-60"), &bank, TemperatureUnit::Celsius);
    let Some(Part::Plot { plot, .. }) = drawn.first() else { panic!("{drawn:?}") };
    let ends: Vec<f64> = plot.lines.iter().map(|line| line.points.last().expect("points").1).collect();
    // Common practice, no published source: light work fills the filter, heavy work keeps it clean, mixed lies between.
    assert!(ends[0] > ends[1] && ends[1] > 40.0 && ends[2] < 40.0, "{ends:?}");
    for line in &plot.lines {
        assert_eq!(line.points.first().map(|point| point.0), Some(0.0), "{}", line.name);
        assert_eq!(line.points.last().map(|point| point.0), Some(40.0), "{}", line.name);
    }
}

#[tokio::test]
async fn a_lesson_cannot_bring_a_script_onto_the_page() {
    let bank = bank();
    let hostile = "Text <script>alert(1)</script>\n\n<img src=x onerror=alert(1)>\n\n```caution\nsignal = \"danger\"\n\
                   what = \"<script>alert(2)</script>\"\nconsequence = \"{{ 7 * 7 }}\"\navoid = \"A\"\n```\n";
    let drawn = parts(hostile, &bank, TemperatureUnit::Celsius);
    let page = serde_json::json!({
        "page": sootmark::web::view::Page { title: "T".to_owned(), ..Default::default() },
        "module": "m", "module_number": 1, "module_title": "M", "number": 1, "of": 1, "read": false, "read_words": null,
        "parts": drawn, "read_href": "/", "before": null, "after": null,
    });
    let html = sootmark::web::view::Views::load().unwrap().render("pages/learn/lesson.html", &page).unwrap();
    assert!(!html.contains("<script>alert") && !html.contains("<img"), "{html}");
    assert!(html.contains("&lt;script&gt;alert(2)") && html.contains("{{ 7 * 7 }}"), "{html}");
}

#[tokio::test]
async fn who_does_not_study_finds_no_lessons() {
    let app = TestApp::start_with_bank().await;
    for role in [Role::ServiceManager, Role::Administrator] {
        let mut browser = app.signed_in_as(&address_of(role)).await;
        for path in ["/learn", "/learn/passive", "/learn/passive/01-the-heat-of-work", "/practise"] {
            assert_eq!(browser.get(path).await.status, 404, "{role} at {path}");
        }
    }
    app.stop().await;
}
