//! The look: every component renders, escapes what people typed, can be read, and needs nothing that the program does not ship.
//!
//! Also writes the specimen page to `target/specimen/`, to be looked at in a browser.

use serde_json::{Value, json};
use sootmark::domain::units::TemperatureUnit;
use sootmark::web::plot::gauge::{Gauge, GaugeBand, Tone};
use sootmark::web::plot::lesson::{burnt_in_one_hour, load_against_hours};
use sootmark::web::plot::line::{Axis, Line, LinePlot, Stripe};
use sootmark::web::view::{FieldError, Me, Page, Place, Views, assets};
use std::collections::BTreeMap;
use std::path::Path;

/// What somebody might type to break a page.
const HOSTILE: &str = r#"</textarea><script>alert(1)</script>" onfocus="x' & {{ 7 * 7 }}"#;
const AT: i64 = 1_795_525_392_000_000; // 24 Nov 2026, 13:03:12 UTC

fn band(name: &str, from_percent: f64, tone: Tone) -> GaugeBand {
    GaugeBand { name: name.to_owned(), from_percent, tone }
}

fn gauge(reading_percent: Option<f64>) -> Gauge {
    Gauge {
        label: "Soot load".to_owned(),
        reading_percent,
        up_to_percent: 140.0,
        bands: vec![
            band("normal", 0.0, Tone::Normal),
            band("high", 77.0, Tone::Attention),
            band("very high", 80.0, Tone::Attention),
            band("extreme", 120.0, Tone::Stop),
        ],
    }
}

fn axis(label: &str, unit: &str, from: f64, to: f64, step: f64) -> Axis {
    Axis { label: label.to_owned(), unit: unit.to_owned(), from, to, step }
}

fn line(name: &str, points: impl IntoIterator<Item = (f64, f64)>) -> Line {
    Line { name: name.to_owned(), points: points.into_iter().collect() }
}

/// Share of soot burnt in one hour, with the parameters of Bai et al. 2016 as this project refits them: A drawing's fixture, not a check.
fn burnt() -> LinePlot {
    let share = |celsius: f64, ppm: f64| {
        let rt = 8.314_462_618 * (celsius + 273.15);
        let k = 3400.0 * (-45_500.0 / rt).exp() * (ppm * 1e-6).powf(1.13) + 14_300.0 * (-108_000.0 / rt).exp();
        100.0 * (1.0 - (-k * 3600.0).exp())
    };
    let curve = |ppm: f64| (0..=45).map(move |n| f64::from(n).mul_add(10.0, 150.0)).map(move |t| (t, share(t, ppm)));
    LinePlot {
        title: "Below 250 °C next to nothing burns; above 550 °C nearly all of it is gone in an hour.".to_owned(),
        across: axis("Outlet temperature", "°C", 150.0, 600.0, 50.0),
        up: axis("Soot burnt in one hour", "%", 0.0, 100.0, 20.0),
        stripes: vec![Stripe { across: true, from: 250.0, to: 450.0, name: "work can clean".to_owned() }],
        lines: vec![line("with 300 ppm NO2", curve(300.0)), line("without NO2", curve(0.0))],
    }
}

fn duties() -> LinePlot {
    let toward = |balance: f64, rate: f64| {
        (0..=48).map(f64::from).map(move |h| (h, balance + (40.0 - balance) * (-rate * h).exp()))
    };
    LinePlot {
        title: "Light work fills the filter in a day; heavy work empties it.".to_owned(),
        across: axis("Hours at work", "h", 0.0, 48.0, 8.0),
        up: axis("Soot load", "%", 0.0, 140.0, 20.0),
        stripes: vec![
            Stripe { across: false, from: 80.0, to: 120.0, name: "very high".to_owned() },
            Stripe { across: false, from: 120.0, to: 140.0, name: "extreme".to_owned() },
        ],
        lines: vec![
            line("light duty", toward(900.0, 0.0027)),
            line("mixed duty", toward(88.0, 0.02)),
            line("heavy duty", toward(12.0, 0.12)),
        ],
    }
}

