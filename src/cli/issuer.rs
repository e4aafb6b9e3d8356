//! `sootmark issuer`: shows the public keys of whoever issues the certificates here, and signs with a new key from now on.
//!
//! Never shows a secret key.

use super::{Failure, answer, say, start};
use crate::actions::issuer::{issuer, renew_key};
use clap::Subcommand;
use std::path::Path;
use std::process::ExitCode;

/// The key that signs certificates.
#[derive(Debug, Subcommand)]
pub(super) enum Issuer {
    /// Write the issuer's public keys to stdout, as the program serves them under /issuer.
    Keys,
    /// Sign with a new key from now on. The old public key stays served, so that what it signed still verifies; the old secret
    /// key is forgotten.
    RenewKey,
}

impl Issuer {
    pub(super) async fn run(self, file: Option<&Path>) -> Result<ExitCode, Failure> {
        let settings = start::settings(file)?;
        let deeds = start::deeds_on_what_is_there(&settings).await?;
        match self {
            Self::Keys => answer(&serde_json::to_string_pretty(&issuer(&deeds).await?.document())?)?,
            Self::RenewKey => say(&format!("Certificates are signed with a new key now: {}", renew_key(&deeds).await?)),
        }
        deeds.db.close().await?;
        Ok(ExitCode::SUCCESS)
    }
}
