//! `sootmark demo`: the program with a database of its own on this machine, for a look around.

use super::serve::serve_with;
use super::{Failure, say, start};
use crate::config::Settings;
use clap::Args;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;

/// Serves a demo organisation on this machine, with a database of its own.
#[derive(Debug, Args)]
pub(super) struct Demo {
    /// Where to listen.
    #[arg(long, default_value = "127.0.0.1:8080", value_name = "ADDRESS:PORT")]
    listen: SocketAddr,
    /// The folder of the demo's database.
    #[arg(long, default_value = "data/demo", value_name = "FOLDER")]
    folder: PathBuf,
    /// Start over: what was done in the demo before is deleted.
    #[arg(long)]
    fresh: bool,
}

impl Demo {
    /// Serves the demo.
    pub(super) async fn run(self) -> Result<ExitCode, Failure> {
        start::log();
        if self.fresh {
            self.start_over()?;
        }
        // Plain http on this machine: a cookie that insists on https would never come back.
        let settings = Settings {
            listen: self.listen,
            data_folder: self.folder.clone(),
            secure_cookies: false,
            ..Settings::default()
        };
        let deeds = start::deeds(&settings).await?;
        start::bank(&settings, &deeds).await?;
        say(&format!("Sootmark demo: database in {}", self.folder.display()));
        serve_with(settings, deeds).await
    }

    /// Deletes what the demo itself made in its folder, and nothing else.
    fn start_over(&self) -> Result<(), Failure> {
        for name in ["sootmark.sqlite", "sootmark.sqlite-wal", "sootmark.sqlite-shm"] {
            let file = self.folder.join(name);
            match std::fs::remove_file(&file) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                    return Err(format!("--fresh: {}: {error}", file.display()).into());
                }
                _ => {}
            }
        }
        Ok(())
    }
}
