//! Checklists of practical tasks, held against rules of the trade and published ones, on every machine of the bank.

use sootmark::bank_files;
use sootmark::domain::aftertreatment::hazard::{Hazard, SignalWord};
use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::bank::Bank;
use sootmark::domain::examination::observation::{Checklist, Mark, Marked, Task, make};
use std::collections::BTreeSet;

fn profiles() -> Vec<Profile> {
    let (bank, problems) = Bank::read(&bank_files::embedded());
    assert!(problems.is_empty(), "{problems:?}");
    let all: Vec<Profile> = bank.machines().map(|machine| machine.profile.clone()).collect();
    assert!(all.len() >= 3, "the bank has its machines");
    all
}

fn every_list() -> Vec<(Profile, Checklist)> {
    let all = profiles().into_iter();
    all.flat_map(|profile| Task::ALL.map(|task| (profile.clone(), make(task, &profile)))).collect()
}

fn place_of(list: &Checklist, id: &str) -> usize {
    list.steps.iter().position(|step| step.id == id).unwrap_or_else(|| panic!("{:?} has no step {id}", list.task))
}

// Source: 29 CFR 1910.147(d)(1) to (6), read in a copy outside the register, not in the register itself: preparation, shutdown, isolation, lockout or tagout device, stored energy,
// verification of isolation, in this sequence. (c)(9): affected employees are notified before the controls are applied.
#[test]
fn a_filter_is_made_ready_for_removal_in_the_order_of_the_lockout_rule() {
    for profile in profiles() {
        let list = make(Task::FilterRemoval, &profile);
        let order = ["prepare", "shut-down", "isolate", "lock", "release", "verify"].map(|id| place_of(&list, id));
        assert!(order.is_sorted(), "{}: {order:?}", profile.id);
        assert!(place_of(&list, "tell") < place_of(&list, "lock"), "{}", profile.id);
        assert!(order.iter().all(|place| list.steps[*place].critical), "the rule says shall of each of them");
        // Heat is an energy too; common practice, no published source: cool before touching.
        assert!(place_of(&list, "cool") < place_of(&list, "dust"), "{}", profile.id);
    }
}

// Source: 29 CFR 1910.147(b), definition of an energy isolating device: push buttons and selector switches are none.
#[test]
fn a_push_button_is_not_isolation() {
    for profile in profiles() {
        let list = make(Task::FilterRemoval, &profile);
        assert!(list.steps[place_of(&list, "isolate")].reason.contains("push button"), "{}", profile.id);
    }
}

// Common practice, no published source: a parked regeneration runs outdoors, on bare ground that does not burn, clear of people
// and fuel, is attended, and nothing is touched before it has cooled.
#[test]
fn whoever_misses_what_keeps_a_parked_regeneration_safe_has_missed_a_critical_step() {
    for profile in profiles() {
        let list = make(Task::ParkedRegeneration, &profile);
        for (id, hazard) in [
            ("open-air", Hazard::ExhaustInClosedSpace),
            ("ground", Hazard::Fire),
            ("fuel", Hazard::Fire),
            ("overhead", Hazard::Fire),
            ("people", Hazard::PeopleAtOutlet),
            ("break-off", Hazard::PeopleAtOutlet),
            ("cool", Hazard::HotSurface),
            ("reading", Hazard::OverloadedFilter),
        ] {
            let step = &list.steps[place_of(&list, id)];
            assert!(step.critical && step.hazards.contains(&hazard), "{}: {step:?}", profile.id);
        }
        let before = ["open-air", "ground", "fuel", "overhead", "people"].map(|id| place_of(&list, id));
        let first_of_procedure = place_of(&list, "procedure-1");
        assert!(before.iter().all(|place| *place < first_of_procedure), "the place is looked at before");
        assert_eq!(place_of(&list, "cool"), list.steps.len() - 1, "touching comes last");
        let stays = |word: &str| list.steps.iter().any(|step| step.critical && step.action.contains(word));
        assert!(stays("Stay"), "{}: it is attended", profile.id);
    }
}

// Common practice, no published source: at the stop level the machine is stopped, nothing is burnt off, service is called.
#[test]
fn at_the_stop_level_nothing_is_started_and_service_is_called() {
    for profile in profiles() {
        let list = make(Task::StopAndCall, &profile);
        for id in ["stop-work", "no-regeneration", "not-driven"] {
            let step = &list.steps[place_of(&list, id)];
            assert!(step.critical && step.hazards.contains(&Hazard::OverloadedFilter), "{}: {step:?}", profile.id);
        }
        place_of(&list, "call");
        let lamps = &list.steps[place_of(&list, "lamps")];
        assert!(lamps.critical && lamps.action.contains("red stop lamp"), "{}: {lamps:?}", profile.id);
    }
}

// Source: ISO 2575 via UN R121 (secondary): red means danger, yellow a warning. What a red lamp says is never optional.
#[test]
fn not_knowing_the_red_lamp_fails_a_daily_check_and_not_knowing_the_hot_one_does_not() {
    for profile in profiles() {
        let list = make(Task::DailyCheck, &profile);
        assert!(list.steps[place_of(&list, "lamp-stop")].critical, "{}", profile.id);
        assert!(!list.steps[place_of(&list, "note")].critical, "{}", profile.id);
    }
}

