//! What the specimen page shows: an invented machine, person and question.

use serde_json::{Value, json};
use sootmark::web::plot::axis::Axis;
use sootmark::web::plot::gauge::{Gauge, GaugeBand, Tone};
use sootmark::web::plot::line::{Line, LinePlot, Stripe};
use sootmark::web::view::{FieldError, Me, Page, Place};

/// What somebody might type to break a page.
pub(super) const HOSTILE: &str = r#"</textarea><script>alert(1)</script>" onfocus="x' & {{ 7 * 7 }}"#;
pub(super) const AT: i64 = 1_795_525_392_000_000; // 24 Nov 2026, 13:03:12 UTC

pub(super) fn band(name: &str, from_percent: f64, tone: Tone) -> GaugeBand {
    GaugeBand { name: name.to_owned(), from_percent, tone }
}

pub(super) fn gauge(reading_percent: Option<f64>) -> Gauge {
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

pub(super) fn axis(label: &str, unit: &str, from: f64, to: f64, step: f64) -> Axis {
    Axis { label: label.to_owned(), unit: unit.to_owned(), from, to, step }
}

pub(super) fn line(name: &str, points: impl IntoIterator<Item = (f64, f64)>) -> Line {
    Line { name: name.to_owned(), points: points.into_iter().collect() }
}

/// Share of soot burnt in one hour, with the parameters of Bai et al. 2016 as this project refits them: a fixture for the drawing, not a check.
pub(super) fn burnt() -> LinePlot {
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

pub(super) fn duties() -> LinePlot {
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

pub(super) fn lamps() -> Value {
    json!([
        {"id": "exhaust_hot", "word": "exhaust-hot lamp", "lit": false}, {"id": "filter", "word": "filter lamp", "lit": true},
        {"id": "warning", "word": "amber warning lamp", "lit": true}, {"id": "stop", "word": "red stop lamp", "lit": true},
        {"id": "inhibit", "word": "inhibit lamp", "lit": false},
    ])
}

pub(super) fn cautions() -> Value {
    json!([
        {"signal": "danger", "what": "Exhaust gas in a closed space.", "consequence": "Carbon monoxide kills within minutes and cannot be smelled.", "avoid": "Start a parked regeneration outdoors only."},
        {"signal": "warning", "what": "Gas of up to 600 °C at the outlet.", "consequence": "Straw, dust and fuel can catch fire.", "avoid": "Park on bare ground, clear of anything that burns, and stay with the machine."},
        {"signal": "caution", "what": "Hot metal after the regeneration.", "consequence": "Touching it burns the skin.", "avoid": "Let it cool before you reach in."},
        {"signal": "notice", "what": "Breaking off a regeneration.", "consequence": "It wastes fuel and leaves soot behind.", "avoid": "Let it finish when it is safe to."},
    ])
}

pub(super) fn context(page: &Page, typed: &str) -> Value {
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
            {"label": "Machine", "value": "Tarrel 60 telehandler"}, {"label": "Soot load", "value": "95 %"}, {"label": "Outlet", "value": "210 °C"},
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

pub(super) fn page() -> Page {
    let place =
        |label: &str, current| Place { label: label.to_owned(), href: format!("/{}", label.to_lowercase()), current };
    Page {
        title: "Specimen".to_owned(),
        me: Some(Me {
            id: "1".to_owned(),
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

pub(super) fn wrong_page() -> Page {
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

/// Every value between `open` and the next `close`.
pub(super) fn between<'a>(text: &'a str, open: &str, close: char) -> Vec<&'a str> {
    text.split(open).skip(1).filter_map(|rest| rest.split(close).next()).collect()
}
