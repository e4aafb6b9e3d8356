//! Who may use whom.

use super::code::{bare, paths};
use super::{File, below, none, one, planted, rust};

/// A layer, and paths that no file in it may name, each also with what lies below it.
struct Layer {
    folder: &'static str,
    never: &'static [&'static str],
}

const LAYERS: [Layer; 13] = [
    Layer {
        folder: "src/domain/",
        never: &[
            "std::fs",
            "std::net",
            "std::time",
            "std::env",
            "std::thread",
            "std::process",
            "std::io",
            "tokio",
            "rand::rng",
            "rand::random",
            "rand::rngs::SysRng",
            "sootmark",
        ],
    },
    Layer {
        folder: "src/domain/aftertreatment/",
        never: &["crate::scenario", "crate::bank", "crate::examination", "crate::certification", "crate::people"],
    },
    Layer {
        folder: "src/domain/scenario/",
        never: &["crate::bank", "crate::examination", "crate::certification", "crate::people"],
    },
    Layer { folder: "src/domain/bank/", never: &["crate::certification", "crate::people"] },
    Layer { folder: "src/domain/examination/", never: &["crate::certification", "crate::people"] },
    Layer {
        folder: "src/domain/document/",
        never: &["crate::aftertreatment", "crate::scenario", "crate::bank", "crate::examination", "crate::people"],
    },
    Layer {
        folder: "src/store/",
        never: &[
            "crate::actions",
            "crate::mail",
            "crate::web",
            "crate::cli",
            "crate::config",
            "crate::clock",
            "actix_web",
        ],
    },
    Layer { folder: "src/actions/", never: &["crate::cli", "crate::web::pages", "crate::store::entity", "actix_web"] },
    Layer { folder: "src/mail/", never: &["crate::cli", "crate::web::pages", "crate::store::entity", "actix_web"] },
    Layer {
        folder: "src/exchange/",
        never: &[
            "crate::store",
            "crate::actions",
            "crate::mail",
            "crate::web",
            "crate::cli",
            "crate::config",
            "crate::clock",
            "crate::bank_files",
            "std::fs",
            "std::env",
            "std::time",
            "actix_web",
            "sea_orm",
        ],
    },
    Layer { folder: "src/web/", never: &["crate::cli", "crate::store::entity", "sea_orm"] },
    Layer { folder: "src/cli/", never: &["crate::web::pages", "crate::store::entity", "sea_orm"] },
    Layer {
        folder: "tests/reference/",
        never: &["sootmark::store", "sootmark::actions", "sootmark::web", "sootmark::cli"],
    },
];

fn crossed(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files {
        let named = paths(&file.path, &bare(&file.text));
        for layer in LAYERS.iter().filter(|layer| file.path.starts_with(layer.folder)) {
            for path in &named {
                let never = |never: &&&str| path == **never || path.starts_with(&format!("{never}::"));
                if let Some(never) = layer.never.iter().find(never) {
                    breaches.push(format!("{}: names {path}; {} never uses {never}", file.path, layer.folder));
                }
            }
        }
    }
    breaches
}

#[test]
fn every_layer_uses_only_what_lies_below_it() {
    let files = rust();
    for layer in LAYERS {
        assert!(files.iter().any(|file| file.path.starts_with(layer.folder)), "{} is empty", layer.folder);
    }
    let deed = files.iter().find(|file| file.path == "src/actions/sign_in.rs").expect("a file with known paths");
    let named = paths(&deed.path, &bare(&deed.text));
    assert!(named.iter().any(|path| path.starts_with("crate::store::")), "real code is seen: {named:?}");
    none(&crossed(&files));
}

#[test]
fn a_crossed_layer_is_found_however_it_is_written() {
    for (path, text, says) in [
        ("src/web/pages/a.rs", "use crate::store::entity::person;", "crate::store::entity::person"),
        ("src/web/pages/a.rs", "use crate::{actions, store::{read, entity}};", "crate::store::entity"),
        ("src/web/a.rs", "fn f() { crate::store::entity::person::all() }", "never uses crate::store::entity"),
        ("src/web/a.rs", "use super::super::store::entity as rows;", "never uses crate::store::entity"),
        ("src/store/a.rs", "use super::super::actions::sign_in;", "crate::actions::sign_in"),
        ("src/domain/aftertreatment/a.rs", "use crate::scenario::Kind;", "crate::scenario::Kind"),
        ("src/domain/aftertreatment/maps/a.rs", "use super::super::super::bank::Bank;", "crate::bank::Bank"),
        ("src/exchange/import/a.rs", "use super::super::super::store::write;", "crate::store::write"),
        ("src/exchange/a.rs", "let text = std::fs::read(name);", "never uses std::fs"),
        ("src/domain/units.rs", "let now = std::time::Instant::now();", "never uses std::time"),
    ] {
        one(&crossed(&planted(path, text)), says);
    }
    let remark = "// crate::store::entity is not used here\nlet text = \"crate::store::entity\";";
    none(&crossed(&planted("src/web/a.rs", remark)));
    none(&crossed(&planted("src/web/a.rs", "use crate::store::entity_name;")));
}

/// Small libraries that only compute. What is not in the domain's Cargo.toml cannot be used by it: the compiler sees to that.
const DOMAIN_MAY_USE: [&str; 8] = ["libm", "rand", "serde", "serde_json", "sha2", "thiserror", "toml", "winnow"];

fn unlisted(cargo_toml: &str) -> Vec<String> {
    let mut heading = "";
    let mut breaches = Vec::new();
    for line in cargo_toml.lines().map(str::trim) {
        if line.starts_with('[') {
            heading = line;
            // [dependencies.name] is another way to write one.
            if let Some(name) = line.strip_prefix("[dependencies.") {
                breaches.extend(refused(name.trim_end_matches(']')));
            }
        } else if heading.ends_with("dependencies]") && !heading.contains("dev-") && !line.starts_with('#') {
            let name = line.split(['=', '.', ' ']).next().unwrap_or_default();
            breaches.extend(Some(name).filter(|name| !name.is_empty()).and_then(refused));
        }
    }
    breaches
}

fn refused(name: &str) -> Option<String> {
    (!DOMAIN_MAY_USE.contains(&name)).then(|| format!("src/domain/Cargo.toml: {name} is not on the domain's list"))
}

#[test]
fn the_domain_uses_only_small_libraries_that_compute() {
    let cargo = below("src/domain").into_iter().find(|file| file.path == "src/domain/Cargo.toml").expect("Cargo.toml");
    assert!(cargo.text.contains("[dependencies]"), "there is something to look at");
    none(&unlisted(&cargo.text));
}

#[test]
fn a_library_that_is_not_on_the_list_is_found() {
    none(&unlisted("[dependencies]\nserde.workspace = true\n\n[dev-dependencies]\nproptest = \"1\"\n"));
    one(&unlisted("[dependencies]\nlibm = \"0.2\"\ntokio = \"1\"\n"), "tokio");
    one(&unlisted("[dependencies.reqwest]\nversion = \"1\"\n"), "reqwest");
    one(&unlisted("[target.'cfg(unix)'.dependencies]\nlibc = \"1\"\n"), "libc");
}
