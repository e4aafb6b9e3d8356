//! How long the core takes, each beside a floor measured in the same run: the least that the answer costs in any program.
//!
//! Goals: a judgement within 1 us, a question within 25 us, a machine's file within 1 ms, a journey
//! of ten hours within 200 us. Measures; asserts nothing.
//!
//!     cargo bench -p sootmark-domain --bench domain

use divan::{Bencher, black_box};
use sootmark_domain::aftertreatment::forecast::Forecast;
use sootmark_domain::aftertreatment::journey::{Journey, Stretch};
use sootmark_domain::aftertreatment::judgement::judge;
use sootmark_domain::aftertreatment::profile::Profile;
use sootmark_domain::aftertreatment::situation::Situation;
use sootmark_domain::bank::{Bank, BankDocument, DocumentKind};
use sootmark_domain::examination::form;
use sootmark_domain::scenario::draw::Draws;
use sootmark_domain::scenario::generate::{Machine, Seed, generate};
use sootmark_domain::scenario::template::Template;
use sootmark_domain::units::TemperatureUnit;
use std::path::Path;

fn main() {
    divan::main();
}

const MACHINE: &str = include_str!("../../question-bank/machines/tarrel-60.toml");

fn profile() -> Profile {
    Profile::read("tarrel-60.toml", MACHINE).expect("the machine is whole")
}

/// From the first rule's situation to the last one's: the further down the table, the more rules are examined.
fn situations() -> [(&'static str, Situation); 4] {
    let base = Situation::default();
    let standing = Situation { standing: true, park_brake: true, neutral: true, attachment_down: true, ..base };
    [
        ("stop level", Situation { soot_percent: 120.0, ..base }),
        ("parked", Situation { soot_percent: 95.0, ..standing }),
        ("light work", Situation { soot_percent: 60.0, outlet_c: 180.0, load_percent: 15.0, ..base }),
        ("nothing due", Situation { soot_percent: 20.0, ..base }),
    ]
}

#[divan::bench(args = [0, 1, 2, 3])]
fn judgement(bencher: Bencher, which: usize) {
    let (profile, (_, situation)) = (profile(), situations()[which]);
    bencher.bench_local(|| judge(black_box(&profile), black_box(&situation)));
}

/// The two exponentials and the power that tell where light work would settle.
#[divan::bench]
fn judgement_floor(bencher: Bencher) {
    bencher.bench_local(|| {
        let kelvin = black_box(453.15_f64);
        libm::exp(-5472.0 / kelvin) * libm::pow(black_box(1.0e-4), 1.13) + libm::exp(-12_989.0 / kelvin)
    });
}

fn bank() -> Bank {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../question-bank");
    let mut documents = Vec::new();
    gather(&root, &root, &mut documents);
    let (bank, problems) = Bank::read(&documents);
    assert!(problems.is_empty(), "{problems:#?}");
    bank
}

fn gather(root: &Path, folder: &Path, documents: &mut Vec<BankDocument>) {
    for entry in std::fs::read_dir(folder).expect("a folder of the bank") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            gather(root, &path, documents);
            continue;
        }
        let file = path.strip_prefix(root).expect("below the bank").to_string_lossy().into_owned();
        if let Some((kind, key)) = DocumentKind::of_path(&file) {
            let text = std::fs::read_to_string(&path).expect("a text");
            documents.push(BankDocument { kind, key, version: 1, file, text });
        }
    }
}

/// One template of each way of asking, and the mean over the whole bank, on one machine.
const TEMPLATES: [&str; 9] = [
    "fire/straw-under-the-boom",
    "bands/name-the-band",
    "lamps/which-are-lit",
    "parked/one-thing-missing",
    "inhibit/how-many-are-left",
    "passive/hours-until-it-helps-itself",
    "fire/what-can-hurt-here",
    "parked/in-what-order",
    "soot_and_ash/what-is-left",
];

fn made(template: &Template, machine: &Machine, stream: u64) -> usize {
    let seed = Seed { secret: [7; 32], stream };
    generate(template, 1, machine, seed, TemperatureUnit::Celsius).map_or(0, |question| question.choices.len())
}

#[divan::bench(args = TEMPLATES)]
fn question(bencher: Bencher, id: &str) {
    let bank = bank();
    let template = &bank.template(id).expect("a template of the bank").template;
    let machine = bank.machines().find(|machine| template.fits(&machine.profile.id)).expect("a machine");
    let mut stream = 0;
    bencher.bench_local(|| {
        stream += 1;
        made(black_box(template), black_box(machine), stream)
    });
}