// Source: ANSI Z535.4 (secondary): DANGER, WARNING, CAUTION, NOTICE, worst first.
#[test]
fn no_caution_is_lost_and_the_worst_comes_first() {
    let order =
        |signal: SignalWord| ["DANGER", "WARNING", "CAUTION", "NOTICE"].iter().position(|w| *w == signal.word());
    for (profile, list) in every_list() {
        let of = format!("{} {}", profile.id, list.task.id());
        assert_eq!(list.cautions.len(), profile.cautions.len(), "{of}");
        for caution in &profile.cautions {
            let frozen = list.caution(caution.hazard).unwrap_or_else(|| panic!("{of}: {caution:?} is lost"));
            assert_eq!((frozen.signal, &frozen.what, &frozen.avoid), (caution.signal, &caution.what, &caution.avoid));
        }
        let signals: Vec<_> = list.cautions.iter().map(|caution| order(caution.signal)).collect();
        assert!(signals.is_sorted(), "{of}: {signals:?}");
        for step in &list.steps {
            let signals: Vec<_> =
                step.hazards.iter().map(|hazard| order(list.caution(*hazard).expect("words").signal)).collect();
            assert!(signals.is_sorted(), "{of} {}: {signals:?}", step.id);
        }
    }
}

#[test]
fn every_step_says_why_and_is_told_from_every_other() {
    for (profile, list) in every_list() {
        let of = format!("{} {}", profile.id, list.task.id());
        let ids: BTreeSet<&str> = list.steps.iter().map(|step| step.id.as_str()).collect();
        assert_eq!(ids.len(), list.steps.len(), "{of}");
        for step in &list.steps {
            assert!(step.action.trim().len() > 10 && step.reason.trim().len() > 10, "{of}: {step:?}");
            assert!(step.reason.ends_with('.') && !step.reason.contains("Nothing in the model"), "{of}: {step:?}");
        }
        assert!(list.steps.iter().any(|step| step.critical), "{of}");
        assert_eq!(make(list.task, &profile), list, "made again it is the same");
        let frozen = serde_json::to_string(&list).expect("JSON");
        assert_eq!(serde_json::from_str::<Checklist>(&frozen).expect("a list"), list, "frozen it reads back");
    }
    // The machine's own procedure stands in it, step by step and in its order.
    for profile in profiles() {
        let list = make(Task::ParkedRegeneration, &profile);
        let actions: Vec<&str> = list
            .steps
            .iter()
            .filter(|step| step.id.starts_with("procedure-"))
            .map(|step| step.action.as_str())
            .collect();
        let own: Vec<&str> = profile.procedure.iter().map(|step| step.action.as_str()).collect();
        assert_eq!(actions, own, "{}", profile.id);
    }
}

fn marks(list: &Checklist, not_seen: impl Fn(usize) -> bool) -> Vec<Option<Marked>> {
    let mark = |place| if not_seen(place) { Mark::NotSeen } else { Mark::Seen };
    (0..list.steps.len()).map(|place| Some(Marked { mark: mark(place), remark: String::new() })).collect()
}

#[test]
fn each_critical_step_fails_alone_and_others_fail_from_more_than_one_in_five() {
    for (profile, list) in every_list() {
        let of = format!("{} {}", profile.id, list.task.id());
        let all = list.outcome(&marks(&list, |_| false)).expect("all are marked");
        assert!(all.passed && all.missed.is_empty() && all.missed_critical.is_empty(), "{of}");
        let others: Vec<usize> = (0..list.steps.len()).filter(|place| !list.steps[*place].critical).collect();
        for place in 0..list.steps.len() {
            let outcome = list.outcome(&marks(&list, |missed| missed == place)).expect("all are marked");
            if list.steps[place].critical {
                assert!(!outcome.passed && outcome.missed_critical == [place + 1], "{of} {place}: {outcome:?}");
            }
        }
        for count in 0..=others.len() {
            let missed = &others[..count];
            let outcome = list.outcome(&marks(&list, |place| missed.contains(&place))).expect("all are marked");
            assert_eq!(outcome.passed, count * 5 <= others.len(), "{of}: {count} of {} missed", others.len());
        }
    }
}

#[test]
fn nothing_is_an_outcome_while_a_step_is_open() {
    for (_, list) in every_list() {
        for place in 0..list.steps.len() {
            let mut marks = marks(&list, |_| false);
            marks[place] = None;
            assert_eq!(list.outcome(&marks), None);
            let left_out = |remark: &str| Some(Marked { mark: Mark::NotApplicable, remark: remark.to_owned() });
            marks[place] = left_out(" ");
            assert_eq!(list.outcome(&marks), None, "why it does not apply has to be said");
            marks[place] = left_out("There is none on this machine.");
            assert_eq!(list.outcome(&marks).is_some(), !list.steps[place].critical, "a critical step always applies");
        }
        assert_eq!(list.outcome(&[]), None);
    }
}
