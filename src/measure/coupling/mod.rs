//! What outputs and other channels do to a reading: motors, lights, neighbours, common causes.
mod common_mode;
mod drive;
mod follow;

pub use common_mode::{CommonCause, CommonMode, common_mode};
pub use drive::{DriveCoupling, drive_coupling};
pub use follow::{Follow, follow};
