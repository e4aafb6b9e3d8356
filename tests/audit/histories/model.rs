//! What should happen, in a few lines: who sits what since when, what is answered rightly, what it comes to.

use super::certified::Certified;
use super::watched::Watch;
use super::world::{MODULE, QUESTIONS, RESIT_AFTER_S, SCHEME, TIME_LIMIT_S, World};
use super::{Dice, Tally};
use crate::support::sittings::{right, wrong};
use sootmark::actions::ActionError;
use sootmark::actions::PastBank;
use sootmark::actions::begin_examination::{Begun, NotYet, begin_with_code};
use sootmark::actions::change_person::{PersonChange, Standing, change_person};
use sootmark::actions::check_record::check_record;
use sootmark::actions::close_overdue::close_overdue;
use sootmark::actions::invigilate::{CodeRefused, Typed};
use sootmark::actions::read_lesson::read_lesson;
use sootmark::actions::replay_attempt::replay_attempt;
use sootmark::actions::save_answer::{AnswerSaved, save_answer};
use sootmark::actions::submit_examination::{Submitted, submit_examination};
use sootmark::domain::certification::proposal::DECIDE_WITHIN_DAYS;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::units::{Moment, TemperatureUnit};
use sootmark::store::attempts::{self, AttemptState};
use sootmark::store::read::record_head::record_head;
use sootmark::store::{AttemptId, InvigilationId, StoreError, qualifications};
use std::collections::{BTreeMap, BTreeSet};

/// A sitting as it should be.
pub(super) struct Sitting {
    pub(super) id: AttemptId,
    pub(super) who: usize,
    pub(super) under: InvigilationId,
    /// Seconds more than the scheme gives.
    pub(super) extra_s: i64,
    pub(super) flags: BTreeSet<i32>,
    pub(super) incidents: usize,
    /// Whether the trainer ended it.
    pub(super) ended: bool,
    begun: Moment,
    questions: Vec<Question>,
    /// By position, whether the answer is right.
    answers: BTreeMap<i32, bool>,
    /// When it was graded, and with which key it was handed in; the clock has none.
    pub(super) graded: Option<(Moment, Option<&'static str>)>,
    /// What was written down about the talk, once there was one.
    pub(super) talked: Option<&'static str>,
    /// Whether the certificate was granted.
    pub(super) granted: bool,
}

impl Sitting {
    pub(super) fn is_overdue(&self, now: Moment) -> bool {
        self.graded.is_none() && now > self.begun.plus_seconds(TIME_LIMIT_S + self.extra_s)
    }

    fn right_in(&self, competence: &str) -> usize {
        let is_right = |position: usize| {
            let position = i32::try_from(position + 1).expect("small");
            self.answers.get(&position).copied().unwrap_or_default()
        };
        let own = self.questions.iter().enumerate().filter(|(_, question)| question.competence == competence);
        own.filter(|(position, _)| is_right(*position)).count()
    }

    pub(super) fn missed_fire(&self) -> bool {
        self.right_in("fire") < 2
    }

    /// Both on fire right, and one of the two on lamps: that is 75 % at least, where 60 % are needed.
    pub(super) fn passes(&self) -> bool {
        !self.missed_fire() && self.right_in("lamps") >= 1
    }
}

/// Everything that should be so.
pub(super) struct Model {
    read: [bool; 2],
    pub(super) sittings: Vec<Sitting>,
    pub(super) certificates: Vec<Certified>,
    pub(super) watch: Option<Watch>,
    /// By person, the seconds more that they get from the next sitting on.
    pub(super) extra_s: [i64; 2],
    /// By person, the practice under way and how many of its questions are answered.
    pub(super) practice: [Option<(AttemptId, i32)>; 2],
    /// Heads that were kept on the way.
    heads: Vec<String>,
    standing: [Standing; 2],
}

impl Model {
    pub(super) fn new(world: &World) -> Self {
        let standing = Standing { role: Role::Technician, branch: world.branch, active: true };
        Self {
            read: [false; 2],
            sittings: Vec::new(),
            certificates: Vec::new(),
            watch: None,
            extra_s: [0; 2],
            practice: [None; 2],
            heads: Vec::new(),
            standing: [standing; 2],
        }
    }

