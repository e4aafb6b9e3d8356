//! Watching examinations at a branch: opened with a code that candidates type to begin, and closed.
//!
//! Never puts the code on record, and never begins a sitting: candidates do.

use super::throttle::{MayTry, Source, Tried};
use super::{ActionError, Deeds};
use crate::domain::examination::code::Code;
use crate::domain::examination::scheme::Scheme;
use crate::domain::units::Moment;
use crate::store::invigilations::{self, Invigilation, NewInvigilation};
use crate::store::record::{self, NewEntry};
use crate::store::{BranchId, InvigilationId, PersonId, StoreError, conflict, people, write};
use rand::TryRng as _;
use rand::rngs::SysRng;
use sea_orm::ConnectionTrait;

/// How long a code opens sittings; chosen by us: half a shift, so that yesterday's code opens nothing today.
pub const CODE_HOLDS_S: i64 = 4 * 3600;

/// Who watches.
#[derive(Clone, Copy, Debug)]
pub struct Invigilator {
    /// Who.
    pub person: PersonId,
    /// Their branch, the only one where they watch.
    pub branch: BranchId,
}

/// What comes of opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opened {
    /// It is open, since now or by the same click before.
    Open(InvigilationId),
    /// There is no such scheme, or nobody watches its sittings.
    NoSuchScheme,
}

/// Opens an invigilation of a scheme at the invigilator's branch.
///
/// # Errors
/// When the store does not answer, or the system gives no random numbers.
pub async fn open_invigilation(deeds: &Deeds, by: Invigilator, scheme: &str, key: &str) -> Result<Opened, ActionError> {
    let read = deeds.bank.now();
    if !read.bank.scheme(scheme).is_some_and(|entry| entry.scheme.invigilated) {
        return Ok(Opened::NoSuchScheme);
    }
    if let Some(before) = invigilations::find_by_key(&deeds.db, by.person, key).await? {
        return Ok(Opened::Open(before));
    }
    let now = deeds.clock.now();
    let new = NewInvigilation {
        scheme_key: scheme.to_owned(),
        branch_id: by.branch,
        code: fresh_code()?,
        opened_by: by.person,
        opened_at: now,
        expires_at: now.plus_seconds(CODE_HOLDS_S),
        key: key.to_owned(),
    };
    let opened = write(&deeds.db, async |tx| {
        let id = invigilations::insert(tx, new).await?;
        let detail = serde_json::json!({ "scheme": scheme, "branch": by.branch, "hours": CODE_HOLDS_S / 3600 });
        record::append(tx, about(now, by.person, "invigilation_opened", id, detail)).await?;
        Ok::<_, ActionError>(Opened::Open(id))
    });
    match opened.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::INVIGILATION => {
            let before = invigilations::find_by_key(&deeds.db, by.person, key).await?;
            before.map(Opened::Open).ok_or_else(|| StoreError::NotFound.into())
        }
        other => other,
    }
}

/// Closes one: its code opens nothing from now on. Who sits already goes on. Twice is the same as once.
///
/// # Errors
/// [`StoreError::NotFound`] when the branch has no such invigilation, or when the store does not answer.
pub async fn close_invigilation(deeds: &Deeds, by: Invigilator, id: InvigilationId) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        invigilations::by_id(tx, by.branch, id).await?;
        if invigilations::close(tx, id, by.person, now).await? {
            record::append(tx, about(now, by.person, "invigilation_closed", id, serde_json::Value::Null)).await?;
        }
        Ok(())
    })
    .await
}

fn about(at: Moment, by: PersonId, deed: &str, id: InvigilationId, detail: serde_json::Value) -> NewEntry {
    NewEntry {
        at,
        actor_id: Some(by),
        deed: deed.to_owned(),
        subject_kind: "invigilation".to_owned(),
        subject_id: Some(id.0),
        detail,
    }
}

/// From the system's random source.
fn fresh_code() -> Result<Code, ActionError> {
    let faulty = |error: rand::rngs::SysError| ActionError::Randomness(error.to_string());
    loop {
        let mut words = [0_u32; 16];
        for word in &mut words {
            *word = SysRng.try_next_u32().map_err(faulty)?;
        }
        // Sixteen words give eight usable ones but for once in 10^60 times.
        if let Some(code) = Code::from_random(&words) {
            return Ok(code);
        }
    }
}

/// Why a code opens nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CodeRefused {
    /// None was typed.
    Missing,
    /// Nobody has given out this code for this scheme at the person's branch.
    Wrong,
    /// It was closed, or its time is over.
    Over,
    /// Too many wrong codes: again in so many seconds.
    Wait(i64),
}

impl CodeRefused {
    /// How the record says it; nothing for a wait, in which no code is looked at.
    pub(super) const fn on_record(self) -> Option<&'static str> {
        match self {
            Self::Missing => Some("no_code"),
            Self::Wrong => Some("wrong_code"),
            Self::Over => Some("code_over"),
            Self::Wait(_) => None,
        }
    }
}

/// What a candidate types to begin, and where they sit.
#[derive(Clone, Copy, Debug)]
pub struct Typed<'t> {
    /// The code.
    pub code: &'t str,
    /// The network address.
    pub address: &'t str,
}

impl Typed<'_> {
    fn sources(self, person: PersonId) -> [Source; 2] {
        // Counted apart from passwords: whoever mistypes a code can still sign in.
        [Source::Person(format!("code of {person}")), Source::Everybody(format!("code from {}", self.address))]
    }
}

/// Looks whether a person may try a code now, and counts the try as a wrong one until [`Deeds::was_right`] says otherwise.
pub(super) async fn try_code(
    deeds: &Deeds,
    person: PersonId,
    typed: Typed<'_>,
    now: Moment,
) -> Result<Result<Tried, CodeRefused>, ActionError> {
    if typed.code.trim().is_empty() {
        return Ok(Err(CodeRefused::Missing));
    }
    Ok(match deeds.may_try(&typed.sources(person), now).await? {
        MayTry::Now(tried) => Ok(tried),
        MayTry::In(seconds) => Err(CodeRefused::Wait(seconds)),
    })
}

/// The open invigilation of a typed code that a person may begin under: of this scheme, at their own branch, opened by somebody
/// else.
pub(super) async fn under_code(
    db: &impl ConnectionTrait,
    person: PersonId,
    scheme: &Scheme,
    typed: &str,
    now: Moment,
) -> Result<Result<Invigilation, CodeRefused>, StoreError> {
    let Some(code) = Code::parse(typed) else { return Ok(Err(CodeRefused::Wrong)) };
    let Some(found) = invigilations::find_by_code(db, &code).await? else { return Ok(Err(CodeRefused::Wrong)) };
    let branch = people::by_id(db, person).await?.branch_id;
    if found.scheme_key != scheme.id || found.branch_id != branch || found.opened_by == person {
        return Ok(Err(CodeRefused::Wrong));
    }
    Ok(if found.is_open(now) { Ok(found) } else { Err(CodeRefused::Over) })
}
