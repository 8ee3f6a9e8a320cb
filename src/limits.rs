//! Acceptance bands and the decision rule.