fn lamps() -> Value {
    json!([
        {"id": "exhaust_hot", "word": "exhaust-hot lamp", "lit": false}, {"id": "filter", "word": "filter lamp", "lit": true},
        {"id": "warning", "word": "amber warning lamp", "lit": true}, {"id": "stop", "word": "red stop lamp", "lit": true},
        {"id": "inhibit", "word": "inhibit lamp", "lit": false},
    ])
}

fn cautions() -> Value {
    json!([
        {"signal": "danger", "what": "Exhaust gas in a closed space.", "consequence": "Carbon monoxide kills within minutes and cannot be smelled.", "avoid": "Start a parked regeneration outdoors only."},
        {"signal": "warning", "what": "Gas of up to 600 °C at the outlet.", "consequence": "Straw, dust and fuel can catch fire.", "avoid": "Park on bare ground, clear of anything that burns, and stay with the machine."},
        {"signal": "caution", "what": "Hot metal after the regeneration.", "consequence": "Touching it burns the skin.", "avoid": "Let it cool before you reach in."},
        {"signal": "notice", "what": "Breaking off a regeneration.", "consequence": "It wastes fuel and leaves soot behind.", "avoid": "Let it finish when it is safe to."},
    ])
}

fn context(page: &Page, typed: &str) -> Value {
    let options = json!([
        {"value": "a", "text": "Drive out of the barn to bare ground, then start a parked regeneration.", "chosen": true},
        {"value": "b", "text": "Start a parked regeneration here, with the doors open.", "chosen": false},
        {"value": "c", "text": typed, "chosen": false},
        {"value": "d", "text": "Call service and do not use the machine, Abgasnachbehandlungseinrichtungsüberwachung.", "chosen": false},
    ]);
    let states = ["qualified", "expiring", "missing", "suspended", "none"];
    let columns = [
        "Lamps",
        "Bands",
        "Working clean",
        "Active regeneration",
        "Parked procedure",
        "Inhibit and derate",
        "Fire and burns",
        "Exhaust in closed spaces",
        "When to stop and call",
        "Soot against ash",
        "Telling the operator",
    ];
    let people: Vec<Value> = ["Mara Eklund", "Tobias Achterberg-Wilmsdorf", typed].iter().enumerate().map(|(n, name)| json!({
        "name": name, "href": "/people/7", "note": "North yard",
        "cells": columns.iter().enumerate().map(|(c, _)| json!({"state": states[(c * (n + 2) + n) % 5], "note": "until 24 Nov 2027"})).collect::<Vec<_>>(),
    })).collect();
    json!({
        "page": page, "typed": typed, "options": options, "lamps": lamps(), "cautions": cautions(), "at": AT,
        "facts": [
            {"label": "Machine", "value": "TL-60 telehandler"}, {"label": "Soot load", "value": "95 %"}, {"label": "Outlet", "value": "210 °C"},
            {"label": "Engine speed", "value": "850 rpm"}, {"label": "Since the last regeneration", "value": "61 h"}, {"label": "Place", "value": "straw barn"},
        ],
        "gauge": gauge(Some(95.0)), "tight": gauge(Some(78.5)), "burnt": burnt(), "duties": duties(),
        "story": "You are stacking bales in the straw barn. The filter lamp and the amber warning lamp have come on together. The panel shows a soot load of 95 %.",
        "deadline": {"seconds_left": 1500, "text": "25 min left"},
        "explained": [
            {"text": "Drive out of the barn to bare ground, then start a parked regeneration.", "chosen": false, "right": true, "why": "95 % lies between 80 % and 120 %: a parked regeneration is called for, in a place made safe first."},
            {"text": typed, "chosen": true, "right": false, "why": "Gas of up to 600 °C leaves the outlet; straw catches fire far below that."},
            {"text": "Work on and wait for the active regeneration.", "chosen": false, "right": false, "why": "Above 80 % the machine no longer starts one by itself."},
        ],
        "compared": [
            {"rule": "A parked regeneration is called for", "reading": "95 %", "limit": "80 to 120 %"},
            {"rule": "The place must be made safe first", "reading": "straw barn", "limit": "outdoors, bare ground"},
        ],
        "believed": "That open doors make a barn a safe place.",
        "rows": [
            {"value": "cool", "text": "Let it cool before you touch it", "position": 1},
            {"value": "park", "text": "Park on level, bare ground", "position": 2},
            {"value": "brake", "text": "Set the park brake, shift to neutral", "position": 3},
            {"value": "start", "text": "Start it and stay with the machine", "position": 4},
        ],
        "entries": [
            {"href": "/learn/lamps", "title": "What the lamps say", "note": "3 lessons, about 20 min", "state": "Lesson 2 of 3, read"},
            {"href": "/learn/parked", "title": "Parked regeneration", "note": "4 lessons, about 30 min", "state": "not begun"},
            {"href": "/learn/ash", "title": typed, "note": null, "state": null},
        ],
        "branches": [{"value": "a", "text": "North yard"}, {"value": "b", "text": "River depot"}],
        "template": "draw soot = 85 % .. 115 % step 1 %\nrequire soot outside 2 % of edge\nask route",
        "columns": columns.iter().map(|name| json!({"name": name})).collect::<Vec<_>>(),
        "people": people,
    })
}

