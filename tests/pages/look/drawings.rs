//! The drawings: what they say in words, where they cut a line, whose unit and bands they use.

use super::specimen::{HOSTILE, axis, between, duties, gauge, line};
use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::units::TemperatureUnit;
use sootmark::web::plot::gauge::{Gauge, Tone};
use sootmark::web::plot::lesson::{burnt_in_one_hour, load_against_hours};
use sootmark::web::plot::line::LinePlot;

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

#[test]
fn every_machine_of_the_bank_has_a_gauge_that_shows_where_it_must_stop() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("question-bank/machines");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        let machine = Profile::read(&path.to_string_lossy(), &text).unwrap();
        let gauge = Gauge::of(&machine, Some(machine.stop_above_percent + 1.0));
        assert_eq!(gauge.bands.first().map(|band| band.tone), Some(Tone::Normal), "{}", machine.id);
        assert_eq!(gauge.bands.last().map(|band| band.tone), Some(Tone::Stop), "{}", machine.id);
        assert!(gauge.up_to_percent >= machine.stop_above_percent + 10.0, "{}", machine.id);
        assert!(gauge.words().contains(&machine.band(machine.stop_above_percent + 1.0).name), "{}", gauge.words());
        seen += 1;
    }
    assert!(seen >= 3, "only {seen} machines");
}
