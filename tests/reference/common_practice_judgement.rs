//! A decision table written by hand from what the trade says about its filters, and held against the model's judgement.
//!
//! Common practice, no published source, for the whole table. It was written from these statements and never from the
//! model: where the two differ, the statements win. Nothing here is a maker's number; the operator's manual decides.
//!
//! Light work brings about 150 °C and burns practically nothing; heavy work 400 to 500 °C; exhaust-hot at about 450 °C;
//! work alone up to 77 % soot; active from 77 to 80 %, at 1500 rpm or more, below which the machine asks for speed; parked
//! from 80 to 120 %, and never within 50 h of the last one unless soot is above 77 %; above 120 % no use, call service.
//! Where hot gas is a hazard, cleaning is held back until the machine stands in a safe place. Holding back again and
//! again costs power, and then only a parked cleaning helps. One that has begun is left to finish. Lamps: exhaust-hot
//! alone is cleaning by work; with the filter lamp an active one begins; filter and amber: parked; filter and red: stop.
//!
//! Chosen by us, because no statement says it: more load is advised from 60 %; power drops after 3 held back and a parked
//! one is needed after 5; the inhibit switch keeps a parked one from starting; what exactly 120 % is (the safe side).

use sootmark::domain::aftertreatment::judgement::{Action, ActionSet, Route, judge};
use sootmark::domain::aftertreatment::lamp::{Lamp, LampSet};
use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::aftertreatment::situation::{Enclosure, Ground, Regeneration, Situation};