/// Every template on every machine in turn.
#[divan::bench]
fn question_of_the_whole_bank(bencher: Bencher) {
    let bank = bank();
    let pairs: Vec<(&Template, &Machine)> = bank
        .templates()
        .flat_map(|entry| bank.machines().map(move |machine| (&entry.template, machine)))
        .filter(|(template, machine)| template.fits(&machine.profile.id))
        .collect();
    let mut stream = 0;
    bencher.counter(divan::counter::ItemsCount::new(pairs.len())).bench_local(|| {
        stream += 1;
        pairs.iter().map(|(template, machine)| made(template, machine, stream)).sum::<usize>()
    });
}

/// A question's bytes once made: its texts written down, and the draws it needs.
#[divan::bench]
fn question_floor(bencher: Bencher) {
    let bank = bank();
    let template = &bank.template(TEMPLATES[0]).expect("a template of the bank").template;
    let machine = bank.machines().next().expect("a machine");
    let seed = Seed { secret: [7; 32], stream: 1 };
    let question = generate(template, 1, machine, seed, TemperatureUnit::Celsius).expect("a question");
    bencher.bench_local(|| {
        let mut draws = Draws::new(black_box([7; 32]), 1);
        let drawn: usize = (0..40).map(|_| draws.below(100)).sum();
        (drawn, black_box(&question).clone())
    });
}

#[divan::bench]
fn machine_file(bencher: Bencher) {
    bencher.bench_local(|| Profile::read("tarrel-60.toml", black_box(MACHINE)).map(|profile| profile.bands.len()));
}

/// The same text read as TOML, and nothing made of it.
#[divan::bench]
fn machine_file_floor(bencher: Bencher) {
    bencher.bench_local(|| toml::de::DeTable::parse(black_box(MACHINE)).map(|table| table.get_ref().len()).ok());
}

#[divan::bench]
fn form_of_26_questions(bencher: Bencher) {
    let bank = bank();
    let scheme = &bank.scheme("service-technician").expect("a scheme of the bank").scheme;
    let mut seed = 0_u8;
    bencher.bench_local(|| {
        seed = seed.wrapping_add(1);
        form::assemble(&bank, scheme, [seed; 32], TemperatureUnit::Celsius).map(|form| form.len())
    });
}

/// Ten hours of mixed work in half-hour stretches, with an active regeneration on the way.
fn ten_hours(profile: &Profile) -> (Situation, Vec<Stretch>) {
    let start = Situation { soot_percent: profile.active.from_percent - 1.0, ..Situation::default() };
    let loads = [30.0, 55.0, 20.0, 80.0, 45.0];
    let duty = loads.iter().cycle().take(20).map(|load| Stretch::work(profile, 30.0, *load, 1500.0 + load * 5.0));
    (start, duty.collect())
}

/// Goal: 200 us.
#[divan::bench]
fn journey_of_10_hours(bencher: Bencher) {
    let profile = profile();
    let (start, duty) = ten_hours(&profile);
    bencher.bench_local(|| Journey::make(black_box(&profile), black_box(&start), black_box(&duty)).points.len());
}

/// The exponentials and powers of the same journey alone: a step looks at three moments, each with its temperature, its two
/// rates and what is left of the soot, and at what the whole step leaves.
#[divan::bench]
fn journey_floor(bencher: Bencher) {
    let profile = profile();
    let (start, duty) = ten_hours(&profile);
    let steps = Journey::make(&profile, &start, &duty).points.len();
    bencher.bench_local(|| {
        let mut sum = 0.0;
        for step in 0..black_box(steps) {
            let at = black_box(-0.001 * step as f64);
            for node in 0..3 {
                let kelvin = 500.0 + 100.0 * libm::exp(at - 0.1 * f64::from(node));
                let no2 = libm::exp(-5472.0 / kelvin) * libm::pow(kelvin * 1.0e-7, 1.13);
                sum += libm::expm1(-no2 - libm::exp(-12_989.0 / kelvin));
            }
            sum += libm::expm1(at);
        }
        sum
    });
}

/// A working day looked at as if it went on for ever.
#[divan::bench]
fn forecast(bencher: Bencher) {
    let profile = profile();
    let (start, duty) = ten_hours(&profile);
    bencher.bench_local(|| Forecast::make(black_box(&profile), start.soot_percent, black_box(&duty)));
}
