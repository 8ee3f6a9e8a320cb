//! Signals that end a verb cleanly; one that the user has told us to ignore stays ignored.
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use signal_hook::consts::{SIGINT, SIGTERM};

use super::Failure;

#[cfg(unix)]
const ENDING: [i32; 3] = [SIGINT, SIGTERM, signal_hook::consts::SIGHUP];
#[cfg(not(unix))]
const ENDING: [i32; 2] = [SIGINT, SIGTERM];

/// A flag that Ctrl-C, a request to terminate, or the end of the terminal sets. A second one of the
/// same kind ends the process at once, as it would without us.
pub(super) fn stop_on_interrupt() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in ENDING.into_iter().filter(|&signal| !is_ignored(signal)) {
        signal_hook::flag::register_conditional_default(signal, Arc::clone(&stop))?;
        signal_hook::flag::register(signal, Arc::clone(&stop))?;
    }
    Ok(stop)
}

/// A flag that the signal USR1 sets: the port is to be handed over, or taken back. Systems without
/// that signal set it never.
pub(super) fn hand_over_on_signal() -> Result<Arc<AtomicBool>, Failure> {
    let flag = Arc::new(AtomicBool::new(false));
    #[cfg(unix)]
    signal_hook::flag::register(signal_hook::consts::SIGUSR1, Arc::clone(&flag))?;
    Ok(flag)
}

/// Under `nohup`, for example. Known where the system lists it.
fn is_ignored(signal: i32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let mask = mask.and_then(|hex| u64::from_str_radix(hex.trim(), 16).ok()).unwrap_or(0);
    u32::try_from(signal - 1).is_ok_and(|bit| mask.checked_shr(bit).is_some_and(|m| m & 1 == 1))
}
