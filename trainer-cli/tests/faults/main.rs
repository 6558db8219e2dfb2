//! The practice history under faults: kills, full disks, locks, several programs at once.
//!
//! `cargo test` does each a few times; `FAULT_RUNS=300 cargo test --release -p trainer-cli --test faults` as often as that.

mod disk;
mod kills;
mod program;
mod restores;
#[cfg(target_os = "linux")]
mod screen;
mod sessions;

/// How often a fault is tried.
fn runs(usually: u64) -> u64 {
    std::env::var("FAULT_RUNS").map_or(usually, |runs| runs.parse().unwrap())
}
