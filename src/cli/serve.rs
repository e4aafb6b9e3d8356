//! `sootmark serve`: pages and mail until a signal, or until the database can no longer be trusted.

use super::{Failure, say, start};
use crate::actions::Deeds;
use crate::actions::issuer::issuer;
use crate::actions::keep_backups::Keeping;
use crate::background;
use crate::config::{Secret, Settings};
use crate::mail::sender::Sender;
use crate::mail::transport::Transport;
use crate::web::{App, server};
use actix_web::web::Data;
use std::net::TcpListener;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;
use tokio::signal::unix::{SignalKind, signal};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// Serves with the settings of the file and the environment.
pub(super) async fn serve(file: Option<&Path>) -> Result<ExitCode, Failure> {
    let settings = start::settings(file)?;
    start::log(settings.log_format, settings.log_level);
    let deeds = start::deeds(&settings).await?;
    start::bank(&settings, &deeds).await?;
    let greets = |origin: &str| {
        say(&format!("Sootmark serves {origin}"));
        Ok(())
    };
    serve_with(settings, deeds, greets).await
}

/// Serves until a signal comes; `greets` is told the address once it listens. Ends with failure when a commit's fate is
/// not known, so that whoever watches over the program starts it again and the database recovers.
pub(super) async fn serve_with(
    mut settings: Settings,
    mut deeds: Deeds,
    greets: impl FnOnce(&str) -> Result<(), Failure>,
) -> Result<ExitCode, Failure> {
    let socket = TcpListener::bind(settings.listen).map_err(|error| format!("listen {}: {error}", settings.listen))?;
    // Port 0 is any free port: say which one it became.
    settings.listen = socket.local_addr()?;
    let origin = settings.public_origin();
    deeds.origin.clone_from(&origin);
    let transport = Transport::from_settings(&settings)?;
    // Made at the first start, so that the first paper does not wait for it.
    issuer(&deeds).await?;
    let stop = CancellationToken::new();
    let sender = tokio::spawn(Sender::new(&deeds, transport, stop.clone()).run());
    let sweeper = tokio::spawn(sweep(deeds.clone(), stop.clone()));
    let watch = tokio::spawn(background::run(deeds.clone(), stop.clone()));
    let backups = tokio::spawn(background::back_up_now_and_then(keeping(&settings), deeds.clone(), stop.clone()));

    let db = deeds.db.clone();
    let (views, under_way) = (deeds.views.clone(), TaskTracker::new());
    let app = App { views, deeds, settings, stop: stop.clone(), under_way: under_way.clone(), metrics: Arc::default() };
    let workers = std::thread::available_parallelism().map_or(2, usize::from);
    let server = server::start(Data::new(app), socket, workers)?;
    let handle = server.handle();
    let server = tokio::spawn(server);
    // Listened for before anyone is told that it serves: a signal right after that ends it in order too.
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    greets(&origin)?;

    let by_signal = tokio::select! {
        _ = terminate.recv() => true,
        _ = interrupt.recv() => true,
        () = stop.cancelled() => false,
    };
    if by_signal {
        say("Sootmark stops; what is under way is finished first.");
    }
    stop.cancel();
    // These and what is under way before the server: a worker that has nothing to do ends at once, and takes the database
    // connections with it that it has opened, also those that another one works with.
    sender.await?;
    sweeper.await?;
    watch.await?;
    backups.await?;
    handle.pause().await;
    under_way.close();
    // Whoever goes on asking for so long is finished by the server's own stopping.
    let _ = tokio::time::timeout(ANSWERED_WITHIN, under_way.wait()).await;
    handle.stop(true).await;
    server.await??;
    db.close().await?;
    if by_signal {
        return Ok(ExitCode::SUCCESS);
    }
    say("Sootmark stopped: saving failed and it is not known whether it was saved. Start it again.");
    Ok(ExitCode::FAILURE)
}

/// How long what is under way is waited for while every worker is there; with the server's own time less than the half minute that
/// whoever watches over the program gives it.
const ANSWERED_WITHIN: Duration = Duration::from_secs(5);

/// The backups that the settings ask for, and of which database.
fn keeping(settings: &Settings) -> Option<(Secret, Keeping)> {
    let kept = usize::try_from(settings.backups_kept).unwrap_or(usize::MAX);
    let folder = settings.backup_folder.clone()?;
    Some((settings.database(), Keeping { folder, every_hours: settings.backup_every_hours, kept }))
}

/// How often ended sessions and old wrong tries are removed.
const SWEEP_EVERY: Duration = Duration::from_secs(3600);

/// Removes ended sessions and old wrong tries until it is stopped. Nobody depends on it: neither counts any more.
async fn sweep(deeds: Deeds, stop: CancellationToken) {
    loop {
        if let Err(error) = deeds.sweep_sessions().await {
            tracing::warn!(cause = %error, "ended sessions were not removed");
        }
        if let Err(error) = deeds.sweep_wrong_tries().await {
            tracing::warn!(cause = %error, "old wrong tries were not removed");
        }
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(SWEEP_EVERY) => {}
        }
    }
}
