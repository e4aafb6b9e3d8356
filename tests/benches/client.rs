//! One browser window of a measurement: a connection that stays open, one request at a time, no more work than needed.
//!
//! Never tries again: a request that got no reply is an error, and whoever sent it does not know what became of it.

use std::fmt::Write as _;
use std::io;
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

/// A connection that was silent for so long is not used again, because the server closes it after 5 s and a request that
/// meets that moment gets no reply. Source: RFC 9112 section 9.3 (from memory, not confirmed).
const SILENCE: Duration = Duration::from_secs(3);

/// A window with somebody's session in it.
pub(crate) struct Window {
    address: SocketAddr,
    cookie: String,
    form_token: String,
    /// The open connection, and since when nothing has been said on it.
    stream: Option<(TcpStream, Instant)>,
    bytes: Vec<u8>,
}

/// What came back.
pub(crate) struct Reply {
    pub(crate) status: u16,
    pub(crate) location: String,
    pub(crate) body: String,
}

impl Window {
    pub(crate) fn new(address: SocketAddr, token: &str, form_token: &str) -> Self {
        let cookie = format!("sootmark={token}");
        Self { address, cookie, form_token: form_token.to_owned(), stream: None, bytes: Vec::new() }
    }

    /// Asks for a page.
    pub(crate) async fn get(&mut self, path: &str) -> io::Result<Reply> {
        self.send(format!("GET {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n\r\n", self.address, self.cookie)).await
    }

    /// Sends a form of this program's own page. `fields` are encoded already.
    pub(crate) async fn post(&mut self, path: &str, fields: &str) -> io::Result<Reply> {
        let body = format!("form_token={}&{fields}", self.form_token);
        let mut request = format!("POST {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n", self.address, self.cookie);
        request.push_str("Sec-Fetch-Site: same-origin\r\nContent-Type: application/x-www-form-urlencoded\r\n");
        let _ = write!(request, "Content-Length: {}\r\n\r\n{body}", body.len());
        self.send(request).await
    }

    async fn send(&mut self, request: String) -> io::Result<Reply> {
        let mut stream = match self.stream.take() {
            Some((stream, since)) if since.elapsed() < SILENCE => stream,
            _ => {
                let stream = TcpStream::connect(self.address).await?;
                stream.set_nodelay(true)?;
                stream
            }
        };
        stream.write_all(request.as_bytes()).await?;
        self.bytes.clear();
        let head = loop {
            if let Some(end) = end_of_head(&self.bytes) {
                break end;
            }
            if stream.read_buf(&mut self.bytes).await? == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
        };
        let (status, location, length) = read_head(&String::from_utf8_lossy(&self.bytes[..head]))?;
        while self.bytes.len() < head + length {
            if stream.read_buf(&mut self.bytes).await? == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
        }
        self.stream = Some((stream, Instant::now()));
        Ok(Reply { status, location, body: String::from_utf8_lossy(&self.bytes[head..]).into_owned() })
    }
}

fn end_of_head(bytes: &[u8]) -> Option<usize> {
    bytes.windows(4).position(|four| four == b"\r\n\r\n").map(|at| at + 4)
}

/// The status, where the reply sends to, and how long its body is.
fn read_head(head: &str) -> io::Result<(u16, String, usize)> {
    let wrong = || io::Error::new(io::ErrorKind::InvalidData, format!("no reply: {head}"));
    let status = head.split(' ').nth(1).and_then(|code| code.parse().ok()).ok_or_else(wrong)?;
    let (mut location, mut length) = (String::new(), 0);
    for (name, value) in head.lines().filter_map(|line| line.split_once(": ")) {
        match name.to_ascii_lowercase().as_str() {
            "location" => value.clone_into(&mut location),
            "content-length" => length = value.parse().map_err(|_| wrong())?,
            "transfer-encoding" => return Err(wrong()),
            _ => {}
        }
    }
    Ok((status, location, length))
}