/// Soot %, outlet °C, machine, switch and count held back, running, place, hours since the last parked one; then the
/// route, the lamps, what may and what must not be done. What a row leaves out is not stated by the trade.
const TABLE: &str = "
 40 | 150 | slow   | off   | none   | soil     | 100 | work_on          |                            | keep_working raise_load        | start_parked switch_inhibit_on
 40 | 420 | hard   | off   | none   | soil     | 100 | work_on          |                            | keep_working                   | start_parked touch_outlet
 40 | 460 | hard   | off   | none   | soil     | 100 | work_on          | exhaust_hot                | keep_working                   | touch_outlet
 76 | 460 | hard   | off   | none   | gravel   | 100 | work_on          | exhaust_hot                | keep_working raise_load        | start_parked
 76 | 500 | hard   | off   | none   | soil     |  10 | work_on          | exhaust_hot                | keep_working                   | start_parked
 70 | 150 | slow   | off   | none   | soil     | 100 | work_harder      |                            | keep_working raise_load        | start_parked switch_inhibit_on
 40 | 150 | parked | off   | none   | concrete |  10 | work_on          |                            | keep_working                   | start_parked
 40 | 150 | parked | off   | none   | concrete | 100 | work_on          |                            | keep_working leave_unattended  | start_parked
 76 | 460 | parked | off   | none   | concrete | 100 | work_on          | exhaust_hot                | keep_working                   | start_parked touch_outlet
 76 | 150 | parked | off   | none   | concrete |  10 | any              |                            |                                | start_parked
 40 | 150 | works  | on    | none   | soil     | 100 | release_inhibit  | inhibit                    | switch_inhibit_off             | switch_inhibit_on
 70 | 150 | slow   | on    | none   | concrete | 100 | release_inhibit  | inhibit                    | switch_inhibit_off             | switch_inhibit_on
 40 | 150 | works  | on    | none   | straw    | 100 | work_on          | inhibit                    | move_machine                   | switch_inhibit_off start_parked raise_load
 40 | 150 | works  | off   | none   | straw    | 100 | work_on          |                            | switch_inhibit_on              | start_parked raise_load
 70 | 150 | slow   | off   | none   | stubble  | 100 | work_on          |                            | switch_inhibit_on move_machine | start_parked raise_load
 70 | 150 | slow   | off   | none   | people   | 100 | work_on          |                            | switch_inhibit_on              | start_parked raise_load
 40 | 460 | parked | off   | none   | straw    | 100 | move_first       | exhaust_hot                | move_machine                   | leave_unattended keep_working start_parked
 40 | 300 | parked | off   | none   | grass    | 100 | move_first       |                            | move_machine                   | leave_unattended raise_load
 40 | 150 | parked | off   | none   | shed     | 100 | move_first       |                            | move_machine switch_engine_off | start_parked raise_load leave_unattended
 40 | 150 | works  | off 3 | none   | soil     | 100 | work_on          |                            | keep_working                   | switch_inhibit_on
 40 | 150 | works  | on 3  | none   | soil     | 100 | release_inhibit  | inhibit                    | switch_inhibit_off             | switch_inhibit_on
 40 | 150 | parked | off 5 | none   | concrete | 100 | start_parked     |                            | start_parked                   | keep_working switch_inhibit_on
 40 | 150 | parked | off 5 | none   | concrete |  51 | start_parked     |                            | start_parked                   | keep_working
 40 | 150 | parked | off 5 | none   | concrete |  50 | any              |                            |                                | start_parked
 40 | 150 | parked | off 5 | none   | straw    | 100 | move_first       |                            | move_machine                   | start_parked switch_inhibit_off
 78 | 150 | parked | off 5 | none   | concrete |  10 | start_parked     | filter                     | start_parked                   | keep_working
 77 | 200 | works  | off   | none   | soil     | 100 | let_active_run   | filter                     | keep_working                   | start_parked switch_inhibit_on
 78 | 200 | works  | off   | none   | soil     | 100 | let_active_run   | filter                     | keep_working                   | start_parked switch_inhibit_on
 79 | 200 | parked | off   | none   | concrete | 100 | raise_speed      | filter                     | keep_working                   | start_parked switch_inhibit_on
 78 | 200 | slow   | off   | none   | soil     | 100 | raise_speed      | filter                     | keep_working                   | start_parked switch_inhibit_on
 78 | 460 | hard   | off   | none   | gravel   | 100 | let_active_run   | exhaust_hot filter         | keep_working                   | start_parked touch_outlet
 78 | 350 | works  | off   | active | soil     | 100 | let_active_run   | exhaust_hot filter         | keep_working                   | switch_engine_off leave_unattended start_parked switch_inhibit_on touch_outlet
 78 | 600 | works  | off   | active | gravel   | 100 | let_active_run   | exhaust_hot filter         | keep_working                   | switch_engine_off leave_unattended touch_outlet
 40 | 600 | works  | off   | active | soil     |  10 | let_active_run   | exhaust_hot filter         | keep_working                   | switch_engine_off leave_unattended start_parked
 40 | 390 | slow   | off   | active | soil     | 100 | raise_speed      | exhaust_hot filter         | keep_working                   | switch_engine_off leave_unattended
 78 | 200 | works  | off   | none   | straw    | 100 | hold_back_and_move | filter                   | switch_inhibit_on move_machine | start_parked raise_load
 78 | 200 | works  | on    | none   | straw    | 100 | hold_back_and_move | filter inhibit           | move_machine                   | switch_inhibit_off start_parked raise_load
 78 | 200 | works  | off   | none   | shed     | 100 | hold_back_and_move | filter                   | switch_inhibit_on move_machine | start_parked raise_load
 78 | 200 | works  | off   | none   | roof     | 100 | hold_back_and_move | filter                   | switch_inhibit_on move_machine | start_parked raise_load
 78 | 200 | works  | off   | none   | people   | 100 | hold_back_and_move | filter                   | switch_inhibit_on move_machine | start_parked raise_load
 78 | 200 | works  | off   | none   | fuel     | 100 | hold_back_and_move | filter                   | switch_inhibit_on move_machine | start_parked raise_load
 78 | 200 | works  | off   | none   | overhead | 100 | hold_back_and_move | filter                   | switch_inhibit_on move_machine | start_parked raise_load
 78 | 200 | works  | on    | none   | soil     | 100 | release_inhibit  | filter inhibit             | switch_inhibit_off             | switch_inhibit_on start_parked
 78 | 600 | works  | off   | active | straw    | 100 | hold_back_and_move | exhaust_hot filter       | switch_inhibit_on move_machine switch_engine_off | keep_working raise_load leave_unattended touch_outlet
 40 | 600 | works  | off   | active | people   | 100 | hold_back_and_move | exhaust_hot filter       | switch_inhibit_on move_machine switch_engine_off | keep_working raise_load leave_unattended touch_outlet
 40 | 600 | works  | off   | active | shed     | 100 | hold_back_and_move | exhaust_hot filter       | switch_inhibit_on move_machine switch_engine_off | keep_working raise_load leave_unattended
 80 | 160 | parked | off   | none   | concrete | 100 | start_parked     | filter warning             | start_parked                   | keep_working raise_load switch_inhibit_on
 95 | 160 | parked | off   | none   | concrete | 100 | start_parked     | filter warning             | start_parked                   | keep_working raise_load switch_inhibit_on
 95 | 160 | parked | off   | none   | concrete |  10 | start_parked     | filter warning             | start_parked                   | keep_working
