//! Runs arithmetic as wide as the machine can.
//!
//! In: work that is the same with and without fused multiply-adds. Out: its result, the same bits on all
//! machines: nothing is added up in another order, and what is fused is exact either way.
//!
//! Example: on a machine with 256-bit registers four lanes of a message are multiplied at once, else two.

// What runs wide has to stand inside the function that is compiled for it.
#![allow(clippy::inline_always)]

/// Work whose inner loops are inlined into it.
pub(super) trait Work {
    /// What it gives.
    type Result;
    /// Does it; `FUSED`: the machine multiplies and adds in one.
    fn run<const FUSED: bool>(self) -> Self::Result;
}

/// Does the work.
#[cfg(target_arch = "x86_64")]
pub(super) fn widest<W: Work>(work: W) -> W::Result {
    use std::sync::LazyLock;

    use pulp::Simd;
    use pulp::x86::V3;

    static MACHINE: LazyLock<Option<V3>> = LazyLock::new(V3::try_new);
    match *MACHINE {
        Some(machine) => Simd::vectorize(
            machine,
            #[inline(always)]
            || work.run::<true>(),
        ),
        None => work.run::<false>(),
    }
}

/// Does the work. This machine always has fused multiply-adds.
#[cfg(target_arch = "aarch64")]
pub(super) fn widest<W: Work>(work: W) -> W::Result {
    work.run::<true>()
}

/// Does the work.
#[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64")))]
pub(super) fn widest<W: Work>(work: W) -> W::Result {
    work.run::<false>()
}