    pub(super) async fn step(&mut self, world: &mut World, dice: &mut Dice, tally: &mut Tally) {
        let who = dice.place(2);
        match dice.below(30) {
            0 | 1 => self.read(world, who).await,
            2..=4 => self.begin(world, dice, who, tally).await,
            5..=7 => self.answer_everything(world, who).await,
            8..=12 => self.save(world, dice, who, tally).await,
            13..=15 => self.submit(world, dice, who).await,
            16 | 17 => world.clock.advance([1, 200, 700, 901, 3700][dice.place(5)]),
            18 => self.sweep(world).await,
            19 => {
                world.change_bank(dice.place(40)).await;
                tally.changed += 1;
            }
            20 => self.change_standing(world, dice, who).await,
            21 => self.practise(world, dice, who, tally).await,
            22 => self.talk(world, dice, tally).await,
            23 => self.end(world, dice, tally).await,
            24 => self.flag(world, dice, who).await,
            25 => self.set_time(world, dice, who).await,
            26..=28 => self.certify(world, dice, who, tally).await,
            _ => self.heads.push(record_head(&world.deeds.db).await.expect("the head").hash),
        }
    }

    async fn read(&mut self, world: &World, who: usize) {
        let bank = world.deeds.bank.now();
        for lesson in &bank.bank.module(MODULE).expect("the module").lessons {
            let read = read_lesson(&world.deeds, world.technicians[who], MODULE, &lesson.id).await;
            assert!(read.expect("the store"));
        }
        self.read[who] = true;
    }

    /// What should keep the person from beginning now.
    fn missing(&self, who: usize, now: Moment) -> Option<NotYet> {
        if !self.read[who] {
            return Some(NotYet::LessonsUnread(vec![MODULE.to_owned()]));
        }
        let own = || self.sittings.iter().rev().filter(|sitting| sitting.who == who);
        let unclosed = own().take_while(|sitting| !(sitting.passes() && sitting.granted));
        if let Some(missed) = unclosed.into_iter().find(|sitting| sitting.missed_fire() && sitting.talked.is_none()) {
            return Some(NotYet::DebriefNeeded(missed.id));
        }
        let last = own().next()?;
        if last.passes() && !last.granted && now.seconds_since(last.graded?.0) < DECIDE_WITHIN_DAYS * 86_400 {
            return Some(NotYet::AwaitsDecision(last.id));
        }
        let over = last.graded?.0.plus_seconds(RESIT_AFTER_S);
        (!last.passes() && over > now).then_some(NotYet::WaitUntil(over))
    }

    async fn begin(&mut self, world: &World, dice: &mut Dice, who: usize, tally: &mut Tally) {
        let now = world.clock.now();
        let person = world.technicians[who];
        self.certify(world, dice, who, tally).await;
        let watch = self.watched(world).await;
        let (under, without) = (watch.id, dice.below(8) == 0);
        let typed = Typed { code: if without { "" } else { &watch.code }, address: "192.0.2.1" };
        let begun = begin_with_code(&world.deeds, person, TemperatureUnit::Celsius, SCHEME, typed).await;
        let begun = match begun {
            Err(ActionError::Store(StoreError::NotFound)) => None,
            begun => Some(begun.expect("the store")),
        };
        if let Some(open) = self.sittings.iter_mut().find(|sitting| sitting.who == who && sitting.graded.is_none()) {
            if !open.is_overdue(now) {
                assert_eq!(begun, Some(Begun::Sitting(open.id)));
                return;
            }
            open.graded = Some((now, None));
        }
        if let Some(missing) = self.missing(who, now) {
            assert_eq!(begun, Some(Begun::NotYet(missing)));
            tally.refused += 1;
            return;
        }
        if without {
            assert_eq!(begun, Some(Begun::CodeRefused(CodeRefused::Missing)));
            tally.refused += 1;
            return;
        }
        if !self.standing[who].active {
            assert_eq!(begun, None, "whoever is suspended looks like nobody");
            tally.refused += 1;
            return;
        }
        let Some(Begun::Sitting(id)) = begun else { panic!("nothing is missing, and: {begun:?}") };
        let frozen = attempts::questions(&world.deeds.db, id).await.expect("the questions");
        let questions = frozen.iter().map(|asked| serde_json::from_str(&asked.question.json).expect("a question"));
        let questions: Vec<Question> = questions.collect();
        tally.begun += 1;
        self.sittings.push(Sitting {
            id,
            who,
            under,
            extra_s: self.extra_s[who],
            flags: BTreeSet::new(),
            incidents: 0,
            ended: false,
            begun: now,
            questions,
            answers: BTreeMap::new(),
            graded: None,
            talked: None,
            granted: false,
        });
    }

