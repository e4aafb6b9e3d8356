//! What the running program costs, each figure beside a floor measured in the same run, in turns with it: what the same
//! reply, the same commit or the same start costs without the program. `tests/benches/domain.rs` measures the core.
//!
//!     cargo bench --bench measure              everything, about three minutes
//!     cargo bench --bench measure -- page      one of: page, save, sign_in, start
//!
//! Pages and starts are those of the real binary in a process of its own, over a loopback socket. Processor time is the
//! system's count over all threads of that process. Measures; asserts only that it measured what it says.

#![expect(clippy::print_stdout, reason = "the table is what it is for")]

mod client;
mod floor;
mod page;
mod save;
mod served;
mod sign_in;
mod start;

use std::path::Path;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    if let [first, file] = words.as_slice()
        && first == floor::WORD
    {
        return floor::serve(Path::new(file));
    }
    let wanted = |name: &str| words.is_empty() || words.iter().any(|word| word == name);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    println!("{:<52} {:>10} {:>10} {:>7}  goal", "", "figure", "floor", "ratio");
    runtime.block_on(async {
        if wanted("page") {
            page::measure().await;
        }
        if wanted("save") {
            save::measure().await;
        }
        if wanted("sign_in") {
            sign_in::measure().await;
        }
        if wanted("start") {
            start::measure().await;
        }
    });
}

/// One line of the table, in microseconds.
fn row(what: &str, figure: f64, floor: f64, goal: &str) {
    println!("{what:<52} {figure:>7.0} us {floor:>7.0} us {:>7.2}  {goal}", figure / floor);
}

/// The value that a share of the others stays below: 0.5 is the median.
fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    #[expect(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place")]
    let place = ((values.len() - 1) as f64 * share).round() as usize;
    values[place]
}
