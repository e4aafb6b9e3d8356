//! The past of the demo, done day by day in the order in which it happened.
//!
//! Every step is a deed of [`crate::actions`]; nothing is written here beside the branches, which have no deed yet.

use super::answers::{answer, right, wrong};
use super::cast::{BRANCHES, CAST, DAY_US, Member, Story, trainer_of};
use super::plan::{Deed, Manner, When, plan};
use crate::actions::accept_invitation::accept_invitation;
use crate::actions::answer_practice_question::answer_practice_question;
use crate::actions::ask_practice_question::{Asked, ask_practice_question};
use crate::actions::begin_examination::{Begun, begin_with_code};
use crate::actions::change_person::{Standing, change_person};
use crate::actions::hold_debrief::hold_debrief;
use crate::actions::invigilate::{Invigilator, Opened, Typed, open_invigilation};
use crate::actions::invite_person::{Invited, Invitee, invite_person};
use crate::actions::read_lesson::read_lesson;
use crate::actions::save_answer::save_answer;
use crate::actions::submit_examination::submit_examination;
use crate::actions::{ActionError, Deeds, Token};
use crate::domain::people::{EmailAddress, PersonName, Role};
use crate::domain::scenario::Question;
use crate::domain::scenario::draw::Draws;
use crate::domain::units::{Moment, TemperatureUnit};
use crate::mail::transport::Transport;
use crate::store::sessions::Device;
use crate::store::{
    AttemptId, BranchId, PersonId, StoreError, attempts, branches, invigilations, outbox, qualifications, write,
};
use std::collections::BTreeMap;

/// What draws the answers; another number is another past.
const ANSWERS: [u8; 32] = *b"fennmark plant services, demo 01";
/// Letters posted at once, and how long a claim on them holds.
const BATCH: u64 = 50;
const LEASE_S: i64 = 60;

/// What trainers write down after a talk.
const NOTES: [&str; 4] = [
    "Walked round the machine together. Named what can burn within ten metres, and where the hot gas goes.",
    "Went through the stop level on the gauge and whom to call. Can say it back without the card.",
    "Talked about the closed shed: doors open are not enough. Found a better place in the yard together.",
    "Read the panel with me twice. Knows now which lamps mean stop and call.",
];

/// A past in the making.
pub(super) struct History<'a> {
    pub(super) deeds: &'a Deeds,
    now: Moment,
    pub(super) cast: &'static [Member],
    pub(super) branches: Vec<BranchId>,
    pub(super) people: BTreeMap<usize, PersonId>,
    invitations: BTreeMap<String, Token>,
    ahead: BTreeMap<(Moment, u32), (usize, Deed)>,
    counted: u32,
    draws: Draws,
    mail: Transport,
}

impl<'a> History<'a> {
    /// Makes the branches and plans everybody's past.
    pub(super) async fn new(
        deeds: &'a Deeds,
        now: Moment,
        people: usize,
        mail: Transport,
    ) -> Result<Self, ActionError> {
        let mut made = Vec::new();
        for (name, zone) in BRANCHES {
            let branch = async |tx: &_| branches::insert(tx, name, zone).await;
            made.push(write::<_, StoreError, _>(&deeds.db, branch).await?);
        }
        let mut history = Self {
            deeds,
            now,
            cast: &CAST[..people],
            branches: made,
            people: BTreeMap::new(),
            invitations: BTreeMap::new(),
            ahead: BTreeMap::new(),
            counted: 0,
            draws: Draws::new(ANSWERS, 0),
            mail,
        };
        let bank = deeds.bank.now();
        let modules = |id: &str| bank.bank.scheme(id).map(|entry| entry.scheme.modules.clone()).unwrap_or_default();
        for (who, member) in history.cast.iter().enumerate() {
            for (when, deed) in plan(member, modules) {
                let at = match when {
                    When::DaysAgo(days) => history.on_the_day(who, days),
                    When::MinutesAgo(minutes) => now.plus_seconds(-60 * minutes),
                };
                history.add(at, who, deed);
            }
        }
        history.plan_assignments();
        Ok(history)
    }

