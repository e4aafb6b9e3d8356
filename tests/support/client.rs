//! A small browser: keeps its cookie, sends the form token of the page it saw last, follows nothing by itself.

use std::fmt::Write as _;
use std::io;
use std::net::SocketAddr;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

/// A browser without scripts.
#[derive(Clone, Debug)]
pub(crate) struct Client {
    address: SocketAddr,
    /// The cookie as it is sent back, `name=value`.
    pub(crate) cookie: Option<String>,
    /// The form token of the last page that had one.
    pub(crate) form_token: String,
}

/// What came back.
#[derive(Clone, Debug)]
pub(crate) struct Reply {
    /// The status.
    pub(crate) status: u16,
    /// The headers, names in lower case.
    pub(crate) headers: Vec<(String, String)>,
    /// The body as text.
    pub(crate) body: String,
    /// The body as it came.
    pub(crate) bytes: Vec<u8>,
}

impl Client {
    pub(crate) fn new(address: SocketAddr) -> Self {
        Self { address, cookie: None, form_token: String::new() }
    }

    /// The same browser, with its session, at another server.
    pub(crate) fn at(&self, address: SocketAddr) -> Self {
        Self { address, ..self.clone() }
    }

    /// Asks for a page of a server that may be gone.
    pub(crate) async fn try_get(&mut self, path: &str) -> io::Result<Reply> {
        self.try_send("GET", path, &[], "").await
    }

    /// Asks for a page.
    pub(crate) async fn get(&mut self, path: &str) -> Reply {
        self.send("GET", path, &[], "").await
    }

    /// Sends a form as a browser does, with the form token of the last page.
    pub(crate) async fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Reply {
        let token = self.form_token.clone();
        let mut all = vec![("form_token", token.as_str())];
        all.extend_from_slice(fields);
        self.send("POST", path, &FORM, &encoded(&all)).await
    }

    /// Sends a form whose fields were put together.
    pub(crate) async fn post_all(&mut self, path: &str, fields: &[(String, String)]) -> Reply {
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        self.post(path, &fields).await
    }

    /// Sends a form as the saving script does, which reads no page.
    pub(crate) async fn post_by_script(&mut self, path: &str, fields: &[(String, String)]) -> Reply {
        let mut all = vec![("form_token", self.form_token.as_str())];
        all.extend(fields.iter().map(|(name, value)| (name.as_str(), value.as_str())));
        let body = encoded(&all);
        let headers = [FORM[0], FORM[1], ("Accept", "application/json")];
        self.send("POST", path, &headers, &body).await
    }

