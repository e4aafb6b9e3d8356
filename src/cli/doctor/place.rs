//! The settings, the disk, who can read the files, and the folder of the question bank.

use super::{Finding, look, ok, wrong};
use crate::actions::keep_backups::backups_in;
use crate::bank_files;
use crate::cli::sheet::counted;
use crate::config::Settings;
use crate::domain::bank::Bank;
use crate::store::backup::file_of;
use crate::store::unproven_machine;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};

/// Less free than this, and saving may fail any moment; chosen by us.
const TOO_LITTLE: u64 = 100 << 20;
/// Less free than this is worth a look.
const LITTLE: u64 = 1 << 30;

/// The permissions of everybody but the owner, and of those who are not in the group either.
const NOBODY_ELSE: u32 = 0o077;
const NO_STRANGER: u32 = 0o007;

/// What the settings mean together.
pub(super) fn settings(settings: &Settings) -> Finding {
    let origin = settings.public_origin();
    let https = origin.starts_with("https://");
    if https && !settings.secure_cookies {
        return wrong(
            "Settings",
            "public_address is https, and secure_cookies is false: a session's cookie would also travel in the clear",
            "Set secure_cookies to true.",
        );
    }
    if !settings.listen.ip().is_loopback() && !settings.behind_proxy {
        return look(
            "Settings",
            format!("the program listens on {}, in plain http, for other machines", settings.listen),
            "Listen on 127.0.0.1 and put a reverse proxy with TLS in front; then set behind_proxy to true.",
        );
    }
    if let Some(machine) = unproven_machine(settings.database().reveal()) {
        return look(
            "Settings",
            format!("database_url leads to {machine}, and whoever stands between could be taken for it"),
            "End database_url with ?sslmode=verify-full; where the certificate is of your own making, add &sslrootcert=FILE.",
        );
    }
    match (&settings.public_address, https) {
        (None, _) => look(
            "Settings",
            "public_address is not set: links in letters and codes on certificates lead to this machine only",
            "Set public_address to the https address that people type.",
        ),
        (Some(_), false) => look(
            "Settings",
            format!("public_address is {origin}, without TLS"),
            "Put a reverse proxy with TLS in front and write the https address.",
        ),
        (Some(_), true) => ok("Settings", format!("people come to {origin}")),
    }
}

/// The room where the data lies, and where backups go.
pub(super) fn disk(settings: &Settings) -> Finding {
    let mut places: Vec<PathBuf> = match file_of(settings.database().reveal()) {
        Some(file) => vec![file.parent().map(Path::to_owned).unwrap_or_default()],
        None => Vec::new(),
    };
    places.push(settings.data_folder.clone());
    places.extend(settings.backup_folder.clone());
    let mut least: Option<(u64, PathBuf)> = None;
    for place in places {
        let place = if place.as_os_str().is_empty() { PathBuf::from(".") } else { place };
        if let Ok(free) = free(&place)
            && least.as_ref().is_none_or(|(bytes, _)| free < *bytes)
        {
            least = Some((free, place));
        }
    }
    let Some((bytes, place)) = least else {
        return wrong("Disk", "none of the folders of the settings is there", "Make data_folder, or name another.");
    };
    let says = format!("{} MiB are free at {}", bytes >> 20, place.display());
    let todo =
        "Make room, or move the folder to a larger disk. When it is full nothing can be saved, and people are told so.";
    match bytes {
        bytes if bytes < TOO_LITTLE => wrong("Disk", says, todo),
        bytes if bytes < LITTLE => look("Disk", says, todo),
        _ => ok("Disk", says),
    }
}

fn free(place: &Path) -> std::io::Result<u64> {
    let disk = rustix::fs::statvfs(place)?;
    Ok(disk.f_bavail.saturating_mul(disk.f_frsize))
}

/// Whether other users of this machine can read the keys: that which signs certificates is in the database, and what opens an
/// account in letters that are kept as files.
pub(super) fn readers(settings: &Settings, file: Option<&Path>) -> Finding {
    let mut secret: Vec<(PathBuf, u32)> = Vec::new();
    if let Some(database) = file_of(settings.database().reveal()) {
        for end in ["", "-wal"] {
            let mut name = database.clone().into_os_string();
            name.push(end);
            secret.push((name.into(), NOBODY_ELSE));
        }
    }
    let holds_secrets =
        settings.smtp_password.is_some() || settings.database_url.is_some() || settings.metrics_token.is_some();
    // Looked at when letters leave by SMTP as well: earlier ones may lie there.
    secret.push((settings.data_folder.join("mail"), NOBODY_ELSE));
    // The settings may belong to somebody who changes them, and be lent to the program's group.
    secret.extend(file.filter(|_| holds_secrets).map(|file| (file.to_owned(), NO_STRANGER)));
    let backups = settings.backup_folder.as_deref().and_then(|folder| backups_in(folder).ok());
    secret.extend(backups.unwrap_or_default().into_iter().map(|(_, path)| (path, NOBODY_ELSE)));
    let open = |(path, whom): &&(PathBuf, u32)| {
        std::fs::metadata(path).is_ok_and(|file| file.permissions().mode() & whom != 0)
    };
    let read_by_others: Vec<String> = secret.iter().filter(open).map(|(path, _)| path.display().to_string()).collect();
    match read_by_others.is_empty() {
        true => ok("Keys", "only the program's user can read the files with keys in them"),
        false => look(
            "Keys",
            format!("other users of this machine may read {}", read_by_others.join(", ")),
            "Let only the program's user read them: chmod 600, and 700 for a folder. The key that signs certificates, hashes of \
             passwords or links that open accounts are in them.",
        ),
    }
}

/// What is in the folder of the question bank; nothing is said where the built-in one is used. Only read: scenarios are tried by
/// `sootmark bank check` and at each start.
pub(super) fn bank(settings: &Settings) -> Option<Finding> {
    const ABOUT: &str = "Question bank";
    let folder = settings.bank_folder.as_deref()?;
    let place = folder.display();
    let (documents, mut problems) = match bank_files::of_folder(folder) {
        Ok(found) => found,
        Err(error) => {
            let says = format!("bank_folder {place}: the folder cannot be listed: {error}");
            let todo = "Name the folder of a question bank, or take bank_folder out: `sootmark serve` does not start.";
            return Some(wrong(ABOUT, says, todo));
        }
    };
    let (bank, broken) = Bank::read(&documents);
    problems.extend(broken);
    let todo = format!("`sootmark bank check {place}` lists everything. The program leaves out what is broken.");
    if let Some(first) = problems.first() {
        let says = format!("{} in bank_folder {place}; the first: {first}", counted(problems.len(), "problem"));
        return Some(look(ABOUT, says, todo));
    }
    let scenarios = bank.templates().count();
    Some(match scenarios {
        0 => look(ABOUT, format!("there is no scenario in bank_folder {place}"), todo),
        _ => ok(ABOUT, format!("{} in bank_folder {place}", counted(scenarios, "scenario"))),
    })
}
