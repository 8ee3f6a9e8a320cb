//! Small dense least squares: normal equations summed row by row, and Householder QR where digits
//! are scarce.

/// Normal equations of a linear model with few columns, summed one sample at a time.
#[derive(Clone, Debug)]
pub(crate) struct Normal {
    columns: usize,
    /// Lower triangle of XᵀX, row after row.
    products: Vec<f64>,
    right: Vec<f64>,
}

impl Normal {
    pub(crate) fn new(columns: usize) -> Normal {
        let products = vec![0.0; columns * (columns + 1) / 2];
        Normal { columns, products, right: vec![0.0; columns] }
    }

    pub(crate) fn add(&mut self, row: &[f64], y: f64) {
        let mut at = 0;
        for (i, x) in row.iter().enumerate().take(self.columns) {
            for z in &row[..=i] {
                self.products[at] += x * z;
                at += 1;
            }
            self.right[i] += x * y;
        }
    }

    /// The same equations with each diagonal term raised by the share `damping` (Marquardt).
    pub(crate) fn damped(&self, damping: f64) -> Normal {
        let mut damped = self.clone();
        for i in 0..self.columns {
            damped.products[i * (i + 1) / 2 + i] *= 1.0 + damping;
        }
        damped
    }

    /// Coefficients by Cholesky's method; a column that the earlier ones explain gets 0.
    pub(crate) fn solve(&self) -> Vec<f64> {
        self.factor().solve(&self.right)
    }

    /// Diagonal of (XᵀX)⁻¹: the variance of each coefficient for residuals of variance 1.
    pub(crate) fn variances(&self) -> Vec<f64> {
        let factor = self.factor();
        let unit = |i: usize| {
            let mut right = vec![0.0; self.columns];
            right[i] = 1.0;
            factor.solve(&right)[i]
        };
        (0..self.columns).map(unit).collect()
    }

    fn factor(&self) -> Factor {
        let n = self.columns;
        let mut l = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let known: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
                let left = self.products[i * (i + 1) / 2 + j] - known;
                if i == j {
                    let whole = self.products[i * (i + 1) / 2 + i];
                    l[i][i] = if left > 1e-10 * whole { left.sqrt() } else { f64::INFINITY };
                } else {
                    l[i][j] = if l[j][j].is_finite() { left / l[j][j] } else { 0.0 };
                }
            }
        }
        Factor { l }
    }
}

/// Lower triangular factor; an infinite diagonal marks a column left out.
struct Factor {
    l: Vec<Vec<f64>>,
}

impl Factor {
    fn solve(&self, right: &[f64]) -> Vec<f64> {
        let n = self.l.len();
        let mut x = right.to_vec();
        for i in 0..n {
            let known: f64 = (0..i).map(|k| self.l[i][k] * x[k]).sum();
            x[i] = (x[i] - known) / self.l[i][i];
        }
        for i in (0..n).rev() {
            let known: f64 = (i + 1..n).map(|k| self.l[k][i] * x[k]).sum();
            x[i] = (x[i] - known) / self.l[i][i];
        }
        x
    }
}

/// Result of a fit by QR: coefficients, (XᵀX)⁻¹ diagonal, residual sum of squares.
#[derive(Clone, Debug)]
pub(crate) struct Solved {
    pub(crate) coefficients: Vec<f64>,
    pub(crate) variances: Vec<f64>,
    pub(crate) squares: f64,
}

