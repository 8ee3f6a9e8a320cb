//! Drawing only: each part takes plain data and paints it; none knows the desk or an action.
pub mod area;
pub mod bars;
pub mod card;
pub mod contact_strip;
pub mod figures;
pub mod gate_outline;
pub mod lane;
pub mod link_bar;
pub mod numbers;
pub mod prompt_card;
pub mod rail;
pub mod raw_lines;
pub mod reach;
pub mod rest_cloud;
pub mod state_mark;
pub mod table;
pub mod timeline;
