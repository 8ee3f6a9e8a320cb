//! The canonical byte image of the constants and its CRC: what a board and a record compare.
//!
//! ```text
//! u16 layout · u8 raw bits · u8 fraction bits · u8 axes, sticks, triggers, buttons
//! axis    u8 number (lx 0 … ry 3) · i8 sign · u16 centre, low, high, gain −, gain +, dead,
//!         axial gain −, axial gain +
//! stick   u8 half (left 0) · u8 form (radial 0, axial 1) · u16 inner, outer · u32 inner square ·
//!         u16 slope, pull · u8 pairs · u8 corrected (0, 1) · i16 xx, xy, yx, yy (only when 1)
//! trigger u8 half · i8 sign · u16 rest, full, dead, gain, on, off
//! button  u8 number · u8 press lock-out ms · u8 release ms · u8 active-low (0, 1)
//! ```
//! Layout 2 is used when optional constants stand in the trim; it goes on:
//! ```text
//! u16 scan rate, Hz · u16 wait of the guards, ms
//! u8 curves, reaches, smoothings, guards, motors
//! curve   u8 part (sticks 0, 1, triggers 2, 3) · u8 points · u16 each point
//! reach   u8 half · u16 each of 32 radii
//! smooth  u8 input (lx 0 … rt 5) · u8 shift · u32 time constant, µs
//! guard   u8 input · u16 least, most
//! motor   u8 number, start, stop, most, kick ms · u16 off ms
//! ```
//! All numbers low byte first, parts in the order of the trim, nothing between them. Names and dates
//! are not part of it.
use super::apply::{NoZone, Radial};
use super::{AxisTrim, ButtonTrim, CurveOf, Options, StickTrim, TriggerTrim, Trim};
use crate::rig::{Half, ZoneForm};

/// Version of the image and of the header's constants, without optional ones.
const PLAIN_LAYOUT: u16 = 1;

/// The same with optional constants.
const OPTIONS_LAYOUT: u16 = 2;

const CRC: crc::Crc<u16> = crc::Crc::<u16>::new(&crc::CRC_16_IBM_3740);

/// CRC-16/IBM-3740 (polynomial 0x1021, start 0xFFFF, not reflected); check value 0x29B1.
pub fn crc16(bytes: &[u8]) -> u16 {
    CRC.checksum(bytes)
}

impl Trim {
    /// Version of the image and of the header's constants.
    pub fn layout(&self) -> u16 {
        if self.options.is_empty() { PLAIN_LAYOUT } else { OPTIONS_LAYOUT }
    }

    /// The canonical byte image. Errors: a stick whose radii leave no zone.
    pub fn image(&self) -> Result<Vec<u8>, NoZone> {
        let mut image = Image::default();
        image.u16s(&[self.layout()]);
        image.0.extend([self.raw_bits, self.frac_bits]);
        let counts = [self.axes.len(), self.sticks.len(), self.triggers.len(), self.buttons.len()];
        image.0.extend(counts.map(|n| n as u8));
        self.axes.iter().for_each(|a| image.axis(a));
        for stick in &self.sticks {
            image.stick(stick)?;
        }
        self.triggers.iter().for_each(|t| image.trigger(t));
        self.buttons.iter().for_each(|b| image.button(b));
        if !self.options.is_empty() {
            image.options(&self.options);
        }
        Ok(image.0)
    }

    /// CRC-16/IBM-3740 over the canonical byte image. Errors: as [`Trim::image`].
    pub fn crc(&self) -> Result<u16, NoZone> {
        self.image().map(|bytes| crc16(&bytes))
    }
}

#[derive(Default)]
struct Image(Vec<u8>);

impl Image {
    fn u16s(&mut self, values: &[u16]) {
        self.0.extend(values.iter().flat_map(|v| v.to_le_bytes()));
    }

    fn axis(&mut self, a: &AxisTrim) {
        self.0.extend([a.axis.index() as u8, a.sign as u8]);
        self.u16s(&[a.centre, a.low, a.high, a.gain_neg, a.gain_pos, a.dead]);
        self.u16s(&[a.axial_gain_neg, a.axial_gain_pos]);
    }

    fn stick(&mut self, s: &StickTrim) -> Result<(), NoZone> {
        let zone = Radial::new(s.inner, s.outer)?;
        self.0.extend([half_number(s.half), u8::from(s.form == ZoneForm::Axial)]);
        self.u16s(&[s.inner, s.outer]);
        self.0.extend(zone.inner_square.to_le_bytes());
        self.u16s(&[zone.slope, zone.pull]);
        self.0.extend([zone.pairs, u8::from(s.matrix.is_some())]);
        let factors = s.matrix.iter().flat_map(|m| m.0).flatten();
        self.0.extend(factors.flat_map(i16::to_le_bytes));
        Ok(())
    }

