//! An examination's question page (session, database, HTML) against a static page of the same bytes: the mean over the
//! questions of a whole sitting, since their drawings differ; the static page is as long as the middle one of them.

use crate::client::Window;
use crate::served::{SCHEME, Served, Workshop};
use crate::{floor, quantile, row};
use std::time::Instant;

/// How often each question is asked for in one turn; turns of each.
const ROUNDS: usize = 16;
const TURNS: usize = 9;

/// Prints the processor time and the time by the clock of one request.
pub(crate) async fn measure() {
    let workshop = Workshop::with_people(1).await;
    let served = workshop.serve();
    let sitter = &workshop.sitters[0];
    let mut window = sitter.window(served.address);
    let begun = window.post(&format!("/examine/{SCHEME}"), "").await.expect("a reply");
    assert_eq!(begun.status, 303, "the examination begins");
    let sitting = begun.location.strip_suffix('1').expect("the first question");
    let mut pages = Vec::new();
    for position in 1.. {
        let path = format!("{sitting}{position}");
        let page = window.get(&path).await.expect("a page");
        match page.status {
            200 => assert!(page.body.contains(&format!("Question {position} of ")), "question {position} is shown"),
            // A later part of a case opens when the part before it is answered, and nothing is answered here.
            409 => continue,
            _ => break,
        }
        pages.push((page.body, path));
    }
    assert!(pages.len() > 10, "most questions open: {}", pages.len());
    let mut by_length: Vec<&String> = pages.iter().map(|(body, _)| body).collect();
    by_length.sort_by_key(|body| body.len());
    let middle = by_length[pages.len() / 2];

    let file = workshop.path().join("page.html");
    std::fs::write(&file, middle).expect("the page is written");
    let bare = floor::start(&file);
    let mut bare_window = sitter.window(bare.address);
    let same = bare_window.get(sitting).await.expect("a page");
    assert!(same.body == *middle, "the floor replies with the same bytes");

    let (mut figure, mut least) = (Costs::default(), Costs::default());
    for _ in 0..TURNS {
        figure.turn(&served, &mut window, &pages).await;
        least.turn(&bare, &mut bare_window, &pages).await;
    }
    let bytes = middle.len();
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
    async fn turn(&mut self, served: &Served, window: &mut Window, pages: &[(String, String)]) {
        let (began, used) = (Instant::now(), served.processor_ns());
        let requests = ROUNDS * pages.len();
        for (_, path) in pages.iter().cycle().take(requests) {
            let reply = window.get(path).await.expect("a page");
            assert_eq!(reply.status, 200);
        }
        #[expect(clippy::cast_precision_loss, reason = "far below 2^52")]
        let each = |nanoseconds: u64| nanoseconds as f64 / 1000.0 / requests as f64;
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
