//! The converter of a half: sample and hold, reference, ground, noise, quantisation, clipping.
use super::dice::Dice;

/// What the converter is and what stands round it. Volts, ohms, farads, microseconds.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ConverterCauses {
    /// Width of a code in bits.
    pub bits: u8,
    /// Reference.
    pub reference_v: f64,
    /// Supply of the half's sensors.
    pub sensor_v: f64,
    /// Ground of the sensors above the ground of the converter.
    pub ground_v: f64,
    /// Noise of the reference, share of its value, rms; the same for every channel of a scan.
    pub reference_noise: f64,
    /// Capacitor that keeps the sample.
    pub hold_f: f64,
    /// Resistance of the channel switch.
    pub mux_ohm: f64,
    /// How long the capacitor is joined to the pin.
    pub sample_us: f64,
    /// Time from one channel to the next.
    pub channel_us: f64,
    /// Mains frequency.
    pub mains_hz: f64,
}

impl ConverterCauses {
    /// Number of codes.
    pub fn codes(&self) -> f64 {
        f64::from(1_u32 << self.bits)
    }

    /// Code, unquantised and unclipped, of a pin's voltage.
    pub fn code_of(&self, volts: f64) -> f64 {
        (volts + self.ground_v) / self.reference_v * self.codes()
    }

    /// Share of the earlier channel's charge that stays: `exp(−t / (R·C))`, R = source + switch.
    pub fn residual(&self, source_ohm: f64) -> f64 {
        (-self.sample_us * 1e-6 / ((source_ohm + self.mux_ohm) * self.hold_f)).exp()
    }

    /// Clips to the codes that exist.
    pub fn clipped(&self, code: f64) -> f64 {
        code.clamp(0.0, self.codes() - 1.0)
    }
}

/// One input of the converter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ChannelCauses {
    /// Resistance of what drives the pin.
    pub source_ohm: f64,
    /// Gaussian noise, counts rms.
    pub noise: f64,
    /// Mains on the lead, counts peak.
    pub hum: f64,
    /// Phase of that hum.
    pub hum_phase_rad: f64,
}

/// A converter at work.
#[derive(Clone, Debug)]
pub(super) struct Converter {
    causes: ConverterCauses,
    /// Code, unquantised, of the charge that the last channel left.
    held: f64,
    reference_error: f64,
    dice: Dice,
}

impl Converter {
    /// A converter that has not sampled yet.
    pub fn new(causes: ConverterCauses, dice: Dice) -> Self {
        Converter { causes, held: 0.0, reference_error: 0.0, dice }
    }

    /// Begins a scan of all channels.
    pub fn begin_scan(&mut self) {
        if self.causes.reference_noise > 0.0 {
            self.reference_error = self.dice.normal() * self.causes.reference_noise;
        }
    }

    /// Samples and converts one channel whose pin stands at `volts` at `t_us`; `residual` is
    /// [`ConverterCauses::residual`] of its source.
    pub fn convert(&mut self, ch: &ChannelCauses, residual: f64, volts: f64, t_us: f64) -> i32 {
        let causes = &self.causes;
        let turn = std::f64::consts::TAU * causes.mains_hz * (t_us * 1e-6);
        let hum = if ch.hum > 0.0 { ch.hum * (turn + ch.hum_phase_rad).sin() } else { 0.0 };
        let pin = causes.code_of(volts) + hum;
        self.held = pin + (self.held - pin) * residual;
        let seen = self.held / (1.0 + self.reference_error) + self.dice.normal() * ch.noise;
        causes.clipped((seen + 0.5).floor()) as i32
    }

    /// The converter's stream of chance.
    pub fn dice(&mut self) -> &mut Dice {
        &mut self.dice
    }
}

#[cfg(test)]
mod tests {
    use super::super::dice::Purpose;
    use super::*;

    fn causes() -> ConverterCauses {
        ConverterCauses {
            bits: 10,
            reference_v: 5.0,
            sensor_v: 5.0,
            ground_v: 0.0,
            reference_noise: 0.0,
            hold_f: 14e-12,
            mux_ohm: 100e3,
            sample_us: 12.0,
            channel_us: 112.0,
            mains_hz: 50.0,
        }
    }

    fn quiet(source_ohm: f64) -> ChannelCauses {
        ChannelCauses { source_ohm, noise: 0.0, hum: 0.0, hum_phase_rad: 0.0 }
    }

    #[test]
    fn what_the_earlier_channel_leaves_follows_source_and_capacitor() {
        // 14 pF behind the largest switch resistance of 100 kΩ, 12 µs (1.5 clocks at 125 kHz).
        for (source_ohm, expected) in [(10e3, 0.000_41), (100e3, 0.0138), (1e6, 0.459)] {
            let share = causes().residual(source_ohm);
            assert!((share / expected - 1.0).abs() < 0.02, "{source_ohm}: {share}");
        }
    }

    #[test]
    fn a_high_source_follows_the_channel_before_it() {
        let mut converter = Converter::new(causes(), Dice::new(1, Purpose::Converter(0)));
        let residual = causes().residual(204e3);
        let low = quiet(1e3);
        let mut read_after = |volts: f64| {
            converter.convert(&low, causes().residual(1e3), volts, 0.0);
            converter.convert(&quiet(204e3), residual, 2.5, 0.0)
        };
        let moved = read_after(4.5) - read_after(0.5);
        // 6 % of the neighbour's 819 counts.
        assert!((f64::from(moved) - 0.06 * 819.2).abs() < 1.5, "{moved}");
    }

    #[test]
    fn codes_are_rounded_and_clipped() {
        let mut converter = Converter::new(causes(), Dice::new(1, Purpose::Converter(0)));
        let mut read = |volts: f64| converter.convert(&quiet(0.0), 0.0, volts, 0.0);
        assert_eq!(read(2.5), 512);
        assert_eq!(read(2.5 + 0.4 * 5.0 / 1024.0), 512);
        assert_eq!(read(2.5 + 0.6 * 5.0 / 1024.0), 513);
        assert_eq!(read(7.0), 1023);
        assert_eq!(read(-1.0), 0);
    }

    #[test]
    fn reference_noise_grows_with_the_reading_and_ground_does_not() {
        let noisy = ConverterCauses { reference_noise: 0.01, ..causes() };
        let mut converter = Converter::new(noisy, Dice::new(1, Purpose::Converter(0)));
        let spread = |converter: &mut Converter, volts: f64| {
            let codes: Vec<f64> = (0..4000)
                .map(|_| {
                    converter.begin_scan();
                    f64::from(converter.convert(&quiet(0.0), 0.0, volts, 0.0))
                })
                .collect();
            let mean = codes.iter().sum::<f64>() / 4000.0;
            (codes.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / 4000.0).sqrt()
        };
        let (low, high) = (spread(&mut converter, 1.0), spread(&mut converter, 4.0));
        assert!((high / low - 4.0).abs() < 0.4, "{low} {high}");
        let lifted = ConverterCauses { ground_v: 0.05, ..causes() };
        assert!((lifted.code_of(1.0) - causes().code_of(1.0) - 10.24).abs() < 1e-9);
        assert!((lifted.code_of(4.0) - causes().code_of(4.0) - 10.24).abs() < 1e-9);
    }
}