fn page() -> Page {
    let place =
        |label: &str, current| Place { label: label.to_owned(), href: format!("/{}", label.to_lowercase()), current };
    Page {
        title: "Specimen".to_owned(),
        me: Some(Me {
            name: "M. Example".to_owned(),
            role_name: "Technician".to_owned(),
            form_token: "specimen-token".to_owned(),
            places: vec![
                place("Learn", false),
                place("Practise", true),
                place("Examine", false),
                place("Record", false),
            ],
        }),
        notice: Some("Your password is changed.".to_owned()),
        errors: Vec::new(),
    }
}

fn wrong_page() -> Page {
    let error = |field: &str, message: &str| FieldError { field: field.to_owned(), message: message.to_owned() };
    Page {
        errors: vec![
            error("email", "An e-mail address has an @ in it."),
            error("hours", "Write the hours as a number."),
        ],
        notice: None,
        ..page()
    }
}

fn render(page: &Page, typed: &str) -> String {
    Views::load().unwrap().render("pages/specimen.html", &context(page, typed)).unwrap()
}

/// The templates and assets as they lie in the tree, with their paths under `templates/`.
fn sources() -> Vec<(String, String)> {
    fn walk(folder: &Path, root: &Path, found: &mut Vec<(String, String)>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, root, found);
            } else if let Ok(text) = std::fs::read_to_string(&path) {
                found.push((path.strip_prefix(root).unwrap().to_string_lossy().into_owned(), text));
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
    let mut found = Vec::new();
    walk(&root, &root, &mut found);
    assert!(found.len() > 15, "only {} templates and assets found", found.len());
    found
}

