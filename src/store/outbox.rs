//! The mails that wait to be sent. A mail is put here in the transaction of the deed it tells of.
//!
//! Never sends, never loses one: a mail that cannot be sent is due again later, and who holds one holds it only for a
//! while.

use super::columns::{Ts, unknown};
use super::entity::outbox;
use super::{MailId, PersonId, StoreError};
use crate::domain::letters::Kind;
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set,
    Condition, ConnectionTrait, EntityTrait, ExprTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect,
    prelude::*,
    sea_query::{LockBehavior, LockType, OnConflict},
};
use std::collections::BTreeMap;

/// After the first failure a mail waits this long, after each further one twice as long.
const FIRST_WAIT_SECONDS: i64 = 30;

/// No mail waits longer than this between two tries.
const LONGEST_WAIT_SECONDS: i64 = 6 * 3600;

/// How long a mail that was refused for good waits before it is tried once more: after the last of these it is left. Chosen by
/// us: 10 minutes, an hour, six hours, a day.
pub const REFUSED_WAIT_SECONDS: [i64; 4] = [600, 3600, 6 * 3600, 24 * 3600];

/// Hexadecimal digits of what a link of a letter opens something with.
const TOKEN_DIGITS: usize = 64;

/// A mail that is to be sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewMail {
    /// To which address.
    pub to_address: String,
    /// To whom.
    pub to_name: String,
    /// Its subject.
    pub subject: String,
    /// Its text.
    pub text_body: String,
    /// The same in HTML.
    pub html_body: String,
    /// What kind of letter it is.
    pub kind: Kind,
    /// Whose letter it is; known of every letter since letters have keys.
    pub person: Option<PersonId>,
    /// What it is about, such as `attempt 7`. With kind, person and threshold it is the letter's key; a letter about nothing
    /// may be written again and again.
    pub about: Option<String>,
    /// How many days before an end it was due; 0 when no day counts.
    pub threshold: i32,
    /// Where one click ends letters of this kind; only when they may be refused.
    pub unsubscribe_link: Option<String>,
    /// Now.
    pub created_at: Moment,
}

/// A mail that was claimed for sending.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClaimedMail {
    /// Its number.
    pub id: MailId,
    /// What to send.
    pub mail: NewMail,
    /// How many times it was claimed, this time included.
    pub tries: i32,
}

/// Puts a mail into the outbox; it is due at once. Gives its number, and nothing when the same letter was written before:
/// the database holds each key once, whoever writes.
///
/// # Errors
/// Those of every write.
pub async fn enqueue(db: &impl ConnectionTrait, new: NewMail) -> Result<Option<MailId>, StoreError> {
    let row = outbox::ActiveModel {
        to_address: Set(new.to_address),
        to_name: Set(new.to_name),
        subject: Set(new.subject),
        text_body: Set(new.text_body),
        html_body: Set(new.html_body),
        deed: Set(new.kind.id().to_owned()),
        created_at: Set(new.created_at.into()),
        due_at: Set(new.created_at.into()),
        tries: Set(0),
        person_id: Set(new.person),
        about: Set(new.about),
        threshold: Set(new.threshold),
        unsubscribe_link: Set(new.unsubscribe_link),
        refusals: Set(0),
        ..Default::default()
    };
    let key = [outbox::Column::PersonId, outbox::Column::Deed, outbox::Column::About, outbox::Column::Threshold];
    let first_counts = OnConflict::columns(key).do_nothing().to_owned();
    match outbox::Entity::insert(row).on_conflict(first_counts).exec(db).await {
        Ok(kept) => Ok(Some(kept.last_insert_id)),
        Err(DbErr::RecordNotInserted) => Ok(None),
        Err(error) => Err(error.into()),
    }
}

/// The keys of the letters of some kinds that were ever written (person, kind, what about, threshold), with when. Saves
/// writing those again; what holds is [`enqueue`].
///
/// # Errors
/// Those of every query.
pub async fn keys(
    db: &impl ConnectionTrait,
    kinds: &[Kind],
) -> Result<BTreeMap<(PersonId, Kind, String, i32), Moment>, StoreError> {
    type Row = (Option<PersonId>, String, Option<String>, i32, Ts);
    let rows: Vec<Row> = outbox::Entity::find()
        .select_only()
        .columns([outbox::Column::PersonId, outbox::Column::Deed, outbox::Column::About])
        .columns([outbox::Column::Threshold, outbox::Column::CreatedAt])
        .filter(outbox::Column::Deed.is_in(kinds.iter().map(|kind| kind.id())))
        .filter(outbox::Column::PersonId.is_not_null())
        .filter(outbox::Column::About.is_not_null())
        .into_tuple()
        .all(db)
        .await?;
    let key = |(person, deed, about, threshold, at): Row| {
        Some(((person?, Kind::from_id(&deed)?, about?, threshold), at.into()))
    };
    Ok(rows.into_iter().filter_map(key).collect())
}

