//! The look: every component renders, escapes what people typed, can be read, and needs nothing that the program does not ship.
//!
//! Also writes the specimen page to `target/specimen/`, to be looked at in a browser.

mod drawings;
mod specimen;

use serde_json::json;
use sootmark::web::view::{Page, Views, assets};
use specimen::{HOSTILE, between, context, duties, gauge, page, wrong_page};
use std::collections::BTreeMap;
use std::path::Path;

fn render(page: &Page, typed: &str) -> String {
    let views = Views::load().expect("the templates are right");
    views.render("pages/specimen.html", &context(page, typed)).expect("the specimen can be drawn")
}

/// The templates and assets as they lie in the tree, with their paths under `templates/`.
fn sources() -> Vec<(String, String)> {
    fn walk(folder: &Path, root: &Path, found: &mut Vec<(String, String)>) {
        for entry in std::fs::read_dir(folder).expect("templates/ can be read") {
            let path = entry.expect("templates/ can be read").path();
            if path.is_dir() {
                walk(&path, root, found);
            } else if let Ok(text) = std::fs::read_to_string(&path) {
                found.push((
                    path.strip_prefix(root).expect("it lies under templates/").to_string_lossy().into_owned(),
                    text,
                ));
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
    let mut found = Vec::new();
    walk(&root, &root, &mut found);
    assert!(found.len() > 15, "only {} templates and assets found", found.len());
    found
}

#[test]
fn the_specimen_is_drawn_and_kept_to_be_looked_at() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/specimen");
    std::fs::create_dir_all(&folder).unwrap();
    let flat = |html: String| html.replace(&format!("/assets/{}/", assets::hash()), "");
    for name in assets::names() {
        let (content, _) = assets::find(assets::hash(), name).unwrap();
        std::fs::write(folder.join(name), content).unwrap();
    }
    std::fs::write(folder.join("index.html"), flat(render(&page(), "Leave it for the next shift."))).unwrap();
    std::fs::write(folder.join("wrong.html"), flat(render(&wrong_page(), HOSTILE))).unwrap();
}

#[test]
fn every_component_is_in_the_specimen() {
    let specimen: String =
        sources().into_iter().filter(|(name, _)| name.ends_with(".html")).map(|(_, text)| text).collect();
    for (name, text) in sources().iter().filter(|(name, _)| name.starts_with("components/")) {
        for component in between(text, "{% component ", '(') {
            assert!(
                specimen.contains(&format!("<{component}")),
                "{name}: {component} is used nowhere, so no test draws it"
            );
        }
    }
}

#[test]
fn what_people_typed_is_shown_and_never_run() {
    let html = render(&wrong_page(), HOSTILE);
    assert!(!html.contains("<script>alert"), "a typed tag reached the page");
    assert!(!html.contains("\" onfocus="), "a typed quote closed an attribute");
    let shown = html.matches("&lt;script&gt;alert(1)&lt;").count();
    assert_eq!(html.matches("{{ 7 * 7 }}").count(), shown, "typed template text was evaluated");
    assert_eq!(shown, 6, "the typed text is missing somewhere");
}

#[test]
fn a_wrong_form_says_so_in_its_title_at_the_top_and_at_the_field() {
    let html = render(&wrong_page(), "x");
    assert!(html.contains("<title>Error: Specimen - Sootmark</title>"));
    assert!(
        html.contains("2 things to put right")
            && html.contains(r##"<a href="#email">An e-mail address has an @ in it.</a>"##)
    );
    let field = html.split("<input id=\"email\"").nth(1).and_then(|rest| rest.split('>').next()).unwrap();
    assert!(
        field.contains(r#"aria-describedby="email-hint email-error""#) && field.contains(r#"aria-invalid="true""#),
        "{field}"
    );
    assert!(html.contains(r#"<p class="wrong" id="email-error">An e-mail"#));
    assert!(render(&page(), "x").contains("<title>Specimen - Sootmark</title>"));
}

#[test]
fn every_id_that_is_pointed_to_exists_once() {
    for html in [render(&page(), "x"), render(&wrong_page(), "x")] {
        let ids = between(&html, " id=\"", '"');
        for id in &ids {
            assert_eq!(ids.iter().filter(|other| other == &id).count(), 1, "the id {id} is there more than once");
        }
        let mut pointed: Vec<&str> = between(&html, " for=\"", '"');
        pointed.extend(between(&html, "href=\"#", '"'));
        pointed.extend(between(&html, "aria-describedby=\"", '"').iter().flat_map(|list| list.split_whitespace()));
        assert!(pointed.len() > 8);
        for id in pointed {
            assert!(ids.contains(&id), "something points to #{id}, which is not there");
        }
    }
}

#[test]
fn every_asset_that_is_named_exists_and_nothing_comes_from_elsewhere() {
    let html = render(&page(), "x");
    let named = between(&html, &format!("/assets/{}/", assets::hash()), '"');
    assert!(named.len() >= 9, "{named:?}");
    for name in named {
        assert!(assets::find(assets::hash(), name).is_some(), "there is no asset {name}");
    }
    for (file, text) in sources().iter().filter(|(file, _)| file.ends_with(".css")) {
        for name in between(text, "url(\"", '"') {
            assert!(assets::find(assets::hash(), name).is_some(), "{file} wants {name}, which is not there");
        }
    }
    for (file, text) in sources().iter().filter(|(file, _)| !file.ends_with("licence.txt")) {
        let outside = between(text, "//", '\n')
            .into_iter()
            .filter(|rest| !rest.starts_with(' ') && !rest.starts_with("www.w3.org/2000/svg"));
        assert_eq!(outside.collect::<Vec<_>>(), Vec::<&str>::new(), "{file} names an address elsewhere");
    }
    assert_eq!(assets::find("0000000000000000", "ground.css"), None, "an old address must not give new content");
    assert_eq!(assets::find(assets::hash(), "../layout.html"), None);
}

#[test]
fn no_template_holds_inline_style_or_script() {
    for (file, text) in sources().iter().filter(|(file, _)| file.ends_with(".html")) {
        assert!(!text.contains("<style") && !text.contains(" style="), "{file} has inline style");
        assert!(!text.contains("javascript:"), "{file} has a script address");
        for tag in between(text, "<script", '>') {
            assert!(tag.contains("src="), "{file} has an inline script");
        }
        let handler = text.split_whitespace().find(|word| word.starts_with("on") && word.contains("=\""));
        assert_eq!(handler, None, "{file} has an inline handler");
    }
    let drawn = gauge(Some(95.0)).draw() + &duties().draw();
    assert!(!drawn.contains("style") && !drawn.contains(" id="), "{drawn}");
}

/// Source: W3C, Web Content Accessibility Guidelines 2.2, definition of relative luminance.
fn luminance(hex: &str) -> f64 {
    let channel = |at: usize| {
        let share = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).expect("a colour is written #RRGGBB")) / 255.0;
        if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

/// Source: W3C, Web Content Accessibility Guidelines 2.2, definition of contrast ratio.
fn contrast(one: &str, other: &str) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn every_pair_of_text_and_ground_can_be_read() {
    // Source: W3C, Web Content Accessibility Guidelines 2.2, 1.4.3 (at least 4.5). Black on white is 21 by the definition.
    assert!((contrast("#000000", "#FFFFFF") - 21.0).abs() < 1e-9);
    let css =
        assets::find(assets::hash(), "ground.css").map(|(css, _)| String::from_utf8_lossy(css).into_owned()).unwrap();
    let schemes: Vec<BTreeMap<String, String>> = between(&css, ":root {", '}')
        .into_iter()
        .map(|block| {
            block
                .split(';')
                .filter_map(|line| line.trim().strip_prefix("--")?.split_once(": "))
                .filter(|(_, value)| value.starts_with('#'))
                .map(|(name, value)| (name.to_owned(), value.to_owned()))
                .collect()
        })
        .collect();
    let [light, dark] = &schemes[..] else { panic!("one light and one dark scheme, not {}", schemes.len()) };
    let dark: BTreeMap<_, _> = light.iter().chain(dark).map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let light: BTreeMap<_, _> = light.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let mut pairs: Vec<(&str, &str)> = vec![("on-act", "act"), ("on-amber", "amber"), ("card", "ink")];
    pairs.push(("on-signal", "good"));
    pairs.extend(["sign-red", "sign-orange", "sign-blue"].map(|sign| ("on-sign", sign)));
    for text in ["ink", "soft", "act", "danger", "good"] {
        pairs.extend([(text, "paper"), (text, "card")]);
    }
    for (scheme, colours) in [("light", light), ("dark", dark)] {
        for (text, ground) in &pairs {
            let ratio = contrast(colours[text], colours[ground]);
            assert!(ratio >= 4.5, "{scheme}: {text} on {ground} has a contrast of {ratio:.2}");
        }
    }
}

#[test]
fn numbers_carry_their_unit_and_dates_their_zone() {
    let html = render(&page(), "x");
    for shown in ["24 Nov 2026, 14:03<", "24 Nov 2026, 13:03:12", "87 %", "1112 °F", "12\u{a0}345.7", "30 min, 17.7 h"]
    {
        assert!(html.contains(shown), "{shown} is not on the page");
    }
}

#[test]
fn a_letter_greets_in_both_forms_and_only_the_marked_up_one_escapes() {
    let views = Views::load().unwrap();
    let letter = json!({"subject": "Result <1>", "name": "Ann & Bo", "organisation": "Hollowfield Plant"});
    assert!(views.render("mail/layout.txt", &letter).unwrap().starts_with("Ann & Bo,"));
    let html = views.render("mail/layout.html", &letter).unwrap();
    assert!(html.contains("Ann &amp; Bo,") && html.contains("<h1>Result &lt;1&gt;</h1>"), "{html}");
}
