//! The published limits that the lessons tell and the schemes keep to: what stands in the bank against its sources.

use sootmark::bank_files;
use sootmark::domain::bank::Bank;

fn lesson(module: &str, lesson: &str) -> String {
    let (bank, _) = Bank::read(&bank_files::embedded());
    let module = bank.module(module).expect("the module");
    module.lessons.iter().find(|one| one.id == lesson).expect("the lesson").text.clone()
}

// Source: 40 CFR 1039.101 (2015 text): particulate matter 0.02 g/kWh from 56 to 560 kW, 0.03 from 19 to 56 kW, 0.40 below
// 19 kW. Source: DieselNet 2016: Stage V, 1e12 particles for each kWh from 19 to 560 kW.
#[test]
fn what_an_engine_may_let_out_is_told_as_the_rules_have_it() {
    let text = lesson("what-the-filter-does", "01-soot-and-the-filter");
    for told in [
        "0.02 g for each kilowatt hour on engines of 56 to 560 kW",
        "0.03 g from 19 to 56 kW",
        "0.40 g below 19 kW",
        "10\u{b9}\u{b2} for each kilowatt hour, from 19 to 560 kW",
    ] {
        assert!(text.contains(told), "{told}");
    }
}

// Source: Wang et al., doi 10.1080/15567036.2018.1550539: about 90 % of ash comes from lubricating oil.
// Source: 40 CFR 1039.125(a) (2015 text): no cleaning or repair planned before 3 000 h below 130 kW, 4 500 h from there.
#[test]
fn where_ash_comes_from_and_when_service_may_be_planned_is_told() {
    let text = lesson("soot-and-ash", "01-what-burns-and-what-stays");
    for told in ["about 90 %", "3000 hours", "4500 hours on engines from 130 kW"] {
        assert!(text.contains(told), "{told}");
    }
}

// Source: 29 CFR 1910.178(l) (secondary), an analogue for this trade: evaluation at least every three years.
#[test]
fn no_qualification_lasts_longer_than_three_years() {
    let (bank, problems) = Bank::read(&bank_files::embedded());
    assert_eq!(problems, []);
    let mut schemes = 0;
    for entry in bank.schemes() {
        schemes += 1;
        assert!(entry.scheme.valid_for_months <= 36, "{}", entry.scheme.id);
    }
    assert!(schemes > 0);
}