119 | 160 | parked | off   | none   | gravel   |  10 | start_parked     | filter warning             | start_parked                   | keep_working raise_load
 95 | 160 | parked | off   | none   | straw    | 100 | move_first       | filter warning             | move_machine                   | start_parked keep_working raise_load switch_inhibit_off
 95 | 160 | parked | off   | none   | grass    |  10 | move_first       | filter warning             | move_machine                   | start_parked keep_working
 95 | 160 | parked | off   | none   | shed     | 100 | move_first       | filter warning             | move_machine                   | start_parked keep_working leave_unattended
 95 | 160 | parked | off   | none   | roof     | 100 | move_first       | filter warning             | move_machine                   | start_parked keep_working
 95 | 160 | parked | off   | none   | people   | 100 | move_first       | filter warning             | move_machine                   | start_parked keep_working
 95 | 160 | parked | off   | none   | fuel     | 100 | move_first       | filter warning             | move_machine                   | start_parked keep_working
 95 | 160 | parked | off   | none   | overhead | 100 | move_first       | filter warning             | move_machine                   | start_parked keep_working
 95 | 160 | works  | off   | none   | soil     | 100 | meet_conditions  | filter warning             | move_machine                   | start_parked keep_working raise_load
 81 | 460 | hard   | off   | none   | soil     | 100 | meet_conditions  | exhaust_hot filter warning | move_machine                   | start_parked keep_working raise_load
 95 | 160 | parked | on    | none   | concrete | 100 | meet_conditions  | filter warning inhibit     | switch_inhibit_off             | start_parked keep_working
 95 | 600 | parked | off   | parked | concrete | 100 | stay_with_parked | exhaust_hot filter warning |                                | leave_unattended switch_engine_off move_machine touch_outlet keep_working start_parked
 30 | 600 | parked | off   | parked | gravel   | 100 | stay_with_parked | exhaust_hot                |                                | leave_unattended switch_engine_off move_machine touch_outlet keep_working
 95 | 600 | parked | off   | parked | people   | 100 | break_off_parked | exhaust_hot filter warning | switch_engine_off              | leave_unattended move_machine keep_working raise_load
 30 | 600 | parked | off   | parked | straw    | 100 | break_off_parked | exhaust_hot                | switch_engine_off              | leave_unattended move_machine keep_working
 50 | 600 | parked | off   | parked | roof     | 100 | break_off_parked | exhaust_hot                | switch_engine_off              | leave_unattended move_machine keep_working
121 | 160 | parked | off   | none   | concrete | 100 | stop_and_call    | filter stop                | switch_engine_off              | keep_working raise_load move_machine start_parked switch_inhibit_on switch_inhibit_off
121 | 160 | works  | off   | none   | soil     | 100 | stop_and_call    | filter stop                | switch_engine_off              | keep_working raise_load move_machine start_parked leave_unattended
121 | 460 | hard   | on    | none   | straw    | 100 | stop_and_call    | exhaust_hot filter stop inhibit | switch_engine_off         | keep_working raise_load move_machine start_parked switch_inhibit_off
140 | 160 | parked | off 5 | none   | shed     |  10 | stop_and_call    | filter stop                | switch_engine_off              | keep_working raise_load start_parked
121 | 600 | parked | off   | parked | concrete | 100 | stop_and_call    | exhaust_hot filter stop    | switch_engine_off              | keep_working start_parked leave_unattended touch_outlet
121 | 600 | works  | off   | active | straw    | 100 | stop_and_call    | exhaust_hot filter stop    | switch_engine_off              | keep_working raise_load leave_unattended
";

