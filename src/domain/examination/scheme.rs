//! A scheme: what an examination asks and what must be reached for a certificate (a word of ISO/IEC 17024).

use crate::document::{Document, Problem, Section};
use crate::examination::observation::Task;
use crate::units::Unit;

/// What a certificate needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Scheme {
    /// Its word in addresses and records.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// What it is for, in a sentence.
    pub says: String,
    /// The modules that prepare for it, in order.
    pub modules: Vec<String>,
    /// The machines it asks about; empty means all.
    pub machines: Vec<String>,
    /// Time for a sitting, in seconds.
    pub time_limit_s: i64,
    /// Share of the questions that must be right in all, in percent.
    pub cut_percent: f64,
    /// How long a qualification lasts, in months.
    pub valid_for_months: i64,
    /// How long after a sitting that was not passed the next may begin, in seconds.
    pub resit_after_s: i64,
    /// Whether a trainer must go through a missed safety question with the person before a resit.
    pub debrief_after_safety_miss: bool,
    /// How many sittings that were not passed are allowed within [`Self::attempts_within_days`].
    pub attempts_allowed: usize,
    /// Over how many days the attempts allowed are counted.
    pub attempts_within_days: i64,
    /// The schemes by which a certificate must be held before this one is granted.
    pub prerequisites: Vec<String>,
    /// The roles that may decide about a certificate, of [`DECIDERS`].
    pub decided_by: Vec<String>,
    /// The practical tasks that an assessor must have seen done, by their words.
    pub practical: Vec<String>,
    /// Whether somebody watches: a sitting begins only with the code of an invigilation.
    pub invigilated: bool,
    /// The competences with their questions and cuts.
    pub parts: Vec<Part>,
}

/// The roles that a scheme may name to decide about its certificates.
pub const DECIDERS: [&str; 2] = ["service_manager", "administrator"];

/// Attempts allowed, and the days over which they are counted, where a scheme does not say: three in a quarter, chosen by us.
const ATTEMPTS: (usize, i64) = (3, 90);

/// One competence of a scheme.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The competence.
    pub competence: String,
    /// How many questions ask for it; at least 1.
    pub questions: usize,
    /// Share of them that must be right, in percent.
    pub cut_percent: f64,
}

/// Words that a scheme may name.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// Competences.
    pub competences: &'a [String],
    /// Modules.
    pub modules: &'a [String],
    /// Machines.
    pub machines: &'a [String],
}

impl Scheme {
    /// Reads a scheme from the text of its file.
    ///
    /// # Errors
    /// Every problem in the text, each with its line and field.
    pub fn read(file: &str, text: &str, known_words: &Known<'_>) -> Result<Self, Vec<Problem>> {
        let Known { competences, modules, machines } = *known_words;
        let document = Document::parse(file, text);
        let root = document.root();
        let known = |known: &[String], word: &str| known.iter().find(|known| *known == word).cloned();
        let parts = root.tables("part").into_iter().map(|part| {
            Some(Part {
                competence: part.one_of("competence", &strs(competences), |word| known(competences, word))?,
                questions: usize::try_from(part.integer_within("questions", 1..=20)?).ok()?,
                cut_percent: part.quantity_within("cut", Unit::Percent, 0.0..=100.0)?,
            })
        });
        let parts: Option<Vec<Part>> = parts.collect::<Vec<_>>().into_iter().collect();
        let seconds = |value: Option<f64>| {
            #[expect(clippy::cast_possible_truncation, reason = "the reader has kept it within a few days")]
            value.map(|value| value.round() as i64)
        };
        let scheme = (|| {
            let id = root.text("id");
            let title = root.text("title");
            let says = root.text("says");
            let modules = root.list_of("modules", &strs(modules), |word| known(modules, word));
            let machines = root.list_of("machines", &strs(machines), |word| {
                if word == "all" { Some(String::new()) } else { known(machines, word) }
            });
            let time_limit_s = seconds(root.quantity_within("time_limit", Unit::Second, 60.0..=28_800.0));
            let cut_percent = root.quantity_within("cut", Unit::Percent, 0.0..=100.0);
            let valid_for_months = root.integer_within("valid_for_months", 1..=120);
            let resit_after_s = seconds(root.quantity_within("resit_after", Unit::Second, 0.0..=2_592_000.0));
            let debrief = root.bool("debrief_after_safety_miss");
            let terms = Terms::read(&root);
            Some(Self {
                id: id?,
                title: title?,
                says: says?,
                modules: modules?,
                machines: machines?.into_iter().filter(|id| !id.is_empty()).collect(),
                time_limit_s: time_limit_s?,
                cut_percent: cut_percent?,
                valid_for_months: valid_for_months?,
                resit_after_s: resit_after_s?,
                debrief_after_safety_miss: debrief?,
                attempts_allowed: terms.attempts_allowed?,
                attempts_within_days: terms.attempts_within_days?,
                prerequisites: terms.prerequisites?,
                decided_by: terms.decided_by?,
                practical: terms.practical?,
                invigilated: terms.invigilated?,
                parts: parts?,
            })
        })();
        let problems = document.finish();
        match scheme {
            Some(scheme) if problems.is_empty() => Ok(scheme),
            _ => Err(problems),
        }
    }

    /// How many right answers the cut over all asks for.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "between 0 and the number of questions"
    )]
    pub fn right_answers_needed(&self) -> usize {
        (self.cut_percent / 100.0 * self.questions() as f64 - 1e-9).ceil().max(0.0) as usize
    }

    /// How many questions a form has.
    #[must_use]
    pub fn questions(&self) -> usize {
        self.parts.iter().map(|part| part.questions).sum()
    }
}

/// What a scheme says about certification beside its cuts. Each may be left out: versions from before there were such terms
/// are still read.
struct Terms {
    attempts_allowed: Option<usize>,
    attempts_within_days: Option<i64>,
    prerequisites: Option<Vec<String>>,
    decided_by: Option<Vec<String>>,
    practical: Option<Vec<String>>,
    invigilated: Option<bool>,
}

impl Terms {
    fn read(root: &Section<'_>) -> Self {
        let number = |key: &str, range, otherwise: i64| {
            if root.has(key) { root.integer_within(key, range) } else { Some(otherwise) }
        };
        let words = |key: &str| {
            if root.has(key) { root.list_of(key, &[], |word| Some(word.to_owned())) } else { Some(Vec::new()) }
        };
        let deciders = || {
            let decided_by =
                root.list_of("decided_by", &DECIDERS, |word| DECIDERS.contains(&word).then(|| word.to_owned()))?;
            if decided_by.is_empty() {
                root.report("decided_by", "somebody has to decide; name a role");
                return None;
            }
            Some(decided_by)
        };
        let allowed = number("attempts_allowed", 1..=20, i64::try_from(ATTEMPTS.0).unwrap_or(1));
        Self {
            attempts_allowed: allowed.and_then(|allowed| usize::try_from(allowed).ok()),
            attempts_within_days: number("attempts_within_days", 1..=1096, ATTEMPTS.1),
            prerequisites: words("prerequisites"),
            decided_by: if root.has("decided_by") { deciders() } else { Some(vec![DECIDERS[0].to_owned()]) },
            practical: if root.has("practical") {
                let known = Task::ALL.map(Task::id);
                root.list_of("practical", &known, |word| Task::from_id(word).map(|task| task.id().to_owned()))
            } else {
                Some(Vec::new())
            },
            invigilated: if root.has("invigilated") { root.bool("invigilated") } else { Some(false) },
        }
    }
}

fn strs(words: &[String]) -> Vec<&str> {
    words.iter().map(String::as_str).collect()
}
