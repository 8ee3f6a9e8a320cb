//! Segmentation without prompts.