    async fn save(&mut self, world: &World, dice: &mut Dice, who: usize, tally: &mut Tally) {
        if self.sittings.is_empty() {
            return;
        }
        // Mostly the newest, now and then an older one.
        let place = if dice.below(4) == 0 { dice.place(self.sittings.len()) } else { self.sittings.len() - 1 };
        let sitting = &mut self.sittings[place];
        let person = world.technicians[if dice.below(8) == 0 { who } else { sitting.who }];
        let position =
            if dice.below(12) == 0 { QUESTIONS + 5 } else { 1 + i32::try_from(dice.below(4)).expect("small") };
        let question = sitting.questions.get(usize::try_from(position - 1).expect("small"));
        let (is_right, answer) = match (dice.below(10), question) {
            (0, _) | (_, None) => (None, Answer::Options(Vec::new())),
            (1..=7, Some(question)) => (Some(true), right(question)),
            (_, Some(question)) => (Some(false), wrong(question)),
        };
        let now = world.clock.now();
        let saved = save_answer(&world.deeds, person, sitting.id, position, &answer).await;
        if person != world.technicians[sitting.who] || question.is_none() {
            assert!(matches!(saved, Err(ActionError::Store(StoreError::NotFound))), "{saved:?}");
            tally.refused += 1;
            return;
        }
        let saved = saved.expect("the store");
        if sitting.is_overdue(now) {
            sitting.graded = Some((now, None));
        }
        match (sitting.graded, is_right) {
            (Some(_), _) => assert_eq!(saved, AnswerSaved::Closed),
            (None, None) => assert!(matches!(saved, AnswerSaved::NotAnAnswer(_)), "{saved:?}"),
            (None, Some(is_right)) => {
                assert_eq!(saved, AnswerSaved::Saved(now));
                sitting.answers.insert(position, is_right);
            }
        }
    }

    /// Somebody who knows it all answers the whole sitting.
    async fn answer_everything(&mut self, world: &World, who: usize) {
        let now = world.clock.now();
        let open = |sitting: &&mut Sitting| sitting.who == who && sitting.graded.is_none() && !sitting.is_overdue(now);
        let Some(sitting) = self.sittings.iter_mut().find(open) else { return };
        for (position, question) in (1..).zip(&sitting.questions) {
            let answer = right(question);
            let saved = save_answer(&world.deeds, world.technicians[who], sitting.id, position, &answer).await;
            assert_eq!(saved.expect("the store"), AnswerSaved::Saved(now));
            sitting.answers.insert(position, true);
        }
    }

    async fn submit(&mut self, world: &World, dice: &mut Dice, who: usize) {
        let Some(sitting) = self.sittings.iter_mut().rev().find(|sitting| sitting.who == who) else { return };
        let key = ["a key", "another key"][dice.place(2)];
        let now = world.clock.now();
        let done = submit_examination(&world.deeds, world.technicians[who], sitting.id, key).await.expect("the store");
        let wanted = match sitting.graded {
            Some((_, Some(with))) if with == key => Submitted::Graded,
            Some(_) => Submitted::Before,
            None if sitting.is_overdue(now) => {
                sitting.graded = Some((now, None));
                Submitted::Before
            }
            None => {
                sitting.graded = Some((now, Some(key)));
                Submitted::Graded
            }
        };
        assert_eq!(done, wanted);
    }

    async fn sweep(&mut self, world: &World) {
        let now = world.clock.now();
        let mut overdue = 0;
        for sitting in self.sittings.iter_mut().filter(|sitting| sitting.is_overdue(now)) {
            sitting.graded = Some((now, None));
            overdue += 1;
        }
        assert_eq!(close_overdue(&world.deeds).await.expect("the store"), overdue);
    }

