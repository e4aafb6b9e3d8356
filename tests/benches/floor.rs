//! The floor of a page and of a start: the same web library in a process of its own, with one address that replies with
//! the bytes of a file. No session, no database, no template, nothing around the request.

use crate::served::Served;
use actix_web::{App, HttpResponse, HttpServer, web};
use std::path::Path;
use std::process::Command;

/// What this binary is called with to be the floor.
pub(crate) const WORD: &str = "floor-page";

/// Serves the file until it is killed.
#[expect(clippy::print_stderr, reason = "says where it serves, as the program does")]
pub(crate) fn serve(file: &Path) {
    let body = web::Bytes::from(std::fs::read(file).expect("the page"));
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async move {
        let reply = move || HttpResponse::Ok().content_type("text/html; charset=utf-8").body(body.clone());
        let server = HttpServer::new(move || {
            let reply = reply.clone();
            App::new().default_service(web::to(move || std::future::ready(reply())))
        });
        let workers = std::thread::available_parallelism().map_or(2, usize::from);
        let server = server.workers(workers).bind("127.0.0.1:0").expect("a free port");
        eprintln!("serves http://{}", server.addrs()[0]);
        server.run().await.expect("it serves");
    });
}

/// The floor in a process of its own.
pub(crate) fn start(file: &Path) -> Served {
    let mut command = Command::new(std::env::current_exe().expect("this program"));
    command.arg(WORD).arg(file);
    Served::of(command)
}
