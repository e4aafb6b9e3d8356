//! From starting the process to its first reply, on a database that is there, against a process that only serves a file.

use crate::client::Window;
use crate::served::{Served, Workshop};
use crate::{floor, quantile, row};
use std::time::Instant;

const STARTS: usize = 15;

/// Prints the time by the clock until the sign-in page has come.
pub(crate) async fn measure() {
    let workshop = Workshop::with_people(1).await;
    let first = workshop.serve();
    let page = Window::new(first.address, "", "").get("/sign-in").await.expect("a page");
    assert!(page.status == 200 && page.body.contains("/sign-in"), "the sign-in page");
    first.stop();
    let file = workshop.path().join("page.html");
    std::fs::write(&file, &page.body).expect("the page is written");
    let (mut figure, mut least) = (Vec::new(), Vec::new());
    for _ in 0..STARTS {
        figure.push(first_reply(|| workshop.serve()).await);
        least.push(first_reply(|| floor::start(&file)).await);
    }
    row(
        "start until the first page, median",
        quantile(&mut figure, 0.5),
        quantile(&mut least, 0.5),
        "50 000 us at most",
    );
    row("the slowest of 15", quantile(&mut figure, 1.0), quantile(&mut least, 1.0), "");
}

async fn first_reply(start: impl Fn() -> Served) -> f64 {
    let began = Instant::now();
    let served = start();
    let reply = Window::new(served.address, "", "").get("/sign-in").await.expect("a page");
    let taken = began.elapsed().as_secs_f64() * 1e6;
    assert_eq!(reply.status, 200);
    served.kill();
    taken
}
