//! A form as a browser reads it from a page: the fields that it would send, and where to. A choice that is still open is made:
//! the first of it.

use crate::support::client::Reply;

/// The fields of the form on a page that goes to an address, by itself or by one of its buttons, without the form token: the
/// small browser sends that of the page it saw last, which is the same.
pub(super) fn fields_to(page: &Reply, to: &str) -> Option<Vec<(String, String)>> {
    let forms = page.body.split("<form").skip(1).filter_map(|rest| rest.split("</form>").next());
    let action = |form: &&str| {
        let head = form.split('>').next().unwrap_or_default();
        let posts = attribute(head, "method").as_deref() == Some("post");
        posts && (attribute(head, "action").as_deref() == Some(to) || form.contains(&format!("formaction=\"{to}\"")))
    };
    forms.map(|form| form.replace("&#x2F;", "/")).find(|form| action(&form.as_str())).map(|form| fields(&form))
}

fn fields(form: &str) -> Vec<(String, String)> {
    let mut read: Vec<(String, String)> = Vec::new();
    for rest in form.split('<').skip(1) {
        let (tag, after) = rest.split_once('>').unwrap_or((rest, ""));
        let Some(name) = attribute(tag, "name").filter(|name| name != "form_token") else {
            option(tag, &mut read);
            continue;
        };
        let value = attribute(tag, "value").unwrap_or_default();
        let kind = attribute(tag, "type").unwrap_or_default();
        let chosen = tag.ends_with(" checked") || tag.contains(" checked ");
        let there = read.iter().position(|(other, _)| *other == name);
        match tag.split_whitespace().next() {
            Some("textarea") => read.push((name, plain(after.strip_prefix('\n').unwrap_or(after)))),
            Some("select") => read.push((name, String::new())),
            // Of a choice the first, or what is chosen already.
            Some("input") if kind == "radio" => match there {
                Some(at) if chosen => read[at].1 = value,
                Some(_) => {}
                None => read.push((name, value)),
            },
            Some("input") if kind == "checkbox" && !chosen => {}
            Some("input") => read.push((name, value)),
            _ => {}
        }
    }
    read
}

/// An option belongs to the select that came last: its first, or the selected one.
fn option(tag: &str, read: &mut [(String, String)]) {
    let is_option = tag.split_whitespace().next() == Some("option");
    if is_option
        && let (Some((_, of)), Some(value)) = (read.last_mut(), attribute(tag, "value"))
        && (of.is_empty() || tag.ends_with(" selected"))
    {
        *of = value;
    }
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
    rest.split_once('"').map(|(value, _)| plain(value))
}

/// Text without its escapes; the ampersand last.
fn plain(text: &str) -> String {
    [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#x27;", "'"), ("&#39;", "'"), ("&#x2F;", "/"), ("&amp;", "&")]
        .iter()
        .fold(text.to_owned(), |text, (escaped, letter)| text.replace(escaped, letter))
}
