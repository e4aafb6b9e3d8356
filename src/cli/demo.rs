//! `sootmark demo`: the program with a database of its own on this machine, for a look around.

use super::serve::serve_with;
use super::{Failure, answer, say, start};
use crate::actions::{Deeds, Seeds};
use crate::clock::Clock;
use crate::config::{LogFormat, LogLevel, Settings};
use crate::demo::{self, Found};
use crate::mail::transport::Transport;
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
    /// How many people a new demo has; fewer are made sooner.
    #[arg(long, default_value_t = demo::EVERYONE, value_name = "NUMBER", value_parser = number_of_people)]
    people: usize,
    /// Start over: what was done in the demo before is deleted.
    #[arg(long)]
    fresh: bool,
}

impl Demo {
    /// Serves the demo.
    pub(super) async fn run(self) -> Result<ExitCode, Failure> {
        // Each request would push away whom to sign in as.
        start::log(LogFormat::Auto, LogLevel::Warn);
        if self.fresh {
            self.start_over()?;
        }
        // Plain http on this machine: a cookie that insists on https would never come back.
        let settings = Settings {
            listen: self.listen,
            data_folder: self.folder.clone(),
            organisation: Some(demo::ORGANISATION.to_owned()),
            secure_cookies: false,
            // A look around needs no phone.
            one_time_codes: false,
            ..Settings::default()
        };
        say(&format!("Sootmark demo: database in {}", self.folder.display()));
        let mut deeds = start::deeds(&settings).await?;
        if demo::look(&deeds.db).await? == Found::HalfADemo {
            say("The demo was stopped while its past was made. It starts over.");
            deeds.db.close().await?;
            self.start_over()?;
            deeds = start::deeds(&settings).await?;
        }
        match demo::look(&deeds.db).await? {
            Found::Nobody => made(&settings, &deeds, self.people).await?,
            Found::Demo | Found::HalfADemo => start::bank(&settings, &deeds).await?,
            Found::OtherPeople => {
                let folder = self.folder.display();
                return Err(format!("{folder} holds people who are not the demo's. Name another --folder.").into());
            }
        }
        serve_with(settings, deeds, |origin| {
            answer(&sign_ins(origin))?;
            say(&format!("Sootmark serves {origin}"));
            Ok(())
        })
        .await
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

/// At least those whom the demo names when it starts.
fn number_of_people(text: &str) -> Result<usize, String> {
    let range = demo::FEWEST..=demo::EVERYONE;
    let number = text.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| format!("a number from {} to {}", demo::FEWEST, demo::EVERYONE))
}

/// Makes the demo with a clock set by hand; the bank comes in at the beginning of the past, before anybody studies.
async fn made(settings: &Settings, deeds: &Deeds, people: usize) -> Result<(), Failure> {
    say("Making three years of an invented past. This takes a moment.");
    let now = deeds.clock.now();
    let past = Deeds {
        clock: Clock::manual(demo::beginning(now)),
        seeds: Seeds::counted(*b"fennmark plant services, seeds 1"),
        ..deeds.clone()
    };
    start::bank(settings, &past).await?;
    demo::make(&past, now, people, Transport::from_settings(settings)?).await?;
    Ok(())
}

/// What to type, for whoever started the demo.
fn sign_ins(origin: &str) -> String {
    let mut text =
        format!("\n{} is invented, and so is everybody in it.\nOpen {origin} and sign in as\n", demo::ORGANISATION);
    for way in demo::sign_ins() {
        text.push_str(&format!("  {:<22} {:<40} {}\n", way.who, way.email, way.name));
    }
    text.push_str(&format!("with the password: {}\n", demo::PASSWORD));
    text
}
