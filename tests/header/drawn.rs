//! Trims drawn from a seed: every width, both signs, both forms, off-centre, short and long travel.
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimbench::rig::{AxisId, Half, ZoneForm};
use trimbench::trim::apply::{SMALLEST_TRAVEL, Stick, gain};
use trimbench::trim::{
    AxisSource, AxisTrim, ButtonSource, ButtonTrim, CurveOf, CurveTrim, GuardTrim, Matrix2,
    MotorTrim, Options, REACH_NODES, ReachTrim, SmoothTrim, StickSource, StickTrim, TriggerSource,
    TriggerTrim, Trim, curve_points,
};

/// Every width that the job meets.
pub const WIDTHS: [u8; 5] = [8, 10, 12, 14, 16];

/// A whole controller of that width.
pub fn trim(bits: u8, seed: u64) -> Trim {
    let mut rng = ChaCha8Rng::seed_from_u64(seed * 100 + u64::from(bits));
    let frac_bits = bits - 2;
    let axes = [AxisId::Lx, AxisId::Ly, AxisId::Rx, AxisId::Ry];
    Trim {
        format: 1,
        board_id: format!("drawn-{seed}"),
        rig_name: "Drawn controller".to_owned(),
        session_date: "2026-01-01T00:00:00Z".to_owned(),
        raw_bits: bits,
        raw_bits_guessed: false,
        frac_bits,
        axes: axes.map(|a| axis(&mut rng, a, bits)).to_vec(),
        sticks: Half::ALL.map(|h| stick(&mut rng, h)).to_vec(),
        triggers: Half::ALL.map(|h| trigger(&mut rng, h, bits)).to_vec(),
        buttons: (0..4).map(|i| button(&mut rng, i)).collect(),
        options: Options::default(),
        fitted_to: Default::default(),
        origin: None,
        guessed: Vec::new(),
        refusals: Vec::new(),
    }
}

/// The same with every option drawn: curves on sticks and triggers, reach by direction on a radial
/// stick, smoothing, guards, motors.
pub fn with_options(bits: u8, seed: u64) -> Trim {
    let mut trim = trim(bits, seed);
    let mut rng = ChaCha8Rng::seed_from_u64(seed * 100 + 50 + u64::from(bits));
    let highest = trim.full_scale();
    let mut o = Options { scan_rate_hz: 1000, guard_ms: 100, ..Options::default() };
    for s in &trim.sticks {
        shape(&mut rng, s, &mut o);
    }
    o.curves.push(curve(&mut rng, CurveOf::Trigger(Half::Right), 0.24..=0.76));
    for axis in AxisId::ALL {
        let shift = rng.random_range(1..=8);
        o.smoothing.push(SmoothTrim { axis, shift, time_constant_us: 1000 << shift });
        let (low, high) = if axis.is_trigger() {
            let t = trim.trigger(axis.half()).expect("drawn");
            (t.rest.min(t.full), t.rest.max(t.full))
        } else {
            let a = trim.axis(axis).expect("drawn");
            (a.low, a.high)
        };
        let most = highest - (highest - high) / 3;
        o.guards.push(GuardTrim { axis, least: low / 2, most });
    }
    for index in [0, 3] {
        let [stop, start, most] = [rng.random_range(1..80), 80, rng.random_range(80..=255)];
        let kick_ms = 20 * index;
        o.motors.push(MotorTrim { index, start, stop, most, kick_ms, off_ms: 900 });
    }
    trim.options = o;
    for k in 0..trim.sticks.len() {
        let s = trim.sticks[k].clone();
        // What the header would refuse is drawn again.
        while Stick::shape(&trim, s.half).is_err() {
            trim.options.reaches.retain(|r| r.half != s.half);
            trim.options.curves.retain(|c| c.of != CurveOf::Stick(s.half));
            shape(&mut rng, &s, &mut trim.options);
        }
    }
    trim
}

