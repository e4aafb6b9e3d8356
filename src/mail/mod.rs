//! Letters: writing them as text and HTML twins, and sending what the outbox holds.
//!
//! A letter is put into the outbox inside the transaction of the deed that it tells of, by the deed. Nothing here ever
//! sends a letter that is not in the outbox, and none is lost while the mail server is away.

pub mod digest;
pub mod letter;
pub mod notices;
pub mod sender;
mod smtp;
pub mod transport;
