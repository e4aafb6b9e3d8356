//! A PostgreSQL of a test's own, to be stopped and started under the program. It keeps every commit, as a workshop's would.
//!
//! Never touches another PostgreSQL. Skipped, and said so, where its programs are missing; with `SOOTMARK_REQUIRE_POSTGRES=1`
//! that is a failure.

use super::certificates::OwnMade;
use std::fs;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// A running cluster; it is stopped and taken away when this goes.
pub(crate) struct Cluster {
    programs: PathBuf,
    folder: TempDir,
    pub(crate) url: String,
}

/// Where `initdb` and `pg_ctl` stand: Debian keeps one folder per version, others have them on the path.
fn programs() -> Option<PathBuf> {
    let of_debian = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().map_while(Result::ok);
    let versions = of_debian.map(|version| version.path().join("bin"));
    let number = |bin: &PathBuf| bin.parent()?.file_name()?.to_str()?.parse::<u32>().ok();
    let on_path = || std::env::split_paths(&std::env::var_os("PATH")?).find(|folder| folder.join("initdb").is_file());
    versions.filter(|bin| bin.join("initdb").is_file()).max_by_key(number).or_else(on_path)
}

/// Whether this runs as root, which PostgreSQL does not.
fn is_root(folder: &Path) -> bool {
    folder.metadata().expect("the folder").uid() == 0
}

impl Cluster {
    /// A fresh one that serves; `None`, with the reason printed, where there is no PostgreSQL to start.
    pub(crate) fn start() -> Option<Self> {
        Self::start_with(None)
    }

    /// The same, speaking TLS with this certificate.
    pub(crate) fn start_with_tls(certificate: &OwnMade) -> Option<Self> {
        Self::start_with(Some(certificate))
    }

    fn start_with(certificate: Option<&OwnMade>) -> Option<Self> {
        let Some(programs) = programs() else {
            let required = std::env::var("SOOTMARK_REQUIRE_POSTGRES").is_ok_and(|value| value == "1");
            assert!(!required, "SOOTMARK_REQUIRE_POSTGRES is set, but there is no initdb");
            eprintln!("skipped: there is no initdb, so no PostgreSQL can be started");
            return None;
        };
        let folder = tempfile::tempdir().expect("a folder");
        if is_root(folder.path()) {
            let given = Command::new("chown").arg("postgres").arg(folder.path()).status().expect("chown");
            assert!(given.success(), "the user postgres is there");
        }
        // Below the ports that connections take by themselves, and another for every test, which has its own process.
        let port = 20_000 + std::process::id() % 12_000;
        let cluster = Self { programs, folder, url: format!("postgres://sootmark@127.0.0.1:{port}/postgres") };
        cluster.run("initdb", &["-U", "sootmark", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8"]);
        let mut options = format!("-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories=");
        if let Some(own) = certificate {
            cluster.keep("server.crt", &own.certificate);
            cluster.keep("server.key", &own.key);
            options.push_str(" -c ssl=on");
        }
        let log = cluster.folder.path().join("log");
        cluster.run("pg_ctl", &["-l", log.to_str().expect("a path"), "-w", "-o", &options, "start"]);
        Some(cluster)
    }

    /// Stops it and starts it again: `immediate` as a crash would, `fast` as an administrator does. Comes back when it
    /// accepts connections again, which `pg_ctl` looks for ten times a second.
    pub(crate) fn restart(&self, mode: &str) {
        let log = self.folder.path().join("log");
        self.run("pg_ctl", &["-l", log.to_str().expect("a path"), "-w", "-m", mode, "restart"]);
    }

    /// Writes a file into the cluster's folder that only its server can read.
    fn keep(&self, name: &str, text: &str) {
        let (folder, file) = (self.folder.path().join("cluster"), self.folder.path().join("cluster").join(name));
        fs::write(&file, text).expect("the file is written");
        fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).expect("its permissions");
        let owner = folder.metadata().expect("the folder").uid();
        std::os::unix::fs::chown(&file, Some(owner), None).expect("its owner");
    }

    fn command(&self, program: &str) -> Command {
        let (program, at) = (self.programs.join(program), self.folder.path().join("cluster"));
        let mut command = match is_root(Path::new("/proc/self")) {
            true => {
                let mut command = Command::new("runuser");
                command.args(["-u", "postgres", "--"]).arg(program);
                command
            }
            false => Command::new(program),
        };
        // The test's own folder may be closed to the user postgres; what a server says goes into its log.
        command.arg("-D").arg(at).current_dir("/").stdout(Stdio::null()).stderr(Stdio::null());
        command
    }

    #[track_caller]
    fn run(&self, program: &str, arguments: &[&str]) {
        let done = self.command(program).args(arguments).status().expect("the program runs");
        let log = || std::fs::read_to_string(self.folder.path().join("log")).unwrap_or_default();
        assert!(done.success(), "{program} {arguments:?}: {done}\n{}", log());
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        let _ = self.command("pg_ctl").args(["-m", "immediate", "-w", "stop"]).status();
    }
}