    /// A moment of the working day that was so many days ago; each person keeps to their own hour.
    pub(super) fn on_the_day(&self, who: usize, days: i64) -> Moment {
        let midnight = Moment(self.now.0 - self.now.0.rem_euclid(DAY_US));
        let minutes = i64::try_from(who * 37 % 420).unwrap_or_default();
        midnight.plus_seconds(-days * 24 * 3600 + 7 * 3600 + minutes * 60)
    }

    pub(super) fn add(&mut self, at: Moment, who: usize, deed: Deed) {
        self.counted += 1;
        self.ahead.insert((at, self.counted), (who, deed));
    }

    /// Does everything that lies before now.
    pub(super) async fn run(mut self) -> Result<(), ActionError> {
        while let Some(((at, _), (who, deed))) = self.ahead.pop_first() {
            if at >= self.now {
                break;
            }
            // One deed may have taken longer than the next one waited.
            self.deeds.clock.set(at.max(self.deeds.clock.now()));
            self.happens(who, deed).await?;
            self.post().await?;
        }
        Ok(())
    }

    async fn happens(&mut self, who: usize, deed: Deed) -> Result<(), ActionError> {
        match deed {
            Deed::Invited => self.invites(who).await,
            Deed::Assigns => self.assigns(who).await,
            Deed::Accepts => self.accepts(who).await,
            Deed::Studies { module, questions } => self.studies(who, &module, questions).await,
            Deed::Sits { scheme, manner, until_passed } => self.sits(who, scheme, manner, until_passed).await,
            Deed::Debriefed => self.debriefs(who).await,
            Deed::BeginsToSit { scheme, answers } => {
                if let Some((attempt, questions)) = self.begins(who, scheme).await? {
                    self.answers(who, attempt, &questions[..answers.min(questions.len())], Manner::Ready, 15).await?;
                }
                Ok(())
            }
            Deed::IsDecided => self.is_decided(who).await,
            Deed::Appeals => self.appeals(who).await,
            Deed::ActsUnsafely => self.acts_unsafely(who).await,
            Deed::LosesCertificate => self.loses_certificate(who).await,
            Deed::IsWatched(task) => self.watches(who, task, None, false).await,
            Deed::Leaves => self.leaves(who).await,
        }
    }

    pub(super) fn person(&self, who: usize) -> Result<PersonId, StoreError> {
        self.people.get(&who).copied().ok_or_else(|| StoreError::Corrupt(format!("the demo's person {who} never came")))
    }

    fn first_of(&self, role: Role) -> Option<PersonId> {
        let of_role = self.people.iter().find(|(who, _)| self.cast[**who].role == role);
        of_role.map(|(_, person)| *person)
    }

    async fn invites(&mut self, who: usize) -> Result<(), ActionError> {
        let member = &self.cast[who];
        let fault = |what: String| StoreError::Corrupt(format!("the demo's {}: {what}", member.name));
        let by = match member.role {
            Role::Administrator | Role::ServiceManager => self.first_of(Role::Administrator),
            Role::Technician | Role::Trainer => self.first_of(Role::ServiceManager),
        };
        let invitee = Invitee {
            name: PersonName::parse(member.name).map_err(|error| fault(error.to_string()))?,
            email: EmailAddress::parse(&member.email()).map_err(|error| fault(error.to_string()))?,
            branch: self.branches[member.branch],
            role: member.role,
            scheme_key: member.scheme.map(str::to_owned),
        };
        match invite_person(self.deeds, by, invitee).await? {
            Invited::Sent(person) => {
                self.people.insert(who, person);
                Ok(())
            }
            other => Err(fault(format!("{other:?}")).into()),
        }
    }

    /// Chooses the demo's password with the link from the letter.
    async fn accepts(&mut self, who: usize) -> Result<(), ActionError> {
        self.deeds.clock.advance(900);
        if let Some(token) = self.invitations.remove(&self.cast[who].email()) {
            accept_invitation(self.deeds, &token, super::PASSWORD, Device::Computer).await?;
        }
        Ok(())
    }