/// Reach by direction, a curve, both or neither.
fn shape(rng: &mut ChaCha8Rng, s: &StickTrim, o: &mut Options) {
    let radial = s.form == ZoneForm::Radial;
    if radial && rng.random_range(0..2) == 0 {
        let least = s.inner + SMALLEST_TRAVEL + 30;
        let radii = (0..REACH_NODES).map(|_| rng.random_range(least.max(24_000)..46_000));
        o.reaches.push(ReachTrim { half: s.half, radii: radii.collect() });
    }
    if rng.random_range(0..3) != 0 {
        let at_half = if radial { 0.24..=0.5 } else { 0.24..=0.76 };
        o.curves.push(curve(rng, CurveOf::Stick(s.half), at_half));
    }
}

fn curve(rng: &mut ChaCha8Rng, of: CurveOf, at_half: std::ops::RangeInclusive<f64>) -> CurveTrim {
    let points = if rng.random() { 33 } else { 65 };
    let points = curve_points(rng.random_range(at_half), points).expect("within its range");
    CurveTrim { of, points }
}

fn axis(rng: &mut ChaCha8Rng, axis: AxisId, bits: u8) -> AxisTrim {
    let full = u16::MAX >> (16 - bits);
    let eighth = 1u16 << (bits - 3);
    let low = rng.random_range(0..eighth);
    let high = full - rng.random_range(0..eighth);
    let dead = rng.random_range(0..eighth / 2);
    let centre = rng.random_range(low + eighth + dead..=high - eighth - dead);
    let of = |span: u16| gain(span, bits - 2).expect("an eighth of full scale or more");
    AxisTrim {
        axis,
        centre,
        low,
        high,
        sign: if rng.random() { 1 } else { -1 },
        gain_neg: of(centre - low),
        gain_pos: of(high - centre),
        dead,
        axial_gain_neg: of(centre - low - dead),
        axial_gain_pos: of(high - centre - dead),
        from: AxisSource::default(),
    }
}

fn stick(rng: &mut ChaCha8Rng, half: Half) -> StickTrim {
    let outer = rng.random_range(22_000..=32_767u16);
    let largest = (outer - SMALLEST_TRAVEL).min(6000);
    let turned = rng.random_range(-2200..=2200i16);
    let matrix = Matrix2([[16_300, turned], [-turned, 16_384]]);
    StickTrim {
        half,
        form: if rng.random_range(0..4) == 0 { ZoneForm::Axial } else { ZoneForm::Radial },
        inner: rng.random_range(0..=largest),
        outer,
        matrix: (rng.random_range(0..3) == 0).then_some(matrix),
        from: StickSource::default(),
    }
}

fn trigger(rng: &mut ChaCha8Rng, half: Half, bits: u8) -> TriggerTrim {
    let full_scale = u16::MAX >> (16 - bits);
    let quarter = 1u16 << (bits - 2);
    let near = rng.random_range(0..quarter);
    let far = full_scale - rng.random_range(0..quarter);
    let dead = rng.random_range(0..quarter / 4);
    let (off, on) = (near + dead, near + dead + 1 + rng.random_range(0..quarter / 4));
    let rises: bool = rng.random();
    let turn = |code: u16| if rises { code } else { full_scale - code };
    TriggerTrim {
        half,
        rest: turn(near),
        full: turn(far),
        sign: if rises { 1 } else { -1 },
        dead,
        gain: gain(far - near - dead, bits - 2).expect("a quarter of full scale or more"),
        on: turn(on),
        off: turn(off),
        from: TriggerSource::default(),
    }
}

fn button(rng: &mut ChaCha8Rng, index: u8) -> ButtonTrim {
    ButtonTrim {
        index: index * 7,
        name: ["south", "east", "", "stick"][usize::from(index)].to_owned(),
        press_lockout_ms: rng.random_range(0..=40),
        release_ms: rng.random_range(0..=40),
        active_low: rng.random(),
        from: ButtonSource::default(),
    }
}
