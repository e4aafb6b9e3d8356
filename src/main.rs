//! The program: reads the command line and does what it says.

use std::process::ExitCode;

#[tokio::main]
async fn main() -> ExitCode {
    sootmark::cli::run().await
}