    async fn studies(&mut self, who: usize, module: &str, questions: usize) -> Result<(), ActionError> {
        let person = self.person(who)?;
        let bank = self.deeds.bank.now();
        let lessons = bank.bank.module(module).map(|module| module.lessons.as_slice()).unwrap_or_default();
        for lesson in lessons {
            self.passes(150, 240);
            read_lesson(self.deeds, person, module, &lesson.id).await?;
        }
        for _ in 0..questions {
            let asked = ask_practice_question(self.deeds, person, TemperatureUnit::Celsius, module).await?;
            let Asked::Question(attempt, position) = asked else { return Ok(()) };
            let question = read(&attempts::question(&self.deeds.db, attempt, position).await?)?;
            self.passes(25, 60);
            // Practice is where one is wrong.
            let skill = self.cast[who].skill.saturating_sub(12);
            let given = answer(&question, &self.cast[who], skill, &mut self.draws);
            answer_practice_question(self.deeds, person, attempt, position, &given).await?;
        }
        Ok(())
    }

    async fn sits(&mut self, who: usize, scheme: &'static str, manner: Manner, again: bool) -> Result<(), ActionError> {
        self.is_watched(who, scheme).await?;
        let Some((attempt, questions)) = self.begins(who, scheme).await? else {
            if again {
                // The attempts of a quarter are used up: they come again in the next.
                let next = Deed::Sits { scheme, manner: Manner::Ready, until_passed: true };
                self.add(self.deeds.clock.now().plus_seconds(90 * 24 * 3600), who, next);
            }
            return Ok(());
        };
        self.answers(who, attempt, &questions, manner, 45).await?;
        submit_examination(self.deeds, self.person(who)?, attempt, &format!("demo-{attempt}")).await?;
        let passed = attempts::find_result(&self.deeds.db, attempt).await?.is_some_and(|result| result.passed);
        let today = self.deeds.clock.now();
        if !(passed && matches!(self.cast[who].story, Story::Waits(_))) {
            self.add(today.plus_seconds(20 * 3600), who, Deed::IsDecided);
        }
        if again && !passed {
            let missed = qualifications::of_attempt(&self.deeds.db, attempt).await?;
            if missed.iter().any(|entry| entry.entry.safety_miss) {
                self.add(today.plus_seconds(24 * 3600), who, Deed::Debriefed);
            }
            let next = Deed::Sits { scheme, manner: Manner::Ready, until_passed: true };
            self.add(today.plus_seconds(49 * 3600), who, next);
        }
        Ok(())
    }

    async fn begins(&self, who: usize, scheme: &str) -> Result<Option<(AttemptId, Vec<(i32, Question)>)>, ActionError> {
        let code = self.code_for(who, scheme).await?;
        let typed = Typed { code: &code, address: "" };
        match begin_with_code(self.deeds, self.person(who)?, TemperatureUnit::Celsius, scheme, typed).await? {
            Begun::Sitting(attempt) => {
                let asked = attempts::questions(&self.deeds.db, attempt).await?;
                let questions: Result<_, _> = asked.iter().map(|one| Ok((one.position, read(one)?))).collect();
                Ok(Some((attempt, questions.map_err(|error: StoreError| error)?)))
            }
            other => {
                tracing::warn!(name = self.cast[who].name, scheme, outcome = ?other, "the demo: no sitting");
                Ok(None)
            }
        }
    }

    /// The code that the trainer reads out, where somebody watches; nothing otherwise. Trainers travel to the branch.
    async fn code_for(&self, who: usize, scheme: &str) -> Result<String, ActionError> {
        let branch = self.branches[self.cast[who].branch];
        let trainer = trainer_of(self.cast[who].branch, self.cast).and_then(|place| self.people.get(&place).copied());
        let watched = self.deeds.bank.now().bank.scheme(scheme).is_some_and(|entry| entry.scheme.invigilated);
        let Some(trainer) = trainer.filter(|_| watched) else { return Ok(String::new()) };
        let (by, key) = (Invigilator { person: trainer, branch }, format!("demo-{who}-{}", self.deeds.clock.now().0));
        match open_invigilation(self.deeds, by, scheme, &key).await? {
            Opened::Open(id) => Ok(invigilations::by_id(&self.deeds.db, branch, id).await?.code.to_string()),
            Opened::NoSuchScheme => Ok(String::new()),
        }
    }

