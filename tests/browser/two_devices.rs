//! A sitting across a crash and a second device: the real program is killed while somebody answers, comes back, and the
//! examination goes on where it was, on a phone.

use super::driver::{Browser, Scripts};
use super::new_hire::answer_on_page;
use crate::support::app::PASSWORD;
use crate::support::program::Workshop;
use crate::support::sittings::right;
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::Answer;
use sootmark::store::{AttemptId, attempts};

const SCHEME: &str = "first-day";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_examination_goes_on_after_a_crash_and_on_another_device() {
    let (workshop, _) = Workshop::with_technicians(1, SCHEME).await;
    let program = workshop.serve();
    let address = program.address;
    let origin = format!("http://{address}");
    let desk = Browser::open(&origin, Scripts::On, 1280, 1000).await;
    desk.sign_in("sitter0@example.org", PASSWORD).await;
    desk.go("/examine").await;
    let begin = desk.find(&format!("form[action=\"/examine/{SCHEME}\"] button")).await;
    desk.leave_by(begin).await;
    let attempt: AttemptId = desk.path().await.split('/').nth(3).expect("an attempt").parse().expect("its number");
    let db = workshop.open().await;
    let asked = attempts::questions(&db, attempt).await.expect("the questions");
    let question =
        |place: usize| -> Question { serde_json::from_str(&asked[place].question.json).expect("a question") };
    answer_on_page(&desk, &right(&question(0))).await;
    desk.press("Save and go on").await;
    desk.sees("Question 2").await;
    // Inside a case an answer that another part follows is saved by the button alone, since it stays as it is.
    let alone = (1..asked.len()).find(|place| asked[*place].question.parts == 1).expect("a question that stands alone");
    let number = alone + 1;
    desk.go(&format!("/examine/sitting/{attempt}/{number}")).await;

    // The program is gone: what is chosen now stays on the page, and the page says that it is not saved.
    program.kill();
    answer_on_page(&desk, &right(&question(alone))).await;
    desk.leave_field().await;
    desk.sees("Not saved yet: no connection").await;
    let kept = attempts::responses(&db, attempt).await.expect("the answers");
    assert_eq!(kept.iter().map(|kept| kept.position).collect::<Vec<_>>(), [1]);

    // It comes back, and the page sends the answer by itself.
    let program = workshop.serve_again(address);
    desk.sees("Saved ").await;
    let kept = attempts::responses(&db, attempt).await.expect("the answers");
    assert_eq!(kept.iter().map(|kept| usize::try_from(kept.position)).collect::<Vec<_>>(), [Ok(1), Ok(number)]);
    let second: Answer = serde_json::from_str(&kept[1].answer).expect("an answer");
    assert_eq!(second, right(&question(alone)));
    let state = desk.find(".sitting-row [aria-current] .sitting-state").await;
    assert_eq!(state.text().await.expect("its words"), "answered", "the row says so without another page");

    let phone = Browser::open(&origin, Scripts::On, 360, 800).await;
    phone.sign_in("sitter0@example.org", PASSWORD).await;
    phone.go("/examine").await;
    phone.press("Go on").await;
    for place in (1..asked.len()).filter(|place| *place != alone) {
        phone.go(&format!("/examine/sitting/{attempt}/{}", place + 1)).await;
        phone.sees(&format!("Question {}", place + 1)).await;
        answer_on_page(&phone, &right(&question(place))).await;
        phone.press("Save and go on").await;
    }
    phone.go(&format!("/examine/sitting/{attempt}/review")).await;
    phone.sees("Every question is answered").await;
    phone.press("Hand in").await;
    phone.sees("A service manager decides about your certificate").await;

    // The desk's window is still open, and is told that it comes too late.
    desk.press("Save and go on").await;
    desk.sees("Not saved: too late").await;
    desk.close().await;
    phone.close().await;
    db.close().await.expect("it closes");
    program.kill();
    workshop.close().await;
}
