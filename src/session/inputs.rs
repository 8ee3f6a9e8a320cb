//! The columns of every field that a control may stand behind, whatever role it carries.
use std::ops::Range;

use crate::wire::Role;

use super::Session;

/// Cells of one field.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InputColumn {
    /// Which field of a line, counted from 0.
    pub field: usize,
    /// Its cells.
    pub cells: Vec<i32>,
}

/// Fields by their place in the line, for a stretch of rows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Inputs {
    /// Where the stretch begins, in rows of the tracks that it is read with.
    pub first: usize,
    /// One entry a field.
    pub columns: Vec<InputColumn>,
}

impl Session {
    /// The fields that may be the reading of a control in `rows`: axes, buttons, and what is not
    /// used. Counter, clock, supply and outputs are none. Cost proportional to the rows.
    pub fn inputs_of(&self, rows: Range<usize>) -> Inputs {
        let rows = rows.start.min(self.rows())..rows.end.min(self.rows());
        let fields = self.roles().iter().enumerate().filter(|(_, role)| is_input(**role));
        let column =
            |(field, _)| InputColumn { field, cells: self.column_part(field, rows.clone()) };
        Inputs { first: rows.start, columns: fields.map(column).collect() }
    }
}

/// True for a role that the reading of a control may hide behind.
pub fn is_input(role: Role) -> bool {
    matches!(
        role,
        Role::Axis(_) | Role::Button(_) | Role::Buttons | Role::MoreButtons(_) | Role::Ignore
    )
}
