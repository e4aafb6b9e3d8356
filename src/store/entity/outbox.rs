//! A mail that waits to be sent, or was.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "outbox")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: MailId,
    pub to_address: String,
    pub to_name: String,
    pub subject: String,
    pub text_body: String,
    pub html_body: String,
    pub deed: String,
    pub created_at: Ts,
    pub due_at: Ts,
    pub tries: i32,
    pub locked_until: Option<Ts>,
    pub sent_at: Option<Ts>,
    pub last_error: Option<String>,
    pub person_id: Option<PersonId>,
    pub about: Option<String>,
    pub threshold: i32,
    pub unsubscribe_link: Option<String>,
    pub refusals: i32,
    pub left_at: Option<Ts>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
