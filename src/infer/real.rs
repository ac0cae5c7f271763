//! Numbers to calculate with: plain doubles, or pairs of doubles with twice the digits.
//!
//! In: `f64`. Out: `f64`, rounded once at the end. Sums of terms with both signs lose digits where
//! many unlikely findings stand together; a [`Twofold`] has about 31 of them, so that 1e-20 left
//! of a sum of ones is still good to ten digits.
//!
//! Sources: the error of a sum is itself a double, found by six operations (Knuth, The Art of
//! Computer Programming, vol. 2, §4.2.2, theorem B); so is that of a product, found by splitting
//! both factors in halves (Dekker 1971, "A floating-point technique for extending the available
//! precision", Numerische Mathematik 18; after Veltkamp), or by one fused multiply-add where the
//! machine has it. Both are exact, so all machines give the same bits.
//!
//! Example: 1 + 1e-25 − 1 is 0 in doubles and 1e-25 in twofold numbers.

// What runs wide has to stand inside the function that is compiled for it.
#![allow(clippy::inline_always)]

use std::fmt::Debug;
use std::ops::{AddAssign, MulAssign};

/// Right-hand sides that go through the tree together.
pub(super) const LANES: usize = 8;

/// A number that messages can be made of.
pub(super) trait Real:
    Copy + Debug + Default + From<f64> + AddAssign + MulAssign + Send + Sync + 'static
{
    /// Whether it has more digits than the tables that cliques keep.
    const FINER: bool;
    /// One number per right-hand side.
    type Wide: Wide<Self>;
    /// The nearest double.
    fn rounded(self) -> f64;
}

/// One number per right-hand side, worked on all at once.
pub(super) trait Wide<R>: Copy + Debug {
    /// The same number in all lanes.
    fn all(value: R) -> Self;
    /// Sets one lane.
    fn set(&mut self, lane: usize, value: f64);
    /// The doubles nearest to the numbers.
    fn rounded(&self) -> [f64; LANES];
    /// Multiplies lane by lane; `FUSED`: the machine multiplies and adds in one.
    fn multiply<const FUSED: bool>(&mut self, by: &Self);
    /// Adds lane by lane.
    fn add(&mut self, other: &Self);
    /// Adds a number times each lane of another.
    #[inline(always)]
    fn add_times<const FUSED: bool>(&mut self, value: R, other: &Self) {
        let mut product = Self::all(value);
        product.multiply::<FUSED>(other);
        self.add(&product);
    }
}

impl Real for f64 {
    const FINER: bool = false;
    type Wide = [f64; LANES];

    fn rounded(self) -> f64 {
        self
    }
}

impl Wide<f64> for [f64; LANES] {
    #[inline(always)]
    fn all(value: f64) -> Self {
        [value; LANES]
    }

    fn set(&mut self, lane: usize, value: f64) {
        self[lane] = value;
    }

    fn rounded(&self) -> [f64; LANES] {
        *self
    }

    #[inline(always)]
    fn multiply<const FUSED: bool>(&mut self, by: &Self) {
        for lane in 0..LANES {
            self[lane] *= by[lane];
        }
    }

    #[inline(always)]
    fn add(&mut self, other: &Self) {
        for lane in 0..LANES {
            self[lane] += other[lane];
        }
    }
}

/// The unevaluated sum of a double and what is too small for it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Twofold {
    high: f64,
    low: f64,
}

/// Splits a double in halves of 26 bits: 2²⁷ + 1 (Veltkamp).
const SPLITTER: f64 = 134_217_729.0;

/// a + b and its error (Knuth).
#[inline(always)]
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let from_b = sum - a;
    (sum, (a - (sum - from_b)) + (b - from_b))
}

/// The same where |a| ≥ |b| (Dekker).
#[inline(always)]
fn fast_two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    (sum, b - (sum - a))
}

#[inline(always)]
fn halves(a: f64) -> (f64, f64) {
    let scaled = SPLITTER * a;
    let high = scaled - (scaled - a);
    (high, a - high)
}

/// a · b and its error, by halves (Dekker) or by one fused multiply-add.
#[inline(always)]
fn two_product<const FUSED: bool>(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    if FUSED {
        return (product, a.mul_add(b, -product));
    }
    let ((a_high, a_low), (b_high, b_low)) = (halves(a), halves(b));
    let error = a_low * b_low - (((product - a_high * b_high) - a_low * b_high) - a_high * b_low);
    (product, error)
}

/// Error: below 2⁻¹⁰⁰ of the product.
#[inline(always)]
fn product<const FUSED: bool>(a: Twofold, b: Twofold) -> Twofold {
    let (high, error) = two_product::<FUSED>(a.high, b.high);
    let (high, low) = fast_two_sum(high, error + (a.high * b.low + a.low * b.high));
    Twofold { high, low }
}