/// Claims up to `limit` mails that are due and that nobody holds, for `lease_seconds`; inside [`super::write()`].
///
/// Commit before sending: whoever dies while sending gives the mail back when the lease is over, so that it may be
/// sent twice, and is never lost.
///
/// # Errors
/// Those of every write.
pub async fn claim_due(
    db: &impl ConnectionTrait,
    now: Moment,
    lease_seconds: i64,
    limit: u64,
) -> Result<Vec<ClaimedMail>, StoreError> {
    let free = Condition::any().add(outbox::Column::LockedUntil.is_null()).add(outbox::Column::LockedUntil.lte(now.0));
    let rows = outbox::Entity::find()
        .filter(outbox::Column::SentAt.is_null())
        .filter(outbox::Column::LeftAt.is_null())
        .filter(outbox::Column::DueAt.lte(now.0))
        .filter(free)
        .order_by_asc(outbox::Column::DueAt)
        .order_by_asc(outbox::Column::Id)
        .limit(limit)
        .lock_with_behavior(LockType::Update, LockBehavior::SkipLocked)
        .all(db)
        .await?;
    outbox::Entity::update_many()
        .col_expr(outbox::Column::LockedUntil, Expr::val(now.plus_seconds(lease_seconds).0))
        .col_expr(outbox::Column::Tries, Expr::col(outbox::Column::Tries).add(1))
        .filter(outbox::Column::Id.is_in(rows.iter().map(|row| row.id)))
        .exec(db)
        .await?;
    rows.into_iter().map(ClaimedMail::try_from).collect()
}

impl TryFrom<outbox::Model> for ClaimedMail {
    type Error = StoreError;

    fn try_from(row: outbox::Model) -> Result<Self, StoreError> {
        Ok(Self { id: row.id, tries: row.tries + 1, mail: row.try_into()? })
    }
}

impl TryFrom<outbox::Model> for NewMail {
    type Error = StoreError;

    fn try_from(row: outbox::Model) -> Result<Self, StoreError> {
        Ok(Self {
            to_address: row.to_address,
            to_name: row.to_name,
            subject: row.subject,
            text_body: row.text_body,
            html_body: row.html_body,
            kind: Kind::from_id(&row.deed).ok_or_else(|| unknown("outbox.deed", &row.deed))?,
            person: row.person_id,
            about: row.about,
            threshold: row.threshold,
            unsubscribe_link: row.unsubscribe_link,
            created_at: row.created_at.into(),
        })
    }
}

/// The mail was sent. What opens an account in it is not kept: who reads the database later chooses nobody's password.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such mail.
pub async fn mark_sent(db: &impl ConnectionTrait, id: MailId, now: Moment) -> Result<(), StoreError> {
    // Locked: what is written back below must not be older than what `forget` has left.
    let kept = outbox::Entity::find_by_id(id).lock_exclusive().one(db).await?.ok_or(StoreError::NotFound)?;
    let opens = [Kind::Invitation, Kind::Password].iter().any(|kind| kind.id() == kept.deed);
    let body = |text: String| Set(if opens { without_tokens(&text) } else { text });
    let row = outbox::ActiveModel {
        id: Set(id),
        text_body: body(kept.text_body),
        html_body: body(kept.html_body),
        sent_at: Set(Some(Ts::from(now))),
        locked_until: Set(None),
        last_error: Set(None),
        ..Default::default()
    };
    outbox::Entity::update(row).exec(db).await?;
    Ok(())
}

/// A letter's text with other words for each token: 64 hexadecimal digits in a row.
fn without_tokens(text: &str) -> String {
    let of_token = |letter: char| letter.is_ascii_digit() || ('a'..='f').contains(&letter);
    let mut without = String::with_capacity(text.len());
    let mut rest = text;
    while !rest.is_empty() {
        let digits = rest.len() - rest.trim_start_matches(of_token).len();
        let others = rest[digits..].find(of_token).unwrap_or(rest.len() - digits);
        without.push_str(if digits == TOKEN_DIGITS { "(not kept)" } else { &rest[..digits] });
        without.push_str(&rest[digits..digits + others]);
        rest = &rest[digits + others..];
    }
    without
}

/// The mail could not be sent: it is due again after a wait that grows with every try. Gives when.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such mail.
pub async fn mark_failed(
    db: &impl ConnectionTrait,
    id: MailId,
    cause: &str,
    now: Moment,
) -> Result<Moment, StoreError> {
    let row = outbox::Entity::find_by_id(id).lock_exclusive().one(db).await?.ok_or(StoreError::NotFound)?;
    let due_at = now.plus_seconds(wait_seconds(row.tries));
    let row = outbox::ActiveModel {
        id: Set(id),
        due_at: Set(due_at.into()),
        locked_until: Set(None),
        last_error: Set(Some(cause.to_owned())),
        ..Default::default()
    };
    outbox::Entity::update(row).exec(db).await?;
    Ok(due_at)
}

