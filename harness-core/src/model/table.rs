//! Tables of identified things, and typed positions in them.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::marker::PhantomData;

/// A thing with the builder's own short name, unique within its kind.
pub trait Identified {
    /// The short name.
    fn id(&self) -> &str;
}

/// Position of a `T` in its table; cannot be mixed up with the position of another kind.
pub struct Index<T>(u32, PhantomData<fn() -> T>);

impl<T> Index<T> {
    /// The position from its number, as counted by the table.
    pub fn new(number: usize) -> Self {
        Self(u32::try_from(number).unwrap_or(u32::MAX), PhantomData)
    }

    /// The number, from 0.
    pub fn number(self) -> usize {
        self.0 as usize
    }
}

impl<T> Clone for Index<T> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<T> Copy for Index<T> {}
impl<T> PartialEq for Index<T> {
    fn eq(&self, other: &Self) -> bool {
        self.0 == other.0
    }
}
impl<T> Eq for Index<T> {}
impl<T> PartialOrd for Index<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl<T> Ord for Index<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.cmp(&other.0)
    }
}
impl<T> Hash for Index<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.0.hash(state);
    }
}
impl<T> fmt::Debug for Index<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{}", self.0)
    }
}

/// Things of one kind in stated order, found by position or by id.
#[derive(Clone, Debug, PartialEq)]
pub struct Table<T> {
    items: Vec<T>,
    by_id: BTreeMap<String, Index<T>>,
}

impl<T> Default for Table<T> {
    fn default() -> Self {
        Self {
            items: Vec::new(),
            by_id: BTreeMap::new(),
        }
    }
}

impl<T: Identified> Table<T> {
    /// A table of these, in this order. Of two with one id the first is found by it; the
    /// reader refuses such files before it comes to this.
    pub fn new(items: Vec<T>) -> Self {
        let mut by_id = BTreeMap::new();
        for (number, item) in items.iter().enumerate() {
            by_id
                .entry(item.id().to_owned())
                .or_insert_with(|| Index::new(number));
        }
        Self { items, by_id }
    }

    /// Position of the one with this id.
    pub fn find(&self, id: &str) -> Option<Index<T>> {
        self.by_id.get(id).copied()
    }

    /// The one with this id.
    pub fn get(&self, id: &str) -> Option<&T> {
        self.find(id).map(|index| &self[index])
    }

    /// The id of the one at a position.
    pub fn id(&self, index: Index<T>) -> &str {
        self[index].id()
    }
}

impl<T> Table<T> {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// Each with its position, in stated order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (Index<T>, &T)> + ExactSizeIterator {
        self.items
            .iter()
            .enumerate()
            .map(|(number, item)| (Index::new(number), item))
    }

    /// Changes one in place. Its id must stay as it is.
    pub(crate) fn change(&mut self, index: Index<T>, change: impl FnOnce(&mut T)) {
        change(&mut self.items[index.number()]);
    }

    /// Each position, in stated order.
    pub fn indices(
        &self,
    ) -> impl DoubleEndedIterator<Item = Index<T>> + ExactSizeIterator + use<T> {
        (0..self.items.len()).map(Index::new)
    }
}

impl<T> std::ops::Index<Index<T>> for Table<T> {
    type Output = T;
    fn index(&self, index: Index<T>) -> &T {
        &self.items[index.number()]
    }
}
