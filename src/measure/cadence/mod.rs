//! Cadence of a stream: rate, intervals, jitter, clock against clock, loss, staleness, budgets.
//!
//! Counting of frames lost or repeated is the decoder's; here its result is taken and judged.
mod budget;
mod chance;
mod intervals;
mod jitter;
mod lag;
mod loss;
mod skew;
mod stale;

pub use budget::{Frame, Uart, full_speed_bulk, interrupt_bytes_per_s, poll_wait_us, uart_divisor};
pub use intervals::{Intervals, intervals, rate_hz};
pub use jitter::{jitter, jitter_scaled, mean_jitter_us};
pub use lag::lag_ms;
pub use loss::{LossRuns, loss_runs};
pub use skew::{HullLine, clock_ppm, lower_hull_line};
pub use stale::{stale_by_age, stale_by_counter, stale_by_repeats};