/// The mail server refuses the mail for good: it is tried a few times more, since an address may be set up late, at growing
/// distances, and then left. Gives when it is due again; nothing when it is left.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such mail.
pub async fn mark_refused(
    db: &impl ConnectionTrait,
    id: MailId,
    cause: &str,
    now: Moment,
) -> Result<Option<Moment>, StoreError> {
    let row = outbox::Entity::find_by_id(id).lock_exclusive().one(db).await?.ok_or(StoreError::NotFound)?;
    let wait = usize::try_from(row.refusals).ok().and_then(|times| REFUSED_WAIT_SECONDS.get(times));
    let due_at = wait.map(|seconds| now.plus_seconds(*seconds));
    let row = outbox::ActiveModel {
        id: Set(id),
        due_at: Set(due_at.unwrap_or(now).into()),
        refusals: Set(row.refusals + 1),
        left_at: Set(due_at.is_none().then(|| now.into())),
        locked_until: Set(None),
        last_error: Set(Some(cause.to_owned())),
        ..Default::default()
    };
    outbox::Entity::update(row).exec(db).await?;
    Ok(due_at)
}

/// How long a mail waits after so many tries.
fn wait_seconds(tries: i32) -> i64 {
    let doublings = u32::try_from(tries.saturating_sub(1).clamp(0, 20)).unwrap_or_default();
    std::cmp::min(FIRST_WAIT_SECONDS << doublings, LONGEST_WAIT_SECONDS)
}

/// How many mails wait to be sent.
///
/// # Errors
/// Those of every query.
pub async fn waiting(db: &impl ConnectionTrait) -> Result<u64, StoreError> {
    let waiting = outbox::Entity::find().filter(outbox::Column::SentAt.is_null());
    Ok(waiting.filter(outbox::Column::LeftAt.is_null()).count(db).await?)
}

/// The mails to an address, sent or not, the oldest first.
///
/// # Errors
/// Those of every query.
pub async fn to_address(db: &impl ConnectionTrait, address: &str) -> Result<Vec<NewMail>, StoreError> {
    let own = outbox::Entity::find().filter(outbox::Column::ToAddress.eq(address));
    let rows = own.order_by_asc(outbox::Column::Id).all(db).await?;
    rows.into_iter().map(NewMail::try_from).collect()
}

/// Takes a person out: every mail to the address goes, and of those to others that name them the sent ones go, and in the
/// rest `instead` stands for the name. One with a key stays, sent or not, so that it is not written again. `in_html` are a name's forms in the HTML. Gives how many went.
///
/// # Errors
/// Those of every write.
pub async fn forget(
    db: &impl ConnectionTrait,
    address: &str,
    name: &str,
    in_html: &str,
    instead: &str,
) -> Result<u64, StoreError> {
    let own = outbox::Entity::delete_many().filter(outbox::Column::ToAddress.eq(address));
    let mut gone = own.exec(db).await?.rows_affected;
    let names = Condition::any()
        .add(outbox::Column::TextBody.contains(name))
        .add(outbox::Column::HtmlBody.contains(in_html))
        .add(outbox::Column::Subject.contains(name));
    // The database also finds what merely looks alike (other case, % and _): only what has the name counts.
    let has = |row: &outbox::Model| {
        row.text_body.contains(name) || row.html_body.contains(in_html) || row.subject.contains(name)
    };
    // Locked: one that is marked as sent meanwhile has lost its link, and must not get it back.
    let found = outbox::Entity::find().filter(names).order_by_asc(outbox::Column::Id).lock_exclusive();
    for row in found.all(db).await?.into_iter().filter(has) {
        if row.sent_at.is_some() && row.about.is_none() {
            gone += outbox::Entity::delete_by_id(row.id).exec(db).await?.rows_affected;
            continue;
        }
        let without = outbox::ActiveModel {
            id: Set(row.id),
            subject: Set(row.subject.replace(name, instead)),
            text_body: Set(row.text_body.replace(name, instead)),
            html_body: Set(row.html_body.replace(in_html, instead).replace(name, instead)),
            ..Default::default()
        };
        outbox::Entity::update(without).exec(db).await?;
    }
    Ok(gone)
}

#[cfg(test)]
mod tests {
    use super::{wait_seconds, without_tokens};

    #[test]
    fn a_token_goes_and_every_other_word_stays() {
        let token = "0123456789abcdef".repeat(4);
        let letter =
            format!("Ada, déjà: http://localhost/invitation/{token}\nuntil 1 Dec 2026\n{token}a {}", &token[1..]);
        let without =
            format!("Ada, déjà: http://localhost/invitation/(not kept)\nuntil 1 Dec 2026\n{token}a {}", &token[1..]);
        assert_eq!(without_tokens(&letter), without);
        assert_eq!((without_tokens(""), without_tokens(&token)), (String::new(), "(not kept)".to_owned()));
    }

    #[test]
    fn the_wait_doubles_up_to_six_hours() {
        assert_eq!([1, 2, 3, 4].map(wait_seconds), [30, 60, 120, 240]);
        assert_eq!(wait_seconds(10), 30 * 512);
        assert_eq!([11, 40, i32::MAX].map(wait_seconds), [21_600; 3]);
    }
}
