//! The tracer of system calls, by which the real program is watched and made to meet failures.
use std::process::{Command, Stdio};

/// Whether calls can be traced here; where not it is said, and in strict runs it is a failure.
pub fn may_trace() -> bool {
    let mut strace = Command::new("strace");
    strace.args(["-qq", "-o", "/dev/null", "true"]).stdout(Stdio::null()).stderr(Stdio::null());
    let why = match strace.status() {
        Ok(status) if status.success() => return true,
        Ok(_) => "strace may not trace here",
        Err(_) => "strace is not installed",
    };
    assert!(std::env::var_os("TRIMBENCH_STRICT").is_none(), "{why}");
    eprintln!("skipped: {why}");
    false
}
