//! Classes in words: the form of a gate, the cause of a shared motion.
use crate::measure::coupling::CommonCause;
use crate::measure::gate::GateShape;
use crate::measure::{Measured, number};
use crate::survey::Common;

/// The class of a gate, or what is missing to tell.
pub fn form(shape: &Measured<GateShape>) -> String {
    match shape {
        Ok(GateShape::Circle) => "round".to_owned(),
        Ok(GateShape::Ellipse) => "oval: gains unequal by direction, or skewed axes".to_owned(),
        Ok(GateShape::Polygon { sides, corner_deg }) => {
            format!("{sides} corners, the first at {}°", number(*corner_deg, 0))
        }
        Ok(GateShape::AxisClip { level }) => {
            format!("round, each axis cut off at {} of the radius", percent(*level, 0))
        }
        Ok(GateShape::Irregular) => "none of the known forms".to_owned(),
        Err(short) => short.to_string(),
    }
}

/// Why the channels of a half move together.
pub fn cause(common: &Common) -> &'static str {
    match (&common.correlation, common.cause) {
        (Err(_), _) => "not enough data",
        (_, CommonCause::Reference) => "in proportion to each reading: reference or sensor supply",
        (_, CommonCause::Ground) => "the same whatever the reading: current in the sensors' ground",
        (_, CommonCause::Undecided) => "cannot tell: too small, or readings too much alike",
    }
}

/// "4.1 %".
pub fn percent(share: f64, decimals: usize) -> String {
    format!("{}\u{a0}%", number(share * 100.0, decimals))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::built::no;

    #[test]
    fn a_gate_is_named_by_its_form_or_by_what_is_missing() {
        let octagon = GateShape::Polygon { sides: 8, corner_deg: 22.4 };
        assert_eq!(form(&Ok(octagon)), "8 corners, the first at 22°");
        assert!(form(&Ok(GateShape::AxisClip { level: 0.84 })).contains("84\u{a0}%"));
        assert!(form(&no("turns")).contains("needed"));
    }
}
