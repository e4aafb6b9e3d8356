//! The program: reads the command line and does what it says.

use std::process::ExitCode;

/// A page is thousands of small texts that are thrown away together, in threads that come and go.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[tokio::main]
async fn main() -> ExitCode {
    sootmark::cli::run().await
}
