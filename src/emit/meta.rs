//! What an output says of the session itself: names, dates and where the bytes came from.

/// Facts of a session that no reading holds. All text in it may be hostile; writers escape it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SessionFacts {
    /// What the builder calls the controller.
    pub rig_name: String,
    /// Which board of that kind.
    pub board_id: String,
    /// Date of the session as it stands in the file; empty when unknown.
    pub created: String,
    /// File or address that the bytes came from.
    pub source: String,
    /// Version of this tool.
    pub tool_version: String,
    /// Remarks of the person, in order.
    pub notes: Vec<String>,
    /// Damage of the session file, one sentence each.
    pub damage: Vec<String>,
}
