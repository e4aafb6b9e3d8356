//! What the worst scenarios take, each read and, where it can be read, tried once: time, and memory at its highest
//! (`max alloc`). The goal is 50 ms and 16 MiB. Measures; asserts nothing.
//!
//!     cargo bench -p sootmark-domain --bench hostile

#[path = "../bank/hostile/texts.rs"]
mod texts;

use divan::{AllocProfiler, Bencher, black_box};
use sootmark_domain::aftertreatment::profile::Profile;
use sootmark_domain::scenario::check::check;
use sootmark_domain::scenario::generate::Machine;
use sootmark_domain::scenario::template::{CompetenceRules, Lexicon, Template};

#[global_allocator]
static ALLOC: AllocProfiler = AllocProfiler::system();

const MACHINE: &str = include_str!("../../question-bank/machines/tarrel-60.toml");

fn main() {
    divan::main();
}

#[divan::bench(args = texts::texts().iter().map(|(what, _)| *what).collect::<Vec<_>>(), sample_count = 5, sample_size = 1)]
fn found(bencher: Bencher<'_, '_>, what: &str) {
    let machine = Machine::new(Profile::read("tarrel-60.toml", MACHINE).expect("the machine is whole"), 1);
    let lexicon = Lexicon {
        competences: vec![CompetenceRules { id: "fire".to_owned(), mandatory: true, reading_grade: 8 }],
        machines: vec!["tarrel-60".to_owned()],
        bands: machine.profile.bands.iter().map(|band| band.id.clone()).collect(),
    };
    let text = texts::texts().into_iter().find(|(name, _)| *name == what).expect("it is one of them").1;
    bencher.bench_local(|| match Template::read("own", "own", black_box(&text), &lexicon) {
        Ok(template) => check("own", &template, std::slice::from_ref(&machine), 1),
        Err(problems) => problems,
    });
}