    async fn answers(
        &mut self,
        who: usize,
        attempt: AttemptId,
        questions: &[(i32, Question)],
        manner: Manner,
        at_most_s: usize,
    ) -> Result<(), ActionError> {
        let person = self.person(who)?;
        let member = &self.cast[who];
        // The slip goes to a question that a belief of the person answers, where there is one.
        let slips = |question: &Question| {
            let held = |id: &String| member.beliefs.contains(&id.as_str());
            question.mandatory && question.choices.iter().filter_map(|choice| choice.believes.as_ref()).any(held)
        };
        let slip = questions.iter().find(|(_, question)| slips(question));
        let slip = slip.or_else(|| questions.iter().find(|(_, question)| question.mandatory)).map(|(at, _)| *at);
        for (position, question) in questions {
            self.passes(10, at_most_s);
            let given = match (manner, question.mandatory) {
                (Manner::Hasty, true) if slip == Some(*position) => wrong(question, member, &mut self.draws),
                (Manner::Unready, true) | (Manner::Hasty, _) => right(question),
                (Manner::Unready, false) => answer(question, member, 40, &mut self.draws),
                (Manner::Ready, true) => answer(question, member, 98, &mut self.draws),
                (Manner::Ready, false) => answer(question, member, 75 + member.skill / 4, &mut self.draws),
            };
            save_answer(self.deeds, person, attempt, *position, &given).await?;
        }
        Ok(())
    }

    async fn debriefs(&mut self, who: usize) -> Result<(), ActionError> {
        let person = self.person(who)?;
        let trainer =
            trainer_of(self.cast[who].branch, self.cast).and_then(|trainer| self.people.get(&trainer).copied());
        let last = attempts::of_person(&self.deeds.db, person).await?;
        let last = last.iter().find(|attempt| attempt.kind == attempts::AttemptKind::Examination);
        if let (Some(trainer), Some(attempt)) = (trainer, last) {
            let note = self.draws.pick(&NOTES).copied().unwrap_or_default();
            hold_debrief(self.deeds, trainer, attempt.id, note).await?;
        }
        Ok(())
    }

    async fn leaves(&self, who: usize) -> Result<(), ActionError> {
        let person = self.person(who)?;
        let member = &self.cast[who];
        if let Some(by) = self.first_of(Role::ServiceManager) {
            let to = Standing { role: member.role, branch: self.branches[member.branch], active: false };
            change_person(self.deeds, by, person, to).await?;
        }
        Ok(())
    }

    /// Some seconds pass.
    fn passes(&mut self, at_least_s: usize, at_most_s: usize) {
        let seconds = at_least_s + self.draws.below(at_most_s.saturating_sub(at_least_s).max(1));
        self.deeds.clock.advance(i64::try_from(seconds).unwrap_or_default());
    }

    /// Posts what lies in the outbox, on the day it was written, and keeps the links of invitations for who gets them.
    async fn post(&mut self) -> Result<(), ActionError> {
        if outbox::waiting(&self.deeds.db).await? == 0 {
            return Ok(());
        }
        let now = self.deeds.clock.now();
        let claim = async |tx: &_| outbox::claim_due(tx, now, LEASE_S, BATCH).await;
        for letter in write::<_, StoreError, _>(&self.deeds.db, claim).await? {
            let taken = self.mail.deliver(letter.id.0, &letter.mail).await;
            taken.map_err(|error| StoreError::Corrupt(format!("a letter of the demo: {error}")))?;
            let sent = async |tx: &_| outbox::mark_sent(tx, letter.id, now).await;
            write::<_, StoreError, _>(&self.deeds.db, sent).await?;
            if let Some(token) = link_in(&letter.mail.text_body) {
                self.invitations.insert(letter.mail.to_address, token);
            }
        }
        Ok(())
    }
}

fn link_in(letter: &str) -> Option<Token> {
    let (_, after) = letter.split_once("/invitation/")?;
    Token::from_text(after.get(..64)?)
}

fn read(asked: &attempts::AttemptQuestion) -> Result<Question, StoreError> {
    serde_json::from_str(&asked.question.json)
        .map_err(|error| StoreError::Corrupt(format!("a frozen question does not read back: {error}")))
}
