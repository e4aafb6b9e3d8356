//! An examination's question page (session, database, HTML) against a static page of the same bytes.

use crate::client::Window;
use crate::served::{SCHEME, Served, Workshop};
use crate::{floor, quantile, row};
use std::time::Instant;

/// Requests in one turn, and turns of each.
const REQUESTS: usize = 400;
const TURNS: usize = 9;

/// Prints the processor time and the time by the clock of one request.
pub(crate) async fn measure() {
    let workshop = Workshop::with_people(1).await;
    let served = workshop.serve();
    let sitter = &workshop.sitters[0];
    let mut window = sitter.window(served.address);
    let begun = window.post(&format!("/examine/{SCHEME}"), "").await.expect("a reply");
    assert_eq!(begun.status, 303, "the examination begins");
    let page = window.get(&begun.location).await.expect("a page");
    assert!(page.status == 200 && page.body.contains("Question 1 of 26"), "a question is shown");

    let file = workshop.path().join("page.html");
    std::fs::write(&file, &page.body).expect("the page is written");
    let bare = floor::start(&file);
    let mut bare_window = sitter.window(bare.address);
    let same = bare_window.get(&begun.location).await.expect("a page");
    assert!(same.body == page.body, "the floor replies with the same bytes");

    let (mut figure, mut least) = (Costs::default(), Costs::default());
    for _ in 0..TURNS {
        figure.turn(&served, &mut window, &begun.location).await;
        least.turn(&bare, &mut bare_window, &begun.location).await;
    }
    let bytes = page.body.len();
    let goal = "10 at most, then 3";
    row(&format!("question page, {bytes} bytes: processor time"), figure.processor(), least.processor(), goal);
    row("the same by the clock, one reader", figure.clock(), least.clock(), "");
    bare.kill();
    served.stop();
}

/// Microseconds a request, one value a turn.
#[derive(Default)]
struct Costs {
    processor: Vec<f64>,
    clock: Vec<f64>,
}

impl Costs {
    async fn turn(&mut self, served: &Served, window: &mut Window, path: &str) {
        let (began, used) = (Instant::now(), served.processor_ns());
        for _ in 0..REQUESTS {
            let reply = window.get(path).await.expect("a page");
            assert_eq!(reply.status, 200);
        }
        #[expect(clippy::cast_precision_loss, reason = "far below 2^52")]
        let each = |nanoseconds: u64| nanoseconds as f64 / 1000.0 / REQUESTS as f64;
        self.processor.push(each(served.processor_ns() - used));
        self.clock.push(each(u64::try_from(began.elapsed().as_nanos()).expect("minutes")));
    }

    fn processor(&mut self) -> f64 {
        quantile(&mut self.processor, 0.5)
    }

    fn clock(&mut self) -> f64 {
        quantile(&mut self.clock, 0.5)
    }
}