/// Error: below 2⁻¹⁰⁰ of |a| + |b|. Where they cancel that is more than of the sum; but so are the
/// errors that they bring along.
#[inline(always)]
fn sum(a: Twofold, b: Twofold) -> Twofold {
    let (high, error) = two_sum(a.high, b.high);
    let (high, low) = fast_two_sum(high, error + (a.low + b.low));
    Twofold { high, low }
}

impl From<f64> for Twofold {
    fn from(high: f64) -> Self {
        Self { high, low: 0.0 }
    }
}

impl AddAssign for Twofold {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = sum(*self, other);
    }
}

impl MulAssign for Twofold {
    #[inline(always)]
    fn mul_assign(&mut self, by: Self) {
        *self = product::<false>(*self, by);
    }
}

impl Real for Twofold {
    const FINER: bool = true;
    type Wide = WideTwofold;

    fn rounded(self) -> f64 {
        self.high
    }
}

/// Twofold numbers, one per right-hand side. High and low parts stand apart, so that the compiler
/// can work on several lanes at once.
#[derive(Debug, Clone, Copy)]
pub(super) struct WideTwofold {
    high: [f64; LANES],
    low: [f64; LANES],
}

impl WideTwofold {
    #[inline(always)]
    fn lane(&self, lane: usize) -> Twofold {
        Twofold {
            high: self.high[lane],
            low: self.low[lane],
        }
    }

    #[inline(always)]
    fn each(&mut self, other: &Self, act: impl Fn(Twofold, Twofold) -> Twofold) {
        for lane in 0..LANES {
            let result = act(self.lane(lane), other.lane(lane));
            self.high[lane] = result.high;
            self.low[lane] = result.low;
        }
    }
}

impl Wide<Twofold> for WideTwofold {
    #[inline(always)]
    fn all(value: Twofold) -> Self {
        Self {
            high: [value.high; LANES],
            low: [value.low; LANES],
        }
    }

    fn set(&mut self, lane: usize, value: f64) {
        self.high[lane] = value;
        self.low[lane] = 0.0;
    }

    fn rounded(&self) -> [f64; LANES] {
        self.high
    }

    #[inline(always)]
    fn multiply<const FUSED: bool>(&mut self, by: &Self) {
        self.each(by, product::<FUSED>);
    }

    #[inline(always)]
    fn add(&mut self, other: &Self) {
        self.each(other, sum);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1/3 as a twofold number times 3 is 1 to 31 digits: both parts are known from the binary
    /// expansion 0.0101…₂. Kind: by hand.
    #[test]
    fn a_third_times_three() {
        let mut third = Twofold {
            high: 1.0 / 3.0,
            low: 2.0_f64.powi(-54) / 3.0,
        };
        third *= Twofold::from(3.0);
        third += Twofold::from(-1.0);
        assert!(third.rounded().abs() < 1e-31);
    }

    /// Kind: by hand; the exact sum is 2⁻⁸³.
    #[test]
    fn what_is_left_of_a_sum_keeps_its_digits() {
        let mut number = Twofold::from(1.0);
        number += Twofold::from(2.0_f64.powi(-83));
        number += Twofold::from(-1.0);
        assert_eq!(number.rounded().to_bits(), 2.0_f64.powi(-83).to_bits());
    }

    /// The error of a product is a double, so both ways of finding it give that one. Kind: a second
    /// method.
    #[test]
    fn fused_and_split_products_are_the_same_to_the_bit() {
        let mut factors = (1..400).map(|n| (f64::from(n) * 0.37).sin() * 2_f64.powi(n % 60 - 30));
        let mut last = 1.0 / 3.0;
        assert!(factors.all(|factor| {
            let (split, fused) = (
                two_product::<false>(last, factor),
                two_product::<true>(last, factor),
            );
            last = factor;
            split.1 != 0.0 && split == fused
        }));
    }

    /// (1 + 2⁻⁴⁰)² = 1 + 2⁻³⁹ + 2⁻⁸⁰, whose last term no double holds beside the first.
    /// Kind: by hand. The wide numbers must do the same.
    #[test]
    fn products_keep_what_doubles_drop() {
        let factor = Twofold::from(1.0 + 2.0_f64.powi(-40));
        let mut square = factor;
        square *= factor;
        square += Twofold::from(-1.0);
        square += Twofold::from(-(2.0_f64.powi(-39)));
        assert_eq!(square.rounded().to_bits(), 2.0_f64.powi(-80).to_bits());
        let mut wide = WideTwofold::all(Twofold::from(-1.0));
        wide.add_times::<false>(factor, &WideTwofold::all(factor));
        wide.add(&WideTwofold::all(Twofold::from(-(2.0_f64.powi(-39)))));
        let power = 2.0_f64.powi(-80).to_bits();
        assert!(wide.rounded().iter().all(|x| x.to_bits() == power));
    }
}