    /// Sends anything.
    pub(crate) async fn send(&mut self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Reply {
        let reply = self.try_send(method, path, headers, body).await;
        reply.unwrap_or_else(|error| panic!("{method} {path}: {error}"))
    }

    /// Sends a form to a server that may be gone before it has answered.
    pub(crate) async fn try_post(&mut self, path: &str, fields: &[(String, String)]) -> io::Result<Reply> {
        let mut all = vec![("form_token", self.form_token.as_str())];
        all.extend(fields.iter().map(|(name, value)| (name.as_str(), value.as_str())));
        let body = encoded(&all);
        self.try_send("POST", path, &FORM, &body).await
    }

    async fn try_send(&mut self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> io::Result<Reply> {
        let mut head = format!("{method} {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n", self.address);
        if let Some(cookie) = &self.cookie {
            let _ = write!(head, "Cookie: {cookie}\r\n");
        }
        for (name, value) in headers {
            let _ = write!(head, "{name}: {value}\r\n");
        }
        if method != "GET" {
            let _ = write!(head, "Content-Length: {}\r\n", body.len());
        }
        let mut stream = TcpStream::connect(self.address).await?;
        stream.write_all(format!("{head}\r\n{body}").as_bytes()).await?;
        let mut bytes = Vec::new();
        // A server that refuses a large body may close before all of it was read: what it said before counts.
        if let Err(error) = stream.read_to_end(&mut bytes).await
            && bytes.is_empty()
        {
            return Err(error);
        }
        let Some(end) = bytes.windows(4).position(|four| four == b"\r\n\r\n") else {
            return Err(io::ErrorKind::UnexpectedEof.into());
        };
        let head = std::str::from_utf8(&bytes[..end]).map_err(io::Error::other)?;
        let reply = Reply::parse(head, bytes[end + 4..].to_vec());
        self.remember(&reply);
        Ok(reply)
    }

    fn remember(&mut self, reply: &Reply) {
        if let Some(cookie) = reply.header("set-cookie") {
            let pair = cookie.split(';').next().unwrap_or_default();
            let kept = !pair.ends_with('=') && !cookie.contains("Max-Age=0");
            self.cookie = kept.then(|| pair.to_owned());
        }
        if let Some(token) = reply.between("name=\"form_token\" value=\"", "\"").filter(|token| !token.is_empty()) {
            self.form_token = token.to_owned();
        }
    }
}

impl Reply {
    fn parse(head: &str, bytes: Vec<u8>) -> Self {
        let mut lines = head.split("\r\n");
        let status = lines.next().and_then(|line| line.split(' ').nth(1)).and_then(|code| code.parse().ok());
        let body = String::from_utf8_lossy(&bytes).into_owned();
        let headers = lines.filter_map(|line| line.split_once(": ")).map(|(n, v)| (n.to_lowercase(), v.to_owned()));
        Self { status: status.expect("a status line"), headers: headers.collect(), body, bytes }
    }

    /// A header's value.
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(header, _)| header == name).map(|(_, value)| value.as_str())
    }

    /// Where a reply sends the browser; empty when nowhere.
    pub(crate) fn location(&self) -> &str {
        self.header("location").unwrap_or_default()
    }

    /// The first text of the body between two marks.
    pub(crate) fn between(&self, before: &str, after: &str) -> Option<&str> {
        self.body.split_once(before)?.1.split_once(after).map(|(found, _)| found)
    }

    /// What tells two replies apart, other than the moment and the request's id. Headers come in any order.
    pub(crate) fn seen(&self) -> (u16, Vec<(String, String)>, String) {
        let own = |(name, _): &&(String, String)| !["date", "x-request-id"].contains(&name.as_str());
        let mut headers: Vec<_> = self.headers.iter().filter(own).cloned().collect();
        headers.sort();
        (self.status, headers, self.body.clone())
    }

    /// What a person reads on the page: the body without its tags, spaces tidied.
    pub(crate) fn text(&self) -> String {
        let mut text = String::new();
        let mut in_tag = false;
        // A place where a line may break is inside a word.
        for c in self.body.replace("<wbr>", "").chars() {
            match c {
                '<' => {
                    in_tag = true;
                    text.push(' ');
                }
                '>' => in_tag = false,
                c if !in_tag => text.push(c),
                _ => {}
            }
        }
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        // The ampersand last: what stood as "&amp;lt;" was no "<".
        [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#x27;", "'"), ("&#39;", "'"), ("&amp;", "&")]
            .iter()
            .fold(text, |text, (escaped, letter)| text.replace(escaped, letter))
    }
}

/// The headers of a form that a browser sends from our own page.
pub(crate) const FORM: [(&str, &str); 2] =
    [("Content-Type", "application/x-www-form-urlencoded"), ("Sec-Fetch-Site", "same-origin")];

/// Fields as a form's body.
pub(crate) fn encoded(fields: &[(&str, &str)]) -> String {
    let escape = |text: &str| {
        text.bytes().fold(String::new(), |mut out, byte| {
            if byte.is_ascii_alphanumeric() {
                out.push(char::from(byte));
            } else {
                let _ = write!(out, "%{byte:02X}");
            }
            out
        })
    };
    let pairs: Vec<_> = fields.iter().map(|(name, value)| format!("{}={}", escape(name), escape(value))).collect();
    pairs.join("&")
}
