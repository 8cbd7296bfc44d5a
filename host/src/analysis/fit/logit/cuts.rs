//! The cuts above the threshold, at their best for one threshold and scale.
//!
//! With `a` the upper and `b` the lower cut of a category, `F(a) - F(b) = F(a) F(-b) (1 - e^(b - a))`, and
//! `b - a` does not depend on `x`. So each cut meets only the observations of the two categories beside
//! it, and neighbours meet in one term. The log likelihood is concave in the cuts (J. W. Pratt, J. Am.
//! Stat. Assoc. 76 (1981), 103-106), and every category is used, so that the best cuts are finite and
//! Newton's method with halved steps finds them.

/// Most Newton steps.
const MAX_STEPS: usize = 60;

/// Observations by category, at one scale.
pub(super) struct Cuts<'a> {
    by_category: &'a [Vec<(f64, f64)>],
    counts: Vec<f64>,
    s: f64,
}

/// Value, slope and curvature of a sum.
#[derive(Default, Clone, Copy)]
struct Terms {
    value: f64,
    slope: f64,
    curvature: f64,
}

/// `ln(1 + e^z)` without overflow.
fn softplus(z: f64) -> f64 {
    z.max(0.0) + (-z.abs()).exp().ln_1p()
}

fn logistic(z: f64) -> f64 {
    if z >= 0.0 {
        1.0 / (1.0 + (-z).exp())
    } else {
        let e = z.exp();
        e / (1.0 + e)
    }
}

impl<'a> Cuts<'a> {
    pub(super) fn new(by_category: &'a [Vec<(f64, f64)>], s: f64) -> Self {
        let count = |cells: &Vec<(f64, f64)>| cells.iter().map(|c| c.1).sum();
        Self {
            by_category,
            counts: by_category.iter().map(count).collect(),
            s,
        }
    }

    /// Greatest log likelihood with the first cut held at `alpha_1`. `warm` carries the distances between
    /// cuts from one call to the next.
    pub(super) fn best_log_likelihood(&self, alpha_1: f64, warm: &mut Option<Vec<f64>>) -> f64 {
        let n_free = self.by_category.len() - 2;
        let first = self.around_cut(1, alpha_1).value;
        if n_free == 0 {
            return first;
        }
        let mut cuts = self.start(alpha_1, n_free, warm.as_deref());
        let mut now = self.rest(alpha_1, &cuts);
        for _ in 0..MAX_STEPS {
            let direction = self.newton_direction(alpha_1, &cuts);
            let mut fraction = 1.0;
            let mut gain = 0.0;
            for _ in 0..50 {
                let next: Vec<f64> = cuts
                    .iter()
                    .zip(&direction)
                    .map(|(c, d)| c + fraction * d)
                    .collect();
                let value = self.rest(alpha_1, &next);
                if value >= now {
                    gain = value - now;
                    (cuts, now) = (next, value);
                    break;
                }
                fraction *= 0.5;
            }
            if gain <= 1e-11 {
                break;
            }
        }
        let above = std::iter::once(&alpha_1).chain(&cuts);
        *warm = Some(above.zip(&cuts).map(|(a, b)| a - b).collect());
        first + now
    }

    /// Cuts to start from: the last distances, or one unit each.
    fn start(&self, alpha_1: f64, n_free: usize, warm: Option<&[f64]>) -> Vec<f64> {
        let mut cut = alpha_1;
        (0..n_free)
            .map(|i| {
                cut -= warm.and_then(|w| w.get(i)).copied().unwrap_or(1.0);
                cut
            })
            .collect()
    }

    /// Terms of cut `k`: category `k` lies below it in `x`, category `k - 1` above.
    fn around_cut(&self, k: usize, alpha: f64) -> Terms {
        let mut out = Terms::default();
        for &(x, count) in &self.by_category[k] {
            let z = alpha - x / self.s;
            out.value -= count * softplus(-z);
            out.slope += count * logistic(-z);
            out.curvature -= count * logistic(z) * logistic(-z);
        }
        for &(x, count) in &self.by_category[k - 1] {
            let z = alpha - x / self.s;
            out.value -= count * softplus(z);
            out.slope -= count * logistic(z);
            out.curvature -= count * logistic(z) * logistic(-z);
        }
        out
    }

    /// Term of category `k` for the distance of its two cuts.
    fn width(&self, k: usize, distance: f64) -> Terms {
        if distance <= 0.0 {
            return Terms {
                value: f64::NEG_INFINITY,
                ..Terms::default()
            };
        }
        let n = self.counts[k];
        let odds = 1.0 / distance.exp_m1();
        Terms {
            value: n * (-(-distance).exp_m1()).ln(),
            slope: n * odds,
            curvature: -n * odds * (1.0 + odds),
        }
    }

    /// Log likelihood that depends on the free cuts.
    fn rest(&self, alpha_1: f64, cuts: &[f64]) -> f64 {
        let mut above = alpha_1;
        let mut sum = 0.0;
        for (i, &cut) in cuts.iter().enumerate() {
            sum += self.width(i + 1, above - cut).value + self.around_cut(i + 2, cut).value;
            above = cut;
        }
        sum
    }

    /// Newton's direction; the Hessian is tridiagonal and negative definite.
    fn newton_direction(&self, alpha_1: f64, cuts: &[f64]) -> Vec<f64> {
        let n = cuts.len();
        let (mut diagonal, mut gradient, mut beside) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        let mut above = alpha_1;
        for (i, &cut) in cuts.iter().enumerate() {
            let width = self.width(i + 1, above - cut);
            let own = self.around_cut(i + 2, cut);
            gradient[i] += own.slope - width.slope;
            diagonal[i] += own.curvature + width.curvature;
            if i > 0 {
                gradient[i - 1] += width.slope;
                diagonal[i - 1] += width.curvature;
                beside[i] = -width.curvature;
            }
            above = cut;
        }
        solve_tridiagonal(&diagonal, &beside, &gradient)
    }
}

/// Solve `H d = -g` for a symmetric tridiagonal `H`; `beside[i]` joins `i - 1` and `i`.
fn solve_tridiagonal(diagonal: &[f64], beside: &[f64], gradient: &[f64]) -> Vec<f64> {
    let n = diagonal.len();
    let mut pivot = diagonal.to_vec();
    let mut right: Vec<f64> = gradient.iter().map(|g| -g).collect();
    // A curvature of zero (saturated data) would divide by zero; a tiny one gives a long step that
    // the caller halves.
    let guard = |p: f64| if p > -1e-12 { -1e-12 } else { p };
    for i in 1..n {
        let factor = beside[i] / guard(pivot[i - 1]);
        pivot[i] -= factor * beside[i];
        right[i] -= factor * right[i - 1];
    }
    let mut out = vec![0.0; n];
    for i in (0..n).rev() {
        let after = if i + 1 < n {
            beside[i + 1] * out[i + 1]
        } else {
            0.0
        };
        out[i] = (right[i] - after) / guard(pivot[i]);
    }
    out
}
