//! The weights that would have forecast best.

/// Strength of the pull towards equal weights, in rows of mean size.
const PULL_ROWS: f64 = 10.0;

/// Sums over judged forecasts: A = sum F F', b = sum F y.
#[derive(Debug, Clone)]
pub(super) struct Judged {
    a: Vec<Vec<f64>>,
    b: Vec<f64>,
    pub(super) rows: usize,
}

impl Judged {
    pub(super) fn new(experts: usize) -> Self {
        Self { a: vec![vec![0.0; experts]; experts], b: vec![0.0; experts], rows: 0 }
    }

    /// One forecast: what each expert said, and whether it came.
    pub(super) fn add(&mut self, said: &[f64], came: bool) {
        for (row, f) in self.a.iter_mut().zip(said) {
            for (sum, g) in row.iter_mut().zip(said) {
                *sum += f * g;
            }
        }
        if came {
            for (sum, f) in self.b.iter_mut().zip(said) {
                *sum += f;
            }
        }
        self.rows += 1;
    }

    /// w on the simplex that minimises w'(A + lambda I)w - 2w'(b + lambda / E), lambda = 10 tr(A) /
    /// (E N): least squares of what came on what was said, drawn to equal weights by ten rows of
    /// mean size. N = 0: equal weights.
    ///
    /// Exact: the least over all sets of experts that may have weight, each by its linear equations.
    pub(super) fn weights(&self) -> Vec<f64> {
        let experts = self.b.len();
        let equal = vec![1.0 / experts as f64; experts];
        let trace: f64 = self.a.iter().enumerate().filter_map(|(k, row)| row.get(k)).sum();
        if self.rows == 0 || trace <= 0.0 {
            return equal;
        }
        let lambda = PULL_ROWS * trace / (experts as f64 * self.rows as f64);
        let mut a = self.a.clone();
        for (k, row) in a.iter_mut().enumerate() {
            if let Some(own) = row.get_mut(k) {
                *own += lambda;
            }
        }
        let b: Vec<f64> = self.b.iter().map(|b| b + lambda / experts as f64).collect();
        let mut best = (f64::INFINITY, equal);
        for set in 1..1_usize << experts {
            let members: Vec<usize> = (0..experts).filter(|k| set >> k & 1 == 1).collect();
            let Some(found) = among(&a, &b, &members) else {
                continue;
            };
            let worth = cost(&a, &b, &found);
            if worth < best.0 {
                best = (worth, found);
            }
        }
        best.1
    }
}

/// The best weights of these experts alone that sum to 1; `None` where one would be negative.
fn among(a: &[Vec<f64>], b: &[f64], members: &[usize]) -> Option<Vec<f64>> {
    // 2 A w + mu 1 = 2 b, 1'w = 1.
    let n = members.len();
    let mut rows = Vec::with_capacity(n + 1);
    let mut right = Vec::with_capacity(n + 1);
    for k in members {
        let mut row: Vec<f64> =
            members.iter().filter_map(|l| Some(2.0 * a.get(*k)?.get(*l)?)).collect();
        row.push(1.0);
        rows.push(row);
        right.push(2.0 * b.get(*k)?);
    }
    let mut last = vec![1.0; n];
    last.push(0.0);
    rows.push(last);
    right.push(1.0);
    let solved = solve(rows, right)?;
    let mut weights = vec![0.0; b.len()];
    for (k, weight) in members.iter().zip(&solved) {
        if *weight < 0.0 {
            return None;
        }
        *weights.get_mut(*k)? = *weight;
    }
    Some(weights)
}

fn cost(a: &[Vec<f64>], b: &[f64], w: &[f64]) -> f64 {
    let quadratic: f64 = a
        .iter()
        .zip(w)
        .map(|(row, wk)| wk * row.iter().zip(w).map(|(a, wl)| a * wl).sum::<f64>())
        .sum();
    quadratic - 2.0 * b.iter().zip(w).map(|(b, w)| b * w).sum::<f64>()
}

/// The solution of a small linear system, by Gauss with the largest pivot; `None` if it has none.
pub(super) fn solve(mut rows: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for k in 0..n {
        let size = |row: usize| rows.get(row).and_then(|row| row.get(k)).map_or(0.0, |x| x.abs());
        let pivot = (k..n).max_by(|a, b| size(*a).total_cmp(&size(*b)))?;
        rows.swap(k, pivot);
        right.swap(k, pivot);
        let top = rows.get(k)?.clone();
        let lead = *top.get(k)?;
        if lead.abs() < 1e-300 || !lead.is_finite() {
            return None;
        }
        let above = *right.get(k)?;
        for (row, value) in rows.iter_mut().zip(&mut right).skip(k + 1) {
            let factor = row.get(k)? / lead;
            for (x, y) in row.iter_mut().zip(&top).skip(k) {
                *x -= factor * y;
            }
            *value -= factor * above;
        }
    }
    let mut found = vec![0.0; n];
    for k in (0..n).rev() {
        let row = rows.get(k)?;
        let known: f64 = row.iter().zip(&found).skip(k + 1).map(|(x, y)| x * y).sum();
        *found.get_mut(k)? = (right.get(k)? - known) / row.get(k)?;
    }
    Some(found)
}
