//! The window under the test harness.