fn situation(cells: &[&str]) -> Situation {
    let number = |cell: &str| cell.parse::<f64>().unwrap_or_else(|error| panic!("{cell}: {error}"));
    let mut s = Situation { soot_percent: number(cells[0]), outlet_c: number(cells[1]), ..Situation::default() };
    let (load, speed, stands) = match cells[2] {
        "slow" => (20.0, 1000.0, false),
        "works" => (40.0, 1800.0, false),
        "hard" => (100.0, 2200.0, false),
        "parked" => (5.0, 900.0, true),
        other => panic!("no machine does \"{other}\""),
    };
    (s.load_percent, s.speed_rpm) = (load, speed);
    (s.standing, s.park_brake, s.neutral, s.attachment_down) = (stands, stands, stands, stands);
    let (switch, held_back) = cells[3].split_once(' ').unwrap_or((cells[3], "0"));
    s.inhibit_on = switch == "on";
    s.inhibits = held_back.parse().expect("a count");
    s.regeneration = Regeneration::from_id(cells[4]).expect("a regeneration");
    match cells[5] {
        "soil" => s.ground = Ground::BareSoil,
        "concrete" => s.ground = Ground::Concrete,
        "gravel" => s.ground = Ground::Gravel,
        "straw" => s.ground = Ground::Straw,
        "grass" => s.ground = Ground::DryGrass,
        "stubble" => s.ground = Ground::Stubble,
        "shed" => s.enclosure = Enclosure::Closed,
        "roof" => s.enclosure = Enclosure::OpenSided,
        "people" => s.people_near = true,
        "fuel" => s.fuel_near = true,
        "overhead" => s.overhead = true,
        other => panic!("no place is \"{other}\""),
    }
    s.hours_since_parked = number(cells[6]);
    s
}

fn actions(cell: &str) -> ActionSet {
    cell.split_whitespace()
        .map(|word| Action::from_id(word).unwrap_or_else(|| panic!("no action \"{word}\"")))
        .collect()
}

/// What the model says otherwise than the row, in words.
fn differences(profile: &Profile, row: &str) -> Vec<String> {
    let cells: Vec<&str> = row.split('|').map(str::trim).collect();
    assert_eq!(cells.len(), 11, "{row}");
    let judgement = judge(profile, &situation(&cells));
    let mut differ = Vec::new();
    if cells[7] != "any" {
        let route = Route::from_id(cells[7]).unwrap_or_else(|| panic!("no route \"{}\"", cells[7]));
        if judgement.route != route {
            differ.push(format!("route {}", judgement.route.id()));
        }
    }
    let lamps: LampSet = cells[8].split_whitespace().map(|word| Lamp::from_id(word).expect("a lamp")).collect();
    if judgement.lamps != lamps {
        differ.push(format!("lamps {:?}", judgement.lamps.iter().map(Lamp::id).collect::<Vec<_>>()));
    }
    let forbidden = judgement.forbidden();
    differ.extend(
        actions(cells[9]).iter().filter(|action| forbidden.contains(*action)).map(|a| format!("forbids {}", a.id())),
    );
    let permitted = judgement.permitted;
    differ.extend(
        actions(cells[10]).iter().filter(|action| permitted.contains(*action)).map(|a| format!("permits {}", a.id())),
    );
    differ
}

#[test]
fn the_model_decides_as_the_trade_does() {
    let profile = Profile::read("common_practice.toml", include_str!("common_practice.toml")).expect("whole");
    let rows: Vec<&str> = TABLE.lines().filter(|line| !line.trim().is_empty()).collect();
    assert!(rows.len() >= 40, "{} rows", rows.len());
    let told: Vec<String> = rows
        .iter()
        .map(|row| (row, differences(&profile, row)))
        .filter(|(_, differ)| !differ.is_empty())
        .map(|(row, differ)| format!("{}\n    model: {}", row.trim(), differ.join(", ")))
        .collect();
    assert!(told.is_empty(), "{} of {} rows differ:\n{}", told.len(), rows.len(), told.join("\n"));
}

#[test]
fn holding_back_again_and_again_costs_power() {
    // Common practice, no published source; that it is the third one is this test profile's own.
    let profile = Profile::read("common_practice.toml", include_str!("common_practice.toml")).expect("whole");
    let derated =
        |inhibits| judge(&profile, &Situation { soot_percent: 40.0, inhibits, ..Situation::default() }).derated;
    assert_eq!([0, 1, 2, 3, 4, 9].map(derated), [false, false, false, true, true, true]);
    // Leaving the switch on lets the soot rise into the range of a parked cleaning, with reduced power.
    let very_high = judge(&profile, &Situation { soot_percent: 95.0, inhibit_on: true, ..Situation::default() });
    assert!(very_high.derated);
}
