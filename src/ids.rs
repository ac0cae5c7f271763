//! Typed ids and vectors indexed by them.
//!
//! In: nothing. Out: one small integer type per kind of thing, so that a part can't be
//! taken for a check by mistake, and [`IdVec`], a vector that only the right id can index.
//!
//! ```
//! use seepwise::ids::{IdVec, VarId};
//! let mut names: IdVec<VarId, &str> = IdVec::new();
//! let first = names.push("coolant thinned");
//! assert_eq!(names[first], "coolant thinned");
//! ```

use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

/// A small integer that stands for one thing of one kind.
pub trait Id: Copy + Eq + Ord {
    /// The id of the thing at this position.
    fn from_index(index: usize) -> Self;
    /// The position of the thing.
    fn index(self) -> usize;
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub struct $name(u32);

        impl Id for $name {
            fn from_index(index: usize) -> Self {
                Self(u32::try_from(index).expect("fewer than 2^32 things of one kind"))
            }
            fn index(self) -> usize {
                self.0 as usize
            }
        }
    )*};
}

ids! {
    /// A variable of an inference network.
    VarId,
    /// A leak level declared by the rules.
    LevelId,
    /// An attribute of parts or vehicles.
    AttributeId,
    /// A space that a leak joins to the coolant.
    SpaceId,
    /// A kind of leak (always, only hot, …).
    LeakKindId,
    /// An occasion on which certain kinds of leak are open.
    OccasionId,
    /// A gather of leaks.
    GatherId,
    /// A facet of a set-up.
    FacetId,
    /// A way from one set-up to another.
    WayId,
    /// A caution text.
    CautionId,
    /// A tool.
    ToolId,
    /// A block on set-ups.
    BlockId,
    /// A condition of the whole vehicle.
    ConditionId,
    /// A kind of part.
    KindId,
    /// A fault of a kind of part.
    FaultId,
    /// A check as the rules declare it.
    CheckId,
    /// A part of one layout.
    PartId,
    /// A zone of one layout.
    ZoneId,
    /// A cover of one layout.
    CoverId,
    /// A check at one part, zone or the whole vehicle of one layout.
    TaskId,
}

/// A vector indexed by one type of id.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct IdVec<I, T> {
    items: Vec<T>,
    id: PhantomData<I>,
}

impl<I: Id, T> IdVec<I, T> {
    /// An empty vector.
    pub fn new() -> Self {
        Self {
            items: Vec::new(),
            id: PhantomData,
        }
    }

    /// Adds an item and returns its id.
    pub fn push(&mut self, item: T) -> I {
        self.items.push(item);
        I::from_index(self.items.len() - 1)
    }

    /// How many items there are.
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// The item with this id, or `None` past the end.
    pub fn get(&self, id: I) -> Option<&T> {
        self.items.get(id.index())
    }

    /// The items in order of id.
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.items.iter()
    }

    /// The items with their ids, in order.
    pub fn enumerated(&self) -> impl DoubleEndedIterator<Item = (I, &T)> + ExactSizeIterator {
        self.items
            .iter()
            .enumerate()
            .map(|(index, item)| (I::from_index(index), item))
    }

    /// The ids, in order.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = I> + ExactSizeIterator + use<I, T> {
        (0..self.items.len()).map(I::from_index)
    }
}

impl<I: Id, T> Default for IdVec<I, T> {
    fn default() -> Self {
        Self::new()
    }
}

impl<I: Id, T> From<Vec<T>> for IdVec<I, T> {
    fn from(items: Vec<T>) -> Self {
        Self {
            items,
            id: PhantomData,
        }
    }
}

impl<I: Id, T> FromIterator<T> for IdVec<I, T> {
    fn from_iter<It: IntoIterator<Item = T>>(items: It) -> Self {
        items.into_iter().collect::<Vec<T>>().into()
    }
}

impl<I: Id, T> Index<I> for IdVec<I, T> {
    type Output = T;
    fn index(&self, id: I) -> &T {
        &self.items[id.index()]
    }
}

impl<I: Id, T> IndexMut<I> for IdVec<I, T> {
    fn index_mut(&mut self, id: I) -> &mut T {
        &mut self.items[id.index()]
    }
}

impl<I: Id, T> IntoIterator for IdVec<I, T> {
    type Item = T;
    type IntoIter = std::vec::IntoIter<T>;
    fn into_iter(self) -> Self::IntoIter {
        self.items.into_iter()
    }
}

impl<'a, I: Id, T> IntoIterator for &'a IdVec<I, T> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}
