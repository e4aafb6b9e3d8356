//! The words and drawings that templates may ask for: numbers with their units, dates, gauges, plots.
//!
//! A filter never guesses: a value of the wrong kind fails the page, and a moment is never shown without a time zone.

use super::assets;
use crate::domain::units::plain_number;
use crate::web::plot::{gauge::Gauge, line::LinePlot, svg::escaped};
use jiff::{Timestamp, ZonedDateTime, tz::TimeZone};
use serde::de::DeserializeOwned;
use tera::{Error, Kwargs, State, Tera, TeraResult, Value};

/// Gives the filters and functions to the engine; call before the templates are added.
pub(super) fn register(tera: &mut Tera) {
    tera.register_filter("soot", soot);
    tera.register_filter("number", number);
    tera.register_filter("temperature", temperature);
    tera.register_filter("hours", hours);
    tera.register_filter("minutes", minutes);
    tera.register_filter("date", date);
    tera.register_filter("time_of_day", time_of_day);
    tera.register_filter("mail_address", mail_address);
    tera.register_filter("draw_gauge", draw_gauge);
    tera.register_filter("draw_plot", draw_plot);
    tera.register_function("asset", asset);
}

/// `95.2 | soot` is "95 %": whole percent, as a panel shows it.
fn soot(percent: f64, _: Kwargs, _: &State) -> TeraResult<String> {
    Ok(format!("{} %", plain_number(finite(percent)?.round())))
}

/// `12345.678 | number(decimals=1)` is "12 345.7"; without `decimals` at most two, as many as needed.
fn number(value: f64, options: Kwargs, _: &State) -> TeraResult<String> {
    let value = finite(value)?;
    let digits = match options.get::<u8>("decimals")? {
        Some(decimals) => format!("{value:.0$}", usize::from(decimals.min(6))),
        None => plain_number(value),
    };
    Ok(grouped(&digits))
}

/// A temperature in deg C, in the reader's unit: `600 | temperature(unit="fahrenheit")` is "1112 °F".
fn temperature(celsius: f64, options: Kwargs, _: &State) -> TeraResult<String> {
    let celsius = finite(celsius)?;
    match options.get::<&str>("unit")?.unwrap_or("celsius") {
        "celsius" => Ok(format!("{} °C", plain_number(celsius.round()))),
        "fahrenheit" => Ok(format!("{} °F", plain_number((celsius * 1.8 + 32.0).round()))),
        other => Err(Error::message(format!("temperature: the unit is celsius or fahrenheit, not {other}"))),
    }
}

/// Hours with at most one decimal: "17.7 h".
fn hours(value: f64, _: Kwargs, _: &State) -> TeraResult<String> {
    Ok(format!("{} h", grouped(&plain_number((finite(value)? * 10.0).round() / 10.0))))
}

/// Whole minutes: "30 min".
fn minutes(value: f64, _: Kwargs, _: &State) -> TeraResult<String> {
    Ok(format!("{} min", grouped(&plain_number(finite(value)?.round()))))
}

/// Microseconds since 1970 UTC, in a time zone: `at | date(zone="Europe/Berlin")` is "24 Nov 2026".
fn date(microseconds: i64, options: Kwargs, _: &State) -> TeraResult<String> {
    Ok(local(microseconds, &options)?.strftime("%-d %b %Y").to_string())
}

/// The same moment's time of day, "14:03"; with `seconds=true`, "14:03:12".
fn time_of_day(microseconds: i64, options: Kwargs, _: &State) -> TeraResult<String> {
    let format = if options.get::<bool>("seconds")?.unwrap_or(false) { "%H:%M:%S" } else { "%H:%M" };
    Ok(local(microseconds, &options)?.strftime(format).to_string())
}

/// An e-mail address that a narrow column breaks where it may be read in two: before the `@` and before each dot after it.
fn mail_address(of: &str, _: Kwargs, _: &State) -> Value {
    let (person, domain) = of.rsplit_once('@').map_or((of, None), |(person, domain)| (person, Some(domain)));
    let domain = domain.map_or_else(String::new, |domain| format!("<wbr>@{}", escaped(domain).replace('.', "<wbr>.")));
    Value::safe_string(&format!("{}{domain}", escaped(person)))
}

/// A gauge's numbers as a drawing.
fn draw_gauge(of: Value, _: Kwargs, _: &State) -> TeraResult<Value> {
    Ok(Value::safe_string(&read::<Gauge>(&of, "draw_gauge")?.draw()))
}

/// A plot's numbers as a drawing.
fn draw_plot(of: Value, _: Kwargs, _: &State) -> TeraResult<Value> {
    Ok(Value::safe_string(&read::<LinePlot>(&of, "draw_plot")?.draw()))
}

/// `asset(name="sheet.css")`: where the browser finds it.
fn asset(options: Kwargs, _: &State) -> TeraResult<&'static str> {
    let name = options.must_get::<&str>("name")?;
    assets::address(name).ok_or_else(|| Error::message(format!("there is no asset called {name}")))
}

fn finite(value: f64) -> TeraResult<f64> {
    if value.is_finite() { Ok(value) } else { Err(Error::message(format!("{value} is not a number to show"))) }
}

/// Digits in groups of three from five digits on, with a space that does not break.
fn grouped(digits: &str) -> String {
    let (sign, rest) = digits.strip_prefix('-').map_or(("", digits), |rest| ("-", rest));
    let (whole, fraction) = rest.split_once('.').map_or((rest, None), |(whole, part)| (whole, Some(part)));
    let mut text = String::from(sign);
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && whole.len() >= 5 && (whole.len() - at).is_multiple_of(3) {
            text.push('\u{a0}');
        }
        text.push(digit);
    }
    if let Some(part) = fraction {
        text.push('.');
        text.push_str(part);
    }
    text
}

fn local(microseconds: i64, options: &Kwargs) -> TeraResult<ZonedDateTime> {
    let name = options.must_get::<&str>("zone")?;
    let zone = TimeZone::get(name).map_err(|error| Error::message(format!("time zone {name}: {error}")))?;
    let moment = Timestamp::from_microsecond(microseconds).map_err(|error| Error::message(error.to_string()))?;
    Ok(moment.to_zoned_datetime(zone))
}

fn read<T: DeserializeOwned>(value: &Value, what: &str) -> TeraResult<T> {
    serde_json::to_value(value)
        .and_then(serde_json::from_value)
        .map_err(|error| Error::message(format!("{what}: {error}")))
}
