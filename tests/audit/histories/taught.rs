//! The part of the model that teaches: practice and talks.

use super::model::Model;
use super::world::{MODULE, World};
use super::{Dice, Tally};
use crate::support::sittings::{right, wrong};
use sootmark::actions::ActionError;
use sootmark::actions::answer_practice_question::{Answered, answer_practice_question};
use sootmark::actions::ask_practice_question::{Asked, ask_practice_question};
use sootmark::actions::hold_debrief::{DebriefHeld, hold_debrief};
use sootmark::domain::scenario::Question;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{StoreError, attempts};

impl Model {
    pub(super) async fn practise(&mut self, world: &World, dice: &mut Dice, who: usize, tally: &mut Tally) {
        let (deeds, person) = (&world.deeds, world.technicians[who]);
        let asked = ask_practice_question(deeds, person, TemperatureUnit::Celsius, MODULE).await.expect("the store");
        let Asked::Question(attempt, position) = asked else { panic!("{asked:?}") };
        let (own, answered) = self.practice[who].unwrap_or((attempt, 0));
        assert_eq!((attempt, position), (own, answered + 1));
        self.practice[who] = Some((own, answered));
        if dice.below(4) == 0 {
            return;
        }
        let frozen = attempts::question(&deeds.db, attempt, position).await.expect("the question");
        let question: Question = serde_json::from_str(&frozen.question.json).expect("a question");
        let answer = if dice.below(2) == 0 { right(&question) } else { wrong(&question) };
        let graded = answer_practice_question(deeds, person, attempt, position, &answer).await.expect("the store");
        assert_eq!(graded, Answered::Graded);
        self.practice[who] = Some((own, answered + 1));
        tally.practised += 1;
    }

    pub(super) async fn talk(&mut self, world: &World, dice: &mut Dice, tally: &mut Tally) {
        if self.sittings.is_empty() {
            return;
        }
        let missed = self.sittings.iter().position(|sitting| sitting.graded.is_some() && sitting.missed_fire());
        let place = missed.filter(|_| dice.below(4) > 0).unwrap_or(self.sittings.len() - 1);
        let sitting = &mut self.sittings[place];
        let note = ["We walked round the machine.", "We walked round it once more."][dice.place(2)];
        let held = hold_debrief(&world.deeds, world.trainer, sitting.id, note).await;
        if sitting.graded.is_none() || !sitting.missed_fire() {
            assert!(matches!(held, Err(ActionError::Store(StoreError::NotFound))), "{held:?}");
            return;
        }
        // The same note once more is a second click.
        let same = sitting.talked.is_none_or(|before| before == note);
        let wanted = if same { DebriefHeld::Held } else { DebriefHeld::HeldBefore };
        assert_eq!(held.expect("the store"), wanted);
        tally.talks += usize::from(sitting.talked.is_none());
        sitting.talked.get_or_insert(note);
    }
}
