//! Form of a profile by harmonics, in undulations per revolution (UPR).
use crate::measure::fit::dense::Normal;
use crate::measure::{Measured, Shortage};

/// One harmonic of a profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Harmonic {
    /// Undulations per revolution: 1 = off-centre, 2 = ellipse, 4 = square, 8 = octagon.
    pub upr: usize,
    /// Amplitude (peak), unit of the radii.
    pub amplitude: f64,
    /// Direction of a crest, degrees in [0, 360/upr): for a polygon the direction of a corner.
    pub crest_deg: f64,
}

/// Harmonics 1 to `highest` of a profile by least squares.
///
/// Formula: r(θ) = r₀ + Σ A_k cos k(θ − θ_k). Directions in degrees, radii in any unit; entries that are
/// not finite are left out, so a profile may have holes. A [`Shortage`] below twice as many points
/// as parameters (1 + 2·highest): with large holes the harmonics are not told apart. Equal weight
/// for each entry: give one radius a direction. Cost: n·highest² multiplications.
/// Source: ISO 12181-2 for UPR (from memory).
pub fn harmonics(directions_deg: &[f64], radii: &[f64], highest: usize) -> Measured<Vec<Harmonic>> {
    let width = 1 + 2 * highest;
    let known = |(d, r): &(&f64, &f64)| d.is_finite() && r.is_finite();
    let have = directions_deg.iter().zip(radii).filter(known).count();
    if highest == 0 || have < 2 * width {
        return Err(Shortage {
            what: "directions of the profile".to_owned(),
            have,
            need: 2 * width,
            advice: "turn the stick once more round its gate".to_owned(),
        });
    }
    let mut normal = Normal::new(width);
    let mut row = vec![1.0; width];
    for (direction, radius) in directions_deg.iter().zip(radii).filter(known) {
        for (k, pair) in row[1..].chunks_exact_mut(2).enumerate() {
            let (sin, cos) = ((k + 1) as f64 * direction.to_radians()).sin_cos();
            pair.copy_from_slice(&[cos, sin]);
        }
        normal.add(&row, *radius);
    }
    let parts = normal.solve();
    let harmonic = |(k, pair): (usize, &[f64])| {
        let upr = k + 1;
        let turn = 360.0 / upr as f64;
        let crest = (pair[1].atan2(pair[0]).to_degrees() / upr as f64).rem_euclid(turn);
        // A tiny negative angle rounds up to the whole turn.
        let crest_deg = if crest < turn { crest } else { 0.0 };
        Harmonic { upr, amplitude: pair[0].hypot(pair[1]), crest_deg }
    };
    Ok(parts[1..].chunks_exact(2).enumerate().map(harmonic).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(f: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>) {
        let directions: Vec<f64> = (0..72).map(|k| 5.0 * f64::from(k)).collect();
        let radii = directions.iter().map(|d| f(d.to_radians())).collect();
        (directions, radii)
    }

    #[test]
    fn built_from_harmonics_and_holed() {
        let (d, mut r) = profile(|a| {
            400.0 + 3.0 * (a - 0.5).cos() + 7.0 * (4.0 * (a - 10f64.to_radians())).cos()
        });
        for hole in [3, 4, 30] {
            r[hole] = f64::NAN;
        }
        let found = harmonics(&d, &r, 8).unwrap();
        assert!((found[0].amplitude - 3.0).abs() < 1e-9);
        assert!((found[0].crest_deg - 0.5f64.to_degrees()).abs() < 1e-9);
        assert!(
            (found[3].amplitude - 7.0).abs() < 1e-9 && (found[3].crest_deg - 10.0).abs() < 1e-9
        );
        assert!(found.iter().filter(|h| h.upr != 1 && h.upr != 4).all(|h| h.amplitude < 1e-9));
    }

    #[test]
    fn an_octagon_shows_its_corners() {
        // Corners at 22.5°; Fourier cosine of the side: mean of cos(8θ)/cos θ over ±22.5°.
        let (d, r) = profile(|a| {
            let within = (a.to_degrees() + 360.0).rem_euclid(45.0);
            let from_side = if within > 22.5 { within - 45.0 } else { within };
            100.0 / from_side.to_radians().cos()
        });
        let found = harmonics(&d, &r, 12).unwrap();
        let strongest = found.iter().max_by(|a, b| a.amplitude.total_cmp(&b.amplitude)).unwrap();
        assert_eq!(strongest.upr, 8);
        assert!((strongest.crest_deg - 22.5).abs() < 1e-6, "{strongest:?}");
    }

    #[test]
    fn too_little() {
        let (d, r) = profile(|_| 1.0);
        assert!(harmonics(&d[..30], &r[..30], 8).is_err());
        assert!(harmonics(&d, &r, 0).is_err());
    }
}
