//! What the scripts of the pages never do: keep something in the browser that is anybody's business, make markup or code out
//! of text, write into an object under a name that came from elsewhere.

use super::{File, below, none, one, planted};

/// Scripts, and templates, which hold none but are looked at too.
fn shown() -> Vec<File> {
    below("templates").into_iter().filter(|file| file.path.ends_with(".js") || file.path.ends_with(".html")).collect()
}

/// Where browsers keep things. Source: OWASP ASVS 5.0.0, 14.3.3.
const KEEPS: [&str; 7] =
    ["sessionStorage", "indexedDB", "caches", "cookieStore", "document.cookie", "openDatabase", "serviceWorker"];
/// All that may be done with the one store that is used: an address of this server without a value, its removal, its names.
const MAY: [&str; 3] = [
    "localStorage.setItem(mark + address, \"\")",
    "localStorage.removeItem(mark + address)",
    "Object.keys(localStorage)",
];

fn kept_in_browsers(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files {
        for (number, line) in file.text.lines().enumerate() {
            let at = format!("{}:{}", file.path, number + 1);
            let whole = |name: &&&str| {
                let after = |(at, _): (usize, &str)| line[at + name.len()..].chars().next();
                line.match_indices(**name).any(|hit| after(hit).is_none_or(|next| !next.is_alphanumeric()))
            };
            breaches.extend(KEEPS.iter().filter(whole).map(|name| format!("{at}: {name}")));
            let rest = MAY.iter().fold(line.to_owned(), |rest, may| rest.replace(may, ""));
            if rest.contains("localStorage") {
                breaches.push(format!("{at}: localStorage takes addresses without a value, and nothing else"));
            }
        }
    }
    breaches
}

#[test]
fn no_answer_and_no_name_stays_in_a_browser() {
    none(&kept_in_browsers(&shown()));
}

#[test]
fn what_would_stay_in_a_browser_is_found() {
    let found = |line: &str| kept_in_browsers(&planted("templates/assets/a.js", line));
    for name in KEEPS {
        one(&found(&format!("const a = {name};")), name);
    }
    one(&found("localStorage.setItem(mark + address, answer)"), "without a value");
    one(&found("localStorage.setItem(mark + address, \"\"); localStorage.a = b"), "without a value");
    none(&found("localStorage.setItem(mark + address, \"\"); // openDatabases, cachesize"));
}

/// Text that becomes markup or code (ASVS 5.0.0, 1.3.2, 3.2.2), and names that reach what all objects share (15.3.6).
const NEVER: [&str; 14] = [
    "innerHTML",
    "outerHTML",
    "insertAdjacentHTML",
    "document.write",
    "eval(",
    "Function(",
    "setTimeout(\"",
    "setInterval(\"",
    "__proto__",
    "prototype",
    "Object.assign",
    "Object.defineProperty",
    "Reflect.",
    "JSON.parse",
];

fn dangerous(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files.iter().filter(|file| file.path.ends_with(".js")) {
        for (number, line) in file.text.lines().enumerate() {
            let at = format!("{}:{}", file.path, number + 1);
            breaches.extend(NEVER.iter().filter(|name| line.contains(**name)).map(|name| format!("{at}: {name}")));
            // `a[b] = c`; a list taken apart by `const [a, b] = c` is none.
            let tight: String = line.split_whitespace().collect();
            let written = tight.match_indices("]=").any(|(end, _)| {
                let open = tight[..end].rfind('[').unwrap_or(0);
                let before = tight[..open].chars().next_back();
                !tight[end + 2..].starts_with('=')
                    && before.is_some_and(|before| before.is_alphanumeric() || ")]_.".contains(before))
                    && !["const", "let"].iter().any(|word| tight[..open].ends_with(word))
            });
            if written {
                breaches.push(format!("{at}: a value is written under a name that is worked out"));
            }
            if line.contains("for (") && line.contains(" in ") && !line.contains(" of ") {
                breaches.push(format!("{at}: for ... in walks what all objects share"));
            }
        }
    }
    breaches
}

#[test]
fn no_script_makes_markup_or_code_or_reaches_what_objects_share() {
    none(&dangerous(&shown()));
}

#[test]
fn a_script_that_does_is_found() {
    let found = |line: &str| dangerous(&planted("templates/assets/a.js", line));
    for name in NEVER {
        one(&found(&format!("a.{name}b")), name);
    }
    one(&found("all[name] = value;"), "worked out");
    one(&found("all[name][other] = value;"), "worked out");
    one(&found("for (const name in all) go();"), "walks");
    none(&found("const [up, down] = both; if (all[0] === b) list[at].className = \"a\";"));
}
