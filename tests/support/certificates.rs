//! A certificate that nobody vouches for, made by the program `openssl`, for a database or a mail server of a test's own.
//!
//! `None`, with the reason printed, where the program is missing; with `SOOTMARK_REQUIRE_TOOLS=1` that is a failure.

use std::fs;
use std::path::Path;
use std::process::Command;

/// A certificate and its key, as PEM.
pub(crate) struct OwnMade {
    pub(crate) certificate: String,
    pub(crate) key: String,
}

/// Makes one for a host: `DNS:` or `IP:` and its name.
pub(crate) fn own_made(host: &str) -> Option<OwnMade> {
    let folder = tempfile::tempdir().expect("a folder");
    let (certificate, key) = (folder.path().join("certificate.pem"), folder.path().join("key.pem"));
    let said = Command::new("openssl")
        .args(["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2"])
        .args(["-subj", "/CN=a test", "-addext", &format!("subjectAltName={host}")])
        .args(["-addext", "basicConstraints=critical,CA:FALSE"])
        .arg("-out")
        .arg(&certificate)
        .arg("-keyout")
        .arg(&key)
        .output();
    let said = match said {
        Ok(said) => said,
        Err(error) => {
            let required = std::env::var("SOOTMARK_REQUIRE_TOOLS").is_ok_and(|value| value == "1");
            assert!(!required, "openssl is needed: {error}");
            eprintln!("skipped: there is no openssl");
            return None;
        }
    };
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    let read = |file: &Path| fs::read_to_string(file).expect("it was written");
    Some(OwnMade { certificate: read(&certificate), key: read(&key) })
}