/// Every value between `open` and the next `close`.
fn between<'a>(text: &'a str, open: &str, close: char) -> Vec<&'a str> {
    text.split(open).skip(1).filter_map(|rest| rest.split(close).next()).collect()
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
fn the_drawings_escape_their_names() {
    let mut gauge = gauge(Some(95.0));
    gauge.bands[0].name = HOSTILE.to_owned();
    let mut plot = duties();
    plot.lines[0].name = HOSTILE.to_owned();
    plot.title = HOSTILE.to_owned();
    for drawing in [gauge.draw(), plot.draw()] {
        assert!(!drawing.contains("<script") && !drawing.contains("\" onfocus"), "{drawing}");
    }
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
        let share = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
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
    pairs.extend(["danger", "warn", "good", "info"].map(|signal| ("on-signal", signal)));
    pairs.extend(["sign-red", "sign-orange", "sign-blue"].map(|sign| ("on-sign", sign)));
    for text in ["ink", "soft", "act", "danger", "warn", "good", "info"] {
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
fn a_drawing_says_its_numbers_in_words() {
    assert_eq!(
        gauge(Some(95.0)).words(),
        "Soot load 95 %, very high. normal: 0 to 77 %. high: 77 to 80 %. very high: 80 to 120 %. extreme: from 120 %."
    );
    let words = duties().words();
    // Worked by hand: 12 + (40 - 12) exp(-0.12 * 8) = 22.72.
    assert!(words.contains("heavy duty: 40 % at 0 h, 22.72 % at 8 h"), "{words}");
    let drawn = duties().draw();
    assert!(
        drawn.contains(&words) && drawn.contains("<td>22.72 %</td>"),
        "the words and the table belong to the drawing"
    );
}

#[test]
fn a_reading_on_an_edge_belongs_to_the_band_above_and_one_beyond_the_scale_keeps_its_number() {
    assert!(gauge(Some(80.0)).words().starts_with("Soot load 80 %, very high."));
    assert!(gauge(Some(79.9)).words().starts_with("Soot load 79.9 %, high."));
    let beyond = gauge(Some(180.0)).draw();
    assert!(beyond.contains(">180 %<"), "{beyond}");
    assert!(gauge(None).words().starts_with("Soot load, without a reading."));
}

#[test]
fn a_letter_greets_in_both_forms_and_only_the_marked_up_one_escapes() {
    let views = Views::load().unwrap();
    let letter = json!({"subject": "Result <1>", "name": "Ann & Bo", "organisation": "Hollowfield Plant"});
    assert!(views.render("mail/layout.txt", &letter).unwrap().starts_with("Ann & Bo,"));
    let html = views.render("mail/layout.html", &letter).unwrap();
    assert!(html.contains("Ann &amp; Bo,") && html.contains("<h1>Result &lt;1&gt;</h1>"), "{html}");
}

#[test]
fn the_lessons_plots_are_in_the_readers_unit_with_the_bands_of_the_gauge() {
    let curve = vec![line("without NO2", [(150.0, 0.0), (600.0, 100.0)])];
    let plot = burnt_in_one_hour("t", curve, TemperatureUnit::Fahrenheit);
    // 150 °C = 302 °F and 600 °C = 1112 °F (F = C x 1.8 + 32), so the axis has to run from 200 to 1200.
    assert_eq!((plot.across.from, plot.across.to, plot.across.step), (200.0, 1200.0, 200.0));
    assert_eq!(plot.lines[0].points[1].0, 1112.0);
    let plot = load_against_hours("t", duties().lines, &gauge(None));
    let stripes: Vec<_> = plot.stripes.iter().map(|stripe| (stripe.name.as_str(), stripe.from, stripe.to)).collect();
    assert_eq!(stripes, [("high", 77.0, 80.0), ("very high", 80.0, 120.0), ("extreme", 120.0, 140.0)]);
    assert_eq!((plot.across.from, plot.across.to, plot.across.step), (0.0, 50.0, 10.0));
    assert_eq!((plot.up.to, plot.up.step), (140.0, 20.0));
}

#[test]
fn a_line_is_cut_where_it_leaves_the_plot() {
    let plot = LinePlot {
        title: "t".to_owned(),
        across: axis("a", "", 0.0, 10.0, 5.0),
        up: axis("u", "", 0.0, 100.0, 50.0),
        stripes: Vec::new(),
        lines: vec![line("steep", [(0.0, 0.0), (10.0, 200.0)])],
    };
    let drawn = plot.draw();
    let path = between(&drawn, "class=\"line line-1\" d=\"", '"')[0].to_owned();
    let numbers: Vec<f64> = path.trim_start_matches('M').split([' ', 'L']).map(|n| n.parse().unwrap()).collect();
    let [x0, y0, x1, y1] = numbers[..] else { panic!("{path}") };
    let grid: Vec<&str> = between(&drawn, "class=\"grid\" ", '/');
    let edge = |name: &str| between(grid[0], &format!("{name}=\""), '"')[0].parse::<f64>().unwrap();
    // 200 at the far end means 100, the top, half way across.
    assert!((x1 - (edge("x1") + edge("x2")) / 2.0).abs() < 0.11 && (x0 - edge("x1")).abs() < 0.11, "{path}");
    assert!(y1 < y0);
}
