//! Where a request comes from, and where a reader may be sent back to.

use crate::config::Settings;
use crate::store::sessions::Device;
use actix_web::HttpRequest;
use actix_web::http::header::USER_AGENT;

/// The reader's network address, for the delay after wrong passwords.
///
/// Behind a proxy it is the last entry of `X-Forwarded-For`: the one that the proxy itself wrote. Earlier entries are
/// whatever the sender made up.
pub(crate) fn of_reader(request: &HttpRequest, settings: &Settings) -> String {
    let forwarded = || {
        let header = request.headers().get_all("x-forwarded-for").last()?.to_str().ok()?;
        header.rsplit(',').next().map(|last| last.trim().to_owned()).filter(|last| !last.is_empty())
    };
    let peer = || request.peer_addr().map(|peer| peer.ip().to_string());
    settings.behind_proxy.then(forwarded).flatten().or_else(peer).unwrap_or_default()
}

/// Roughly what a request was sent from, as far as the browser says so itself.
pub(crate) fn device(request: &HttpRequest) -> Device {
    match request.headers().get(USER_AGENT).and_then(|agent| agent.to_str().ok()) {
        // Common practice, no published source: browsers of things that are held in a hand have "Mobi" in their names.
        Some(agent) if agent.contains("Mobi") => Device::Phone,
        Some(agent) if agent.starts_with("Mozilla/") => Device::Computer,
        _ => Device::Unknown,
    }
}

/// A path on this server, or `None` for anything that could lead elsewhere.
pub(crate) fn own_path(next: &str) -> Option<&str> {
    let own = next.starts_with('/')
        && !next.starts_with("//")
        && !next.contains(['\\', '#'])
        && next.bytes().all(|byte| byte.is_ascii_graphic())
        && !next.starts_with("/sign-");
    own.then_some(next)
}

/// A text as one value of a query string.
pub(crate) fn in_query(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn readers_are_only_sent_to_our_own_pages() {
        for good in ["/", "/people?page=2", "/learn/lamps"] {
            assert_eq!(own_path(good), Some(good));
        }
        for bad in
            ["", "people", "//example.org", "/\\example.org", "https://example.org", "/a\r\nb", "/sign-out", "/ä"]
        {
            assert_eq!(own_path(bad), None, "{bad:?}");
        }
    }

    #[test]
    fn behind_a_proxy_the_reader_is_whom_the_proxy_saw() {
        let request = actix_web::test::TestRequest::get()
            .peer_addr(([127, 0, 0, 1], 4000).into())
            .insert_header(("x-forwarded-for", "203.0.113.9, 198.51.100.7"))
            .to_http_request();
        let check = |behind_proxy, expected: &str| {
            assert_eq!(of_reader(&request, &Settings { behind_proxy, ..Settings::default() }), expected);
        };
        check(true, "198.51.100.7");
        check(false, "127.0.0.1");
    }

    #[test]
    fn a_query_value_survives_the_way_there_and_back() {
        let back =
            actix_web::web::Query::<Vec<(String, String)>>::from_query(&format!("next={}", in_query("/a?b=c&d=é")));
        assert_eq!(back.unwrap().into_inner(), [("next".to_owned(), "/a?b=c&d=é".to_owned())]);
    }

    proptest! {
        #[test]
        fn no_text_leads_elsewhere(text in ".{0,40}", near in "[/\\\\@:.?#a-z \t]{0,12}") {
            for text in [text, near] {
                if let Some(path) = own_path(&text) {
                    // Source: WHATWG URL Standard, "relative state" and "relative slash state": what begins with one slash and
                    // neither a second nor a backslash stays on its host. Tabs and line ends are taken out first there.
                    prop_assert_eq!(path, text.as_str());
                    let after = path.strip_prefix('/').unwrap();
                    prop_assert!(!after.starts_with(['/', '\\']) && !path.contains(char::is_whitespace));
                }
            }
        }

        #[test]
        fn any_value_survives_a_query_string(text in ".{0,40}") {
            let back = crate::web::form::Fields::from_text(&format!("a=1&next={}&b=2", in_query(&text))).unwrap();
            prop_assert_eq!(back.every().collect::<Vec<_>>(), [("a", "1"), ("next", &text), ("b", "2")]);
        }
    }
}