    fn trigger(&mut self, t: &TriggerTrim) {
        self.0.extend([half_number(t.half), t.sign as u8]);
        self.u16s(&[t.rest, t.full, t.dead, t.gain, t.on, t.off]);
    }

    fn options(&mut self, o: &Options) {
        self.u16s(&[o.scan_rate_hz, o.guard_ms]);
        let counts = [o.curves.len(), o.reaches.len(), o.smoothing.len(), o.guards.len()];
        self.0.extend(counts.map(|n| n as u8));
        self.0.push(o.motors.len() as u8);
        for curve in &o.curves {
            let part = match curve.of {
                CurveOf::Stick(half) => half_number(half),
                CurveOf::Trigger(half) => 2 + half_number(half),
            };
            self.0.extend([part, curve.points.len() as u8]);
            self.u16s(&curve.points);
        }
        for reach in &o.reaches {
            self.0.push(half_number(reach.half));
            self.u16s(&reach.radii);
        }
        for smooth in &o.smoothing {
            self.0.extend([smooth.axis.index() as u8, smooth.shift]);
            self.0.extend(smooth.time_constant_us.to_le_bytes());
        }
        for guard in &o.guards {
            self.0.push(guard.axis.index() as u8);
            self.u16s(&[guard.least, guard.most]);
        }
        for m in &o.motors {
            self.0.extend([m.index, m.start, m.stop, m.most, m.kick_ms]);
            self.u16s(&[m.off_ms]);
        }
    }

    fn button(&mut self, b: &ButtonTrim) {
        self.0.extend([b.index, b.press_lockout_ms, b.release_ms, u8::from(b.active_low)]);
    }
}

fn half_number(half: Half) -> u8 {
    u8::from(half == Half::Right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::AxisId;
    use crate::trim::{AxisSource, ButtonSource, FORMAT, SmoothTrim};

    #[test]
    fn the_checksum_gives_its_published_check_value() {
        // Catalogue of parametrised CRC algorithms, CRC-16/IBM-3740: check = 0x29B1.
        assert_eq!(crc16(b"123456789"), 0x29B1);
    }

    #[test]
    fn the_image_is_byte_for_byte_what_the_layout_says() {
        let axis = AxisTrim {
            axis: AxisId::Ly,
            centre: 0x0203,
            low: 0x0070,
            high: 0x0390,
            sign: -1,
            gain_neg: 20873,
            gain_pos: 21131,
            dead: 12,
            axial_gain_neg: 21509,
            axial_gain_pos: 21783,
            from: AxisSource::default(),
        };
        let button = ButtonTrim {
            index: 3,
            name: "south".to_owned(),
            press_lockout_ms: 5,
            release_ms: 14,
            active_low: true,
            from: ButtonSource::default(),
        };
        let trim = Trim {
            format: FORMAT,
            board_id: "any".to_owned(),
            rig_name: String::new(),
            session_date: String::new(),
            raw_bits: 10,
            raw_bits_guessed: false,
            frac_bits: 8,
            axes: vec![axis],
            sticks: Vec::new(),
            triggers: Vec::new(),
            buttons: vec![button],
            options: Options::default(),
            fitted_to: Default::default(),
            origin: None,
            guessed: Vec::new(),
            refusals: Vec::new(),
        };
        let expected = [
            1, 0, 10, 8, 1, 0, 0, 1, // head
            1, 0xFF, 0x03, 0x02, 0x70, 0x00, 0x90, 0x03, 0x89, 0x51, 0x8B, 0x52, 12, 0, 0x05, 0x54,
            0x17, 0x55, // left y
            3, 5, 14, 1, // button
        ];
        assert_eq!(trim.image().as_deref(), Ok(expected.as_slice()));
        let mut smoothed = trim.clone();
        smoothed.options.scan_rate_hz = 1000;
        let smooth = SmoothTrim { axis: AxisId::Ly, shift: 3, time_constant_us: 0x0001_0203 };
        smoothed.options.smoothing.push(smooth);
        let mut longer = expected.to_vec();
        longer[0] = 2;
        longer.extend([0xE8, 0x03, 0, 0, 0, 0, 1, 0, 0, 1, 3, 0x03, 0x02, 0x01, 0x00]);
        assert_eq!(smoothed.image(), Ok(longer));
        let renamed = Trim { board_id: "other".to_owned(), ..trim.clone() };
        assert_eq!(renamed.crc(), trim.crc(), "names are not part of the constants");
    }
}
