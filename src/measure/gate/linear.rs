//! Small weighted least-squares fits by the normal equations.

/// Solves the least-squares problem Σ w (Σ c_j·b_j − y)² for up to a dozen coefficients.
///
/// `rows` yields (weight, basis values, y). `None` when the columns are not independent. Columns are
/// of order one here, so that the normal equations keep half of the digits and more.
/// Cost: O(rows · N²). Source: normal equations with partial pivoting.
pub(super) fn least_squares<const N: usize>(
    rows: impl Iterator<Item = (f64, [f64; N], f64)>,
) -> Option<[f64; N]> {
    let (mut matrix, mut right) = ([[0.0; N]; N], [0.0; N]);
    for (w, basis, y) in rows {
        for i in 0..N {
            right[i] += w * basis[i] * y;
            for j in 0..N {
                matrix[i][j] += w * basis[i] * basis[j];
            }
        }
    }
    solve(matrix, right)
}

/// Gaussian elimination with partial pivoting.
fn solve<const N: usize>(mut a: [[f64; N]; N], mut b: [f64; N]) -> Option<[f64; N]> {
    let scale = (0..N).map(|i| a[i][i].abs()).fold(0.0, f64::max);
    for i in 0..N {
        let pivot = (i..N).max_by(|&p, &q| a[p][i].abs().total_cmp(&a[q][i].abs()))?;
        if a[pivot][i].abs() <= 1e-12 * scale {
            return None;
        }
        a.swap(i, pivot);
        b.swap(i, pivot);
        for k in i + 1..N {
            let f = a[k][i] / a[i][i];
            let row = a[i];
            a[k].iter_mut().zip(row).skip(i).for_each(|(x, y)| *x -= f * y);
            b[k] -= f * b[i];
        }
    }
    let mut x = [0.0; N];
    for i in (0..N).rev() {
        let known: f64 = (i + 1..N).map(|j| a[i][j] * x[j]).sum();
        x[i] = (b[i] - known) / a[i][i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_three_points() {
        let rows = [(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)].map(|(x, y)| (1.0, [1.0, x], y));
        let c = least_squares(rows.into_iter()).expect("independent");
        assert!((c[0] - 1.0).abs() < 1e-12 && (c[1] - 2.0).abs() < 1e-12);
    }

    #[test]
    fn dependent_columns_are_refused() {
        let rows = [(1.0, [1.0, 2.0], 3.0), (1.0, [2.0, 4.0], 5.0)];
        assert_eq!(least_squares(rows.into_iter()), None);
    }
}
