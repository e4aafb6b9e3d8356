//! The question bank as it has ever been: any version of a scenario, a machine or a scheme, to make a question again.
//!
//! Never puts an old version into use, and never looks at what a question came out as before.

use super::load_bank::read_back;
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::bank::{Bank, BankDocument, DocumentKind};
use crate::domain::examination::scheme::{Known, Scheme};
use crate::domain::scenario::generate::{Machine, Seed, generate_all};
use crate::domain::scenario::question::Source;
use crate::domain::scenario::template::Lexicon;
use crate::domain::scenario::{Question, Template};
use crate::domain::units::Moment;
use crate::store::{StoreError, bank_documents};
use sea_orm::ConnectionTrait;
use std::collections::{BTreeMap, BTreeSet};

/// Every version of everything.
#[derive(Debug, Default)]
pub struct PastBank {
    texts: BTreeMap<(DocumentKind, String, u32), BankDocument>,
    machines: BTreeMap<(String, u32), Machine>,
    /// The names that scenarios might use from a moment on, oldest first: each with one version of the competences, and
    /// with every machine and band there ever was.
    lexicons: Vec<(Moment, Lexicon)>,
}

impl PastBank {
    /// Reads every version in the database. One that does not read any more is missed only when it is asked for.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn read(db: &impl ConnectionTrait) -> Result<Self, StoreError> {
        let mut past = Self::default();
        let mut competences = Vec::new();
        for row in bank_documents::every_version(db).await? {
            let (since, document) = (row.created_at, read_back(row));
            match document.kind {
                DocumentKind::Competences => competences.push((since, document.clone())),
                DocumentKind::Machine => {
                    if let Ok(profile) = Profile::read(&document.file, &document.text) {
                        let key = (document.key.clone(), document.version);
                        past.machines.insert(key, Machine::new(profile, document.version));
                    }
                }
                _ => {}
            }
            past.texts.insert((document.kind, document.key.clone(), document.version), document);
        }
        competences.sort_by_key(|(since, document)| (*since, document.version));
        past.lexicons = competences.into_iter().map(|(since, document)| (since, past.lexicon(document))).collect();
        Ok(past)
    }

    fn lexicon(&self, competences: BankDocument) -> Lexicon {
        let bands = self.machines.values().flat_map(|machine| machine.profile.bands.iter().map(|band| band.id.clone()));
        Lexicon {
            machines: self.keys(DocumentKind::Machine),
            bands: bands.collect::<BTreeSet<_>>().into_iter().collect(),
            ..Bank::read(&[competences]).0.lexicon()
        }
    }

    fn keys(&self, kind: DocumentKind) -> Vec<String> {
        let keys = self.texts.keys().filter(|(of, _, _)| *of == kind).map(|(_, key, _)| key.clone());
        keys.collect::<BTreeSet<_>>().into_iter().collect()
    }

    fn text(&self, kind: DocumentKind, key: &str, version: u32) -> Result<&BankDocument, String> {
        let missing = || format!("the {} {key} is not in the database in version {version}", kind.id());
        self.texts.get(&(kind, key.to_owned(), version)).ok_or_else(missing)
    }

    /// Whether there ever was this version of a machine.
    pub(super) fn has_machine(&self, key: &str, version: i32) -> bool {
        u32::try_from(version).is_ok_and(|version| self.text(DocumentKind::Machine, key, version).is_ok())
    }

    /// A scheme in a version.
    ///
    /// # Errors
    /// What is missing, in words.
    pub fn scheme(&self, key: &str, version: u32) -> Result<Scheme, String> {
        let document = self.text(DocumentKind::Scheme, key, version)?;
        let competences = self.lexicons.iter().flat_map(|(_, lexicon)| &lexicon.competences);
        let competences: Vec<String> = competences.map(|rules| rules.id.clone()).collect();
        let (modules, machines) = (self.keys(DocumentKind::Module), self.keys(DocumentKind::Machine));
        let known = Known { competences: &competences, modules: &modules, machines: &machines };
        Scheme::read(key, &document.text, &known)
            .map_err(|_| format!("the scheme {key} does not read any more in version {version}"))
    }

    /// Makes a question again from its source and its part (1 where it stands alone): with the competences as they stood at `moment`, and when these give none or
    /// not what `is_it` looks for, with each other version of them. Gives what came out first, when nothing is it.
    ///
    /// # Errors
    /// What is missing, in words.
    pub fn question(
        &self,
        (source, part): (&Source, usize),
        secret: [u8; 32],
        moment: Moment,
        is_it: impl Fn(&Question) -> bool,
    ) -> Result<Question, String> {
        let document = self.text(DocumentKind::Template, &source.template, source.template_version)?;
        self.text(DocumentKind::Machine, &source.machine, source.machine_version)?;
        let machine = self.machines.get(&(source.machine.clone(), source.machine_version));
        let machine = machine.ok_or_else(|| format!("the machine {} does not read any more", source.machine))?;
        let seed = Seed { secret, stream: source.stream };
        let of_then = self.lexicons.iter().rposition(|(since, _)| *since <= moment).unwrap_or_default();
        let (before, from) = self.lexicons.split_at(of_then);
        let mut first = None;
        for (_, lexicon) in from.iter().chain(before.iter().rev()) {
            let made = Template::read(&document.key, &document.file, &document.text, lexicon)
                .map_err(|_| format!("the template {} does not read any more", document.key))
                .and_then(|template| {
                    generate_all(&template, document.version, machine, seed, source.temperature_unit)
                        .map_err(|no| format!("the template {} gives no question: {no}", document.key))
                })
                .and_then(|made| {
                    let wanted = made.into_iter().find(|question| question.part().0 == part);
                    wanted.ok_or_else(|| format!("the template {} has no part {part}", document.key))
                });
            if made.as_ref().is_ok_and(&is_it) {
                return made;
            }
            first.get_or_insert(made);
        }
        first.unwrap_or_else(|| Err("the database has no competences".to_owned()))
    }
}
