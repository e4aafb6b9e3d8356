//! A number that runs over is a fault in every build: it never becomes another number by itself.

use super::{none, one, top_level};

/// What is wrong with the profiles of a Cargo.toml. Source: OWASP ASVS 5.0.0, 1.4.2.
fn runs_over(cargo: &str) -> Vec<String> {
    let mut section = "";
    let mut checked = false;
    let mut breaches = Vec::new();
    for line in cargo.lines().map(str::trim) {
        if line.starts_with('[') {
            section = line;
        }
        let Some(value) = line.strip_prefix("overflow-checks").map(|rest| rest.trim_start_matches([' ', '='])) else {
            continue;
        };
        checked |= section == "[profile.release]" && value == "true";
        if value != "true" {
            breaches.push(format!("{section}: numbers run over unseen"));
        }
    }
    if !checked {
        breaches.push("[profile.release]: overflow-checks = true is missing".to_owned());
    }
    breaches
}

#[test]
fn a_release_finds_a_number_that_runs_over() {
    let files = top_level();
    let cargo = files.iter().find(|file| file.path == "Cargo.toml").expect("Cargo.toml");
    none(&runs_over(&cargo.text));
}

#[test]
fn a_build_that_would_not_is_found() {
    one(&runs_over("[profile.release]\nlto = \"thin\""), "is missing");
    one(&runs_over("[profile.dev]\noverflow-checks = true"), "is missing");
    let both = "[profile.release]\noverflow-checks = true\n[profile.dev]\noverflow-checks=false";
    one(&runs_over(both), "[profile.dev]: numbers run over");
    none(&runs_over("[profile.release]\noverflow-checks = true\n"));
}