/// Least squares by Householder reflections on columns scaled to length one, with one step of
/// iterative refinement; `None` if a column depends on the others or rows are too few.
/// Source: Golub & Van Loan, Matrix Computations, section 5.3.
pub(crate) fn householder(columns: &[&[f64]], y: &[f64]) -> Option<Solved> {
    let (rows, width) = (y.len(), columns.len());
    if rows < width || columns.iter().any(|c| c.len() != rows) {
        return None;
    }
    let lengths: Vec<f64> =
        columns.iter().map(|c| c.iter().map(|x| x * x).sum::<f64>().sqrt()).collect();
    let mut a: Vec<Vec<f64>> = columns
        .iter()
        .zip(&lengths)
        .map(|(c, length)| c.iter().map(|x| x / length).collect())
        .collect();
    let mut reflections: Vec<Vec<f64>> = Vec::with_capacity(width);
    for k in 0..width {
        let norm = a[k][k..].iter().map(|x| x * x).sum::<f64>().sqrt();
        if norm.is_nan() || norm <= 1e-14 {
            return None;
        }
        let mut v = a[k][k..].to_vec();
        v[0] += norm.copysign(v[0]);
        let size = v.iter().map(|x| x * x).sum::<f64>().sqrt();
        v.iter_mut().for_each(|x| *x /= size);
        for column in &mut a[k..] {
            reflect(&v, &mut column[k..]);
        }
        reflections.push(v);
    }
    let mut coefficients = vec![0.0; width];
    let mut residual = y.to_vec();
    for _ in 0..2 {
        let mut rotated = residual.clone();
        for (k, v) in reflections.iter().enumerate() {
            reflect(v, &mut rotated[k..]);
        }
        for (c, step) in coefficients.iter_mut().zip(back(&a, &rotated[..width])) {
            *c += step;
        }
        for (i, r) in residual.iter_mut().enumerate() {
            let terms = coefficients.iter().zip(columns).zip(&lengths);
            *r = y[i] - terms.map(|((c, x), length)| c * (x[i] / length)).sum::<f64>();
        }
    }
    let variances = inverse_rows(&a).iter().zip(&lengths).map(|(v, l)| v / (l * l)).collect();
    coefficients.iter_mut().zip(&lengths).for_each(|(c, length)| *c /= length);
    let squares = residual.iter().map(|r| r * r).sum();
    Some(Solved { coefficients, variances, squares })
}

fn reflect(v: &[f64], x: &mut [f64]) {
    let twice = 2.0 * v.iter().zip(x.iter()).map(|(a, b)| a * b).sum::<f64>();
    for (x, v) in x.iter_mut().zip(v) {
        *x -= twice * v;
    }
}

/// Solves R c = right, with column k of R in `a[k][..=k]`.
fn back(a: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let mut c = right.to_vec();
    for i in (0..c.len()).rev() {
        let known: f64 = (i + 1..c.len()).map(|k| a[k][i] * c[k]).sum();
        c[i] = (c[i] - known) / a[i][i];
    }
    c
}

/// Sums of squares of the rows of R⁻¹: the diagonal of (RᵀR)⁻¹.
fn inverse_rows(a: &[Vec<f64>]) -> Vec<f64> {
    let width = a.len();
    let mut sums = vec![0.0; width];
    for j in 0..width {
        let mut unit = vec![0.0; width];
        unit[j] = 1.0;
        for (sum, x) in sums.iter_mut().zip(back(a, &unit)) {
            *sum += x * x;
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_agree_on_a_line() {
        // y = 2 + 3x with residuals +1 −1 −1 +1 (orthogonal to 1 and x).
        let x = [0.0, 1.0, 2.0, 3.0];
        let y = [3.0, 4.0, 7.0, 12.0];
        let ones = [1.0; 4];
        let qr = householder(&[&ones, &x], &y).unwrap();
        let mut normal = Normal::new(2);
        for (x, y) in x.iter().zip(&y) {
            normal.add(&[1.0, *x], *y);
        }
        for (got, want) in qr.coefficients.iter().zip([2.0, 3.0]) {
            assert!((got - want).abs() < 1e-14);
        }
        for (a, b) in qr.coefficients.iter().zip(normal.solve()) {
            assert!((a - b).abs() < 1e-13);
        }
        assert!((qr.squares - 4.0).abs() < 1e-13);
        // (XᵀX)⁻¹ = [14 −6; −6 4]/20.
        for (got, want) in qr.variances.iter().chain(&normal.variances()).zip([0.7, 0.2, 0.7, 0.2])
        {
            assert!((got - want).abs() < 1e-13);
        }
    }

    #[test]
    fn dependent_columns() {
        let x = [1.0, 2.0, 3.0];
        assert!(householder(&[&x, &x], &x).is_none());
        let mut normal = Normal::new(2);
        for v in x {
            normal.add(&[v, v], 5.0 * v);
        }
        let c = normal.solve();
        assert!((c[0] - 5.0).abs() < 1e-12 && c[1] == 0.0, "{c:?}");
    }
}
