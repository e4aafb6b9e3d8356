//! Just enough of Rust to look at a file's code without what stands in its remarks and its texts.

/// The code with remarks and the insides of texts blanked; lines stay where they are.
pub(super) fn bare(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let mut bare = String::with_capacity(text.len());
    let mut at = 0;
    while at < letters.len() {
        let end = end_of_blank(&letters, at);
        if end > at {
            bare.extend(letters[at..end].iter().map(|letter| if *letter == '\n' { '\n' } else { ' ' }));
            at = end;
        } else {
            bare.push(letters[at]);
            at += 1;
        }
    }
    bare
}

/// Where the remark, the text or the letter that begins here has ended; here, when none begins.
fn end_of_blank(letters: &[char], at: usize) -> usize {
    let here = |ahead: usize| letters.get(at + ahead).copied().unwrap_or('\n');
    let word_before = at > 0 && (letters[at - 1].is_alphanumeric() || letters[at - 1] == '_');
    match (here(0), here(1)) {
        ('/', '/') => find(letters, at, "\n"),
        ('/', '*') => find(letters, at + 2, "*/") + 2,
        ('"', _) => end_of_text(letters, at + 1),
        ('r', '"' | '#') if !word_before || letters[at - 1] == 'b' => {
            let hashes = letters[at + 1..].iter().take_while(|letter| **letter == '#').count();
            if here(1 + hashes) != '"' {
                return at;
            }
            let close = format!("\"{}", "#".repeat(hashes));
            find(letters, at + 2 + hashes, &close) + close.len()
        }
        // A letter, and not the name of a lifetime.
        ('\'', '\\') => find(letters, at + 3, "'") + 1,
        ('\'', _) if here(2) == '\'' => at + 3,
        _ => at,
    }
    .min(letters.len())
}

fn end_of_text(letters: &[char], mut at: usize) -> usize {
    while at < letters.len() && letters[at] != '"' {
        at += if letters[at] == '\\' { 2 } else { 1 };
    }
    at + 1
}

fn find(letters: &[char], from: usize, what: &str) -> usize {
    let what: Vec<char> = what.chars().collect();
    (from..letters.len()).find(|at| letters[*at..].starts_with(&what)).unwrap_or(letters.len())
}

/// Every path that bare code names, from the crate's root: `use` trees unfolded, `super::` resolved by the file's place.
/// Paths that begin elsewhere, as in another crate, are given as they stand.
pub(super) fn paths(file: &str, bare: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = bare;
    while let Some(start) = next_path(rest) {
        let (tree, after) = rest[start..].split_at(end_of_tree(&rest[start..]));
        unfold("", tree, &mut found);
        rest = after;
    }
    found.into_iter().map(|path| from_root(file, &path)).collect()
}

/// Where the next word begins that has `::` behind it.
fn next_path(code: &str) -> Option<usize> {
    let at = code.find("::")?;
    let word = |letter: char| letter.is_alphanumeric() || letter == '_';
    Some(code[..at].rfind(|letter| !word(letter)).map_or(0, |before| before + 1).min(at))
}

/// How far a path goes, its braces included.
fn end_of_tree(code: &str) -> usize {
    let (mut depth, mut behind_colons) = (0_u32, false);
    for (at, letter) in code.char_indices() {
        match letter {
            '{' if depth > 0 || behind_colons => depth += 1,
            '}' if depth > 0 => {
                depth -= 1;
                if depth == 0 {
                    return at + 1;
                }
            }
            _ if depth > 0 || letter.is_alphanumeric() || matches!(letter, '_' | ':' | '*') => {}
            _ => return at.max(1),
        }
        behind_colons = letter == ':';
    }
    code.len()
}

fn unfold(before: &str, tree: &str, found: &mut Vec<String>) {
    let Some((head, inner)) = tree.split_once('{') else {
        let name = tree.split_whitespace().next().unwrap_or_default();
        found.push(format!("{before}{name}").trim_end_matches("::self").to_owned());
        return;
    };
    let before = format!("{before}{}", head.trim());
    let inner = inner.trim_end().trim_end_matches('}');
    let (mut depth, mut start) = (0_u32, 0);
    for (at, letter) in inner.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' => depth = depth.saturating_sub(1),
            ',' if depth == 0 => {
                unfold(&before, inner[start..at].trim(), found);
                start = at + 1;
            }
            _ => {}
        }
    }
    if !inner[start..].trim().is_empty() {
        let last = inner[start..].trim();
        // The brace that closes an inner tree was cut off with the outer one.
        let missing = last.matches('{').count().saturating_sub(last.matches('}').count());
        unfold(&before, &format!("{last}{}", "}".repeat(missing)), found);
    }
}

fn from_root(file: &str, path: &str) -> String {
    if !path.starts_with("super::") {
        return path.to_owned();
    }
    let place = file.trim_start_matches("src/").trim_start_matches("domain/").trim_end_matches(".rs");
    let mut modules: Vec<&str> = place.split('/').filter(|module| !matches!(*module, "mod" | "lib" | "main")).collect();
    let mut rest = path;
    while let Some(after) = rest.strip_prefix("super::") {
        modules.pop();
        rest = after;
    }
    modules.insert(0, "crate");
    modules.push(rest);
    modules.join("::")
}

#[test]
fn remarks_and_texts_are_blanked_and_code_stays() {
    let code = "let a = \"x // \\\" y\"; // remark\nlet b: &'static str = r#\"z \" z\"#; /* c\nd */ let e = '\"'; let f = br\"g\";";
    let bare = bare(code);
    assert_eq!(bare.lines().count(), code.lines().count());
    let words: Vec<&str> = bare.split_whitespace().collect();
    assert_eq!(words.join(" "), "let a = ; let b: &'static str = ; let e = ; let f = b ;");
}

#[test]
fn paths_are_unfolded_and_resolved() {
    let code = "use crate::{store::{self, read::x}, web};\nuse super::super::mail as post;\nlet y = crate::config::Settings::z();";
    let found = paths("src/actions/close.rs", code);
    let wanted = ["crate::store", "crate::store::read::x", "crate::web", "crate::mail", "crate::config::Settings::z"];
    assert_eq!(found, wanted);
}
