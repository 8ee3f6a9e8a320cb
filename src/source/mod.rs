//! Addresses to links, replay, and the recorder thread that owns a link.