    async fn change_standing(&mut self, world: &World, dice: &mut Dice, who: usize) {
        let role = Role::ALL[dice.place(Role::ALL.len())];
        let to = Standing { role, branch: world.branch, active: dice.below(3) > 0 };
        let done = change_person(&world.deeds, world.administrator, world.technicians[who], to).await;
        assert_eq!(done.expect("the store"), PersonChange::Changed);
        self.standing[who] = to;
    }

    /// The database says what this says, the record is whole, and everything comes out again.
    pub(super) async fn compare(&self, world: &World, history: u64, tally: &mut Tally) {
        let db = &world.deeds.db;
        let past = PastBank::read(db).await.expect("the bank");
        for sitting in &self.sittings {
            self.compare_sitting(world, sitting, history, tally).await;
        }
        self.compare_watched(world, history).await;
        self.compare_certificates(world, history).await;
        let practices = self.practice.iter().flatten().map(|(id, _)| *id);
        for id in self.sittings.iter().map(|sitting| sitting.id).chain(practices) {
            let again = replay_attempt(db, &past, id).await.expect("the store");
            assert_eq!(again.differences, Vec::<String>::new(), "history {history}, attempt {id}");
            assert_eq!(
                (again.same_bytes, again.other_model),
                (again.questions, None),
                "history {history}, attempt {id}"
            );
        }
        for (who, standing) in self.standing.iter().enumerate() {
            let person = sootmark::store::people::by_id(db, world.technicians[who]).await.expect("a person");
            assert_eq!((person.role, person.active), (standing.role, standing.active), "history {history}");
        }
        let found = check_record(db, &self.heads).await.expect("the check");
        assert!(found.is_whole(), "history {history}: {found:?}");
        let graded = self.sittings.iter().filter(|sitting| sitting.graded.is_some()).count();
        assert_eq!((found.concluded, found.open), (graded, self.sittings.len() - graded), "history {history}");
    }

    async fn compare_sitting(&self, world: &World, sitting: &Sitting, history: u64, tally: &mut Tally) {
        let db = &world.deeds.db;
        let stored = attempts::by_id(db, world.technicians[sitting.who], sitting.id).await.expect("the attempt");
        let state = match sitting.graded {
            None => AttemptState::Open,
            Some((_, None)) => AttemptState::Expired,
            Some((_, Some(_))) => AttemptState::Submitted,
        };
        assert_eq!((stored.state, stored.started_at), (state, sitting.begun), "history {history}");
        let saved: BTreeMap<i32, Answer> = attempts::responses(db, sitting.id)
            .await
            .expect("the answers")
            .iter()
            .map(|saved| (saved.position, serde_json::from_str(&saved.answer).expect("an answer")))
            .collect();
        let answers = sitting.answers.iter().map(|(position, is_right)| {
            let question = &sitting.questions[usize::try_from(position - 1).expect("small")];
            (*position, if *is_right { right(question) } else { wrong(question) })
        });
        assert_eq!(saved, answers.collect(), "history {history}");
        let result = attempts::find_result(db, sitting.id).await.expect("the store");
        let decided = qualifications::of_attempt(db, sitting.id).await.expect("the store");
        let Some((at, key)) = sitting.graded else {
            assert_eq!((result, decided), (None, Vec::new()), "history {history}");
            return;
        };
        let result = result.expect("a result");
        let number_right = sitting.right_in("fire") + sitting.right_in("lamps");
        let score = [0.0, 25.0, 50.0, 75.0, 100.0][number_right];
        assert_eq!((result.passed, result.graded_at), (sitting.passes(), at), "history {history}");
        assert!((result.score - score).abs() < 1e-9, "history {history}: {} and not {score}", result.score);
        assert!(
            decided.iter().all(|decided| decided.entry.safety_miss
                == (decided.entry.competence_key == "fire" && sitting.missed_fire()))
        );
        tally.passed += usize::from(result.passed);
        tally.failed += usize::from(!result.passed);
        tally.by_the_clock += usize::from(key.is_none() && !sitting.ended);
    }
}
