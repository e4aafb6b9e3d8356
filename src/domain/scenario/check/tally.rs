//! What only many questions of a template show together: whether the right answer stands out by its place or its
//! length, how hard the words are at worst, and how many different questions there are.

use crate::scenario::course::Course;
use crate::scenario::question::{Key, Kind, Question};
use crate::scenario::template::{Ask, Part};
use crate::scenario::wording::{self, stands_out_by_length};
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};

/// Questions from which on a tally tells something; chosen by us: with fewer, chance alone would be reported.
pub const ENOUGH: usize = 100;
/// Fewer really different questions than this are learnt by heart; chosen by us.
pub const FEWEST_DIFFERENT: usize = 8;
/// The share of questions in which the right answer may be the one whose length stands out; chosen by us as what is left
/// to luck among four options.
const STANDS_OUT_AT_MOST: f64 = 0.25;
/// Chi-squared that places drawn evenly pass once in ten thousand, for 2 to 5 degrees of freedom.
/// Source: the chi-squared distribution's upper tail at 0.0001; for 2 degrees it is -2 ln 0.0001.
const UNEVEN: [f64; 4] = [18.42, 21.11, 23.51, 25.74];

/// What a reader can tell two questions apart by: everything shown, in whatever order the options stand.
#[must_use]
pub fn look(question: &Question) -> u64 {
    let shown = &question.shown;
    let mut options: Vec<&String> = shown.options.iter().collect();
    options.sort_unstable();
    let gauge = shown.gauge.as_ref().map(|gauge| gauge.soot_percent.to_bits());
    let course = shown.course.as_ref().map(Course::words);
    let lamps: Option<Vec<_>> = shown.lamps.map(|lamps| lamps.iter().map(|lamp| lamp.name()).collect());
    // Without a seed of its own: the same on every machine.
    let mut hasher = DefaultHasher::new();
    let so_far = shown.case.as_ref().map(|case| &case.so_far);
    let drawn = (lamps, gauge, course);
    (&shown.machine_name, &shown.facts, drawn, so_far, &shown.story, &shown.prompt, options).hash(&mut hasher);
    hasher.finish()
}

/// What has been seen of a template's questions, or of those of one part of a case.
#[derive(Debug, Default)]
pub(super) struct Tally {
    questions: usize,
    looks: HashSet<u64>,
    /// The worst grade, and the words that have it.
    hardest: Option<f64>,
    /// Questions to choose one in, and those whose right answer stands out by length.
    picked: usize,
    stands_out: usize,
    /// For each machine, by number of options: how often the right answer stood in each place.
    places: Vec<[Vec<u32>; 7]>,
}

impl Tally {
    /// Machines are counted apart: the same seed draws alike on each, so together they would not be even.
    pub(super) fn next_machine(&mut self) {
        self.places.push(Default::default());
    }

    pub(super) fn count(&mut self, part: &Part, question: &Question) {
        self.questions += 1;
        self.looks.insert(look(question));
        let shown = &question.shown;
        let texts = shown.story.iter().chain([&shown.prompt]).chain(&shown.options);
        let grade = wording::reading_grade(texts.map(String::as_str));
        self.hardest = [self.hardest, grade].into_iter().flatten().reduce(f64::max);
        let (Key::Options(right), Kind::ChooseOne) = (&question.key, shown.kind) else { return };
        let [right] = right.as_slice() else { return };
        let options: Vec<&str> = shown.options.iter().map(String::as_str).collect();
        self.picked += 1;
        self.stands_out += usize::from(stands_out_by_length(&options) == Some(*right));
        // Numbers and bands stand in their own order, so their places are not drawn.
        if let (false, Some(places)) = (matches!(part.answer.ask, Ask::Number | Ask::Band), self.places.last_mut())
            && let Some(counts) = places.get_mut(options.len())
        {
            counts.resize(options.len(), 0);
            if let Some(count) = counts.get_mut(*right) {
                *count += 1;
            }
        }
    }

    /// What they show, with the part's lines; `reading_grade` is the school grade that its words may ask for.
    pub(super) fn findings(&self, part: &Part, reading_grade: u8) -> Vec<(u32, String)> {
        let mut findings = Vec::new();
        let story = part.story.first().map_or(part.question.line, |paragraph| paragraph.line);
        let limit = f64::from(reading_grade);
        if let Some(grade) = self.hardest.filter(|grade| *grade > limit) {
            findings.push((story, format!("its words read like school grade {grade:.1}; this competence allows {limit}: write shorter sentences and shorter words")));
        }
        if self.questions < ENOUGH {
            return findings;
        }
        if self.looks.len() < FEWEST_DIFFERENT {
            findings.push((story, format!("{} questions gave {} different ones, fewer than {FEWEST_DIFFERENT}: draw more of what it shows and tells", self.questions, self.looks.len())));
        }
        let line = part.answer.line;
        if self.stands_out as f64 > STANDS_OUT_AT_MOST * self.picked as f64 {
            findings.push((
                line,
                format!(
                    "the right answer is told by its length in {} of {} questions: make the options alike in length",
                    self.stands_out, self.picked
                ),
            ));
        }
        for counts in self.places.iter().flatten().filter(|counts| uneven(counts)) {
            findings.push((
                line,
                format!("the right answer stands in the places {counts:?} times: that is not drawn evenly"),
            ));
        }
        findings
    }
}

/// Whether places are too uneven to have been drawn evenly. Counts too small for the test are not.
fn uneven(counts: &[u32]) -> bool {
    let total: u32 = counts.iter().sum();
    let expected = f64::from(total) / counts.len().max(1) as f64;
    let limit = counts.len().checked_sub(3).and_then(|place| UNEVEN.get(place));
    let chi_squared: f64 = counts.iter().map(|count| (f64::from(*count) - expected).powi(2) / expected).sum();
    expected >= 10.0 && limit.is_some_and(|limit| chi_squared > *limit)
}
