//! A certificate that nobody vouches for, made by the program `openssl`, for a database or a mail server of a test's own.

use super::tools::tool_says;
use std::fs;

/// A certificate and its key, as PEM.
pub(crate) struct OwnMade {
    pub(crate) certificate: String,
    pub(crate) key: String,
}

/// Makes one for a host: `DNS:` or `IP:` and its name; none where the program is missing.
pub(crate) fn own_made(host: &str) -> Option<OwnMade> {
    let folder = tempfile::tempdir().expect("a folder");
    let [certificate, key] = ["certificate.pem", "key.pem"].map(|name| folder.path().join(name));
    let (name, to) = (format!("subjectAltName={host}"), [&certificate, &key].map(|file| file.to_str().expect("UTF-8")));
    let asked = "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 2 -addext basicConstraints=critical,CA:FALSE";
    let mut arguments: Vec<&str> = asked.split(' ').collect();
    arguments.extend(["-subj", "/CN=a test", "-addext", &name, "-out", to[0], "-keyout", to[1]]);
    tool_says("openssl", &arguments)?;
    let read = |file| fs::read_to_string(file).expect("it was written");
    Some(OwnMade { certificate: read(certificate), key: read(key) })
}
