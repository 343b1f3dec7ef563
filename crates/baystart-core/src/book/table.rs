//! Rows by key, with what look-ups need kept beside them.
//!
//! Maps and rows are shared between copies until one of them changes (persistent maps, imbl): a copy of a
//! book costs nothing, and a change costs what it touches.

use imbl::ordmap::DiffItem;
use imbl::shared_ptr::DefaultSharedPtr;
use imbl::{OrdMap, OrdSet};
use std::fmt::Debug;
use std::ops::{Deref, DerefMut, RangeBounds};
use std::sync::Arc;
use uuid::Uuid;

/// A row of the book that is looked up by more than its key.
pub trait Row: Clone + PartialEq + Debug {
    /// Its key.
    type Key: Copy + Ord + Debug;
    /// What its table's look-ups need.
    type Index: Clone + Default + PartialEq + Debug;

    /// Enters the row in the index, or takes it out again.
    fn mark(&self, key: Self::Key, index: &mut Self::Index, mark: Mark);
}

/// Whether a row comes or goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// It comes.
    On,
    /// It goes.
    Off,
}

/// An id with the bounds of its order.
pub trait Id: Copy + Ord + Debug {
    /// Before every other.
    const FIRST: Self;
    /// After every other.
    const LAST: Self;
}

/// Rows by key and their index. Rows are read as from a map; they change by the functions here only,
/// which keep the index, so that no call site can leave it behind. A copy shares them.
#[derive(Clone, Debug)]
pub struct Table<R: Row> {
    rows: OrdMap<R::Key, Arc<R>>,
    index: R::Index,
}

impl<R: Row> Table<R> {
    /// What the table's look-ups need.
    pub(super) const fn index(&self) -> &R::Index {
        &self.index
    }

    /// The row of a key.
    #[must_use]
    pub fn get(&self, key: &R::Key) -> Option<&R> {
        self.rows.get(key).map(|row| &**row)
    }

    /// Whether there is a row of this key.
    #[must_use]
    pub fn contains_key(&self, key: &R::Key) -> bool {
        self.rows.contains_key(key)
    }

    /// How many rows there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Keys and rows, by key.
    #[must_use]
    pub fn iter(&self) -> Iter<'_, R> {
        Iter(self.rows.iter())
    }

    /// The keys in their order.
    pub fn keys(&self) -> impl DoubleEndedIterator<Item = &R::Key> + '_ {
        self.rows.keys()
    }

    /// The rows by key.
    pub fn values(&self) -> impl DoubleEndedIterator<Item = &R> + '_ {
        self.rows.values().map(|row| &**row)
    }

    /// Keys and rows of a range of keys.
    pub fn range<B: RangeBounds<R::Key>>(
        &self,
        range: B,
    ) -> impl DoubleEndedIterator<Item = (&R::Key, &R)> + '_ {
        self.rows.range(range).map(|(key, row)| (key, &**row))
    }

    /// Keys of rows that only one of two tables has, or that differ; what both share is not looked at.
    #[must_use]
    pub fn differing(&self, other: &Self) -> Vec<R::Key> {
        differing(&self.rows, &other.rows)
    }

    /// Puts a row in the place of its key; returns the one that was there.
    pub fn insert(&mut self, key: R::Key, row: R) -> Option<R> {
        if let Some(old) = self.rows.get(&key) {
            old.mark(key, &mut self.index, Mark::Off);
        }
        row.mark(key, &mut self.index, Mark::On);
        self.rows.insert(key, Arc::new(row)).map(Arc::unwrap_or_clone)
    }

    /// Takes a row out.
    pub fn remove(&mut self, key: &R::Key) -> Option<R> {
        let old = self.rows.remove(key)?;
        old.mark(*key, &mut self.index, Mark::Off);
        Some(Arc::unwrap_or_clone(old))
    }

    /// A row to be changed; its index follows when the hold ends.
    pub fn get_mut(&mut self, key: &R::Key) -> Option<Held<'_, R>> {
        let row = Arc::make_mut(self.rows.get_mut(key)?);
        row.mark(*key, &mut self.index, Mark::Off);
        Some(Held { key: *key, row, index: &mut self.index })
    }

    /// Changes every row.
    pub fn change_all(&mut self, mut change: impl FnMut(&mut R)) {
        for (key, mut row) in std::mem::take(self).rows {
            change(Arc::make_mut(&mut row));
            row.mark(key, &mut self.index, Mark::On);
            self.rows.insert(key, row);
        }
    }

    /// Keeps the rows for which the answer is yes.
    pub fn retain(&mut self, mut keep: impl FnMut(&R::Key, &R) -> bool) {
        let gone: Vec<R::Key> =
            self.iter().filter(|(key, row)| !keep(key, row)).map(|(key, _)| *key).collect();
        for key in gone {
            self.remove(&key);
        }
    }

    /// Takes every row out.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// Whether the index is what the rows make it.
    pub(super) fn index_follows(&self) -> bool {
        let mut index = R::Index::default();
        for (key, row) in &self.rows {
            row.mark(*key, &mut index, Mark::On);
        }
        index == self.index
    }
}

impl<R: Row> Default for Table<R> {
    fn default() -> Self {
        Self { rows: OrdMap::new(), index: R::Index::default() }
    }
}

/// The index follows from the rows.
impl<R: Row> PartialEq for Table<R> {
    fn eq(&self, other: &Self) -> bool {
        self.rows == other.rows
    }
}

/// Keys of rows that only one of two maps has, or that differ; what both share is not looked at.
#[must_use]
pub fn differing<K: Ord + Clone, V: PartialEq + Clone>(
    old: &OrdMap<K, V>,
    new: &OrdMap<K, V>,
) -> Vec<K> {
    let key = |item: DiffItem<'_, '_, K, V>| match item {
        DiffItem::Add(key, _) | DiffItem::Remove(key, _) => key.clone(),
        DiffItem::Update { new: (key, _), .. } => key.clone(),
    };
    old.diff(new).map(key).collect()
}

/// Keys and rows of a table, by key.
pub struct Iter<'a, R: Row>(Shared<'a, R>);

type Shared<'a, R> = imbl::ordmap::Iter<'a, <R as Row>::Key, Arc<R>, DefaultSharedPtr>;

impl<R: Row> Debug for Iter<'_, R> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Iter").finish_non_exhaustive()
    }
}

impl<'a, R: Row> Iterator for Iter<'a, R> {
    type Item = (&'a R::Key, &'a R);

    fn next(&mut self) -> Option<Self::Item> {
        self.0.next().map(|(key, row)| (key, &**row))
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        self.0.size_hint()
    }
}

impl<'a, R: Row> IntoIterator for &'a Table<R> {
    type Item = (&'a R::Key, &'a R);
    type IntoIter = Iter<'a, R>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<R: Row> Extend<(R::Key, R)> for Table<R> {
    fn extend<T: IntoIterator<Item = (R::Key, R)>>(&mut self, rows: T) {
        for (key, row) in rows {
            self.insert(key, row);
        }
    }
}

/// A row that is being changed.
#[derive(Debug)]
pub struct Held<'a, R: Row> {
    key: R::Key,
    row: &'a mut R,
    index: &'a mut R::Index,
}

impl<R: Row> Deref for Held<'_, R> {
    type Target = R;

    fn deref(&self) -> &R {
        self.row
    }
}

impl<R: Row> DerefMut for Held<'_, R> {
    fn deref_mut(&mut self) -> &mut R {
        self.row
    }
}

impl<R: Row> Drop for Held<'_, R> {
    fn drop(&mut self) {
        self.row.mark(self.key, self.index, Mark::On);
    }
}

/// Ids by something that rows have in common; those of one key in their own order, as a scan over
/// the table would find them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct By<K: Ord, I: Ord>(OrdSet<(K, I)>);

impl<K: Ord, I: Ord> Default for By<K, I> {
    fn default() -> Self {
        Self(OrdSet::new())
    }
}

impl<K: Ord + Clone, I: Id> By<K, I> {
    /// Enters an id under a key, or takes it out.
    pub(super) fn set(&mut self, mark: Mark, key: K, id: I) {
        match mark {
            Mark::On => self.0.insert((key, id)),
            Mark::Off => self.0.remove(&(key, id)),
        };
    }

    /// The ids under a key.
    pub(super) fn of(&self, key: K) -> impl Iterator<Item = I> + '_ {
        self.between(key.clone(), key)
    }

    /// The ids under the keys from `low` to `high`, by key.
    pub(super) fn between(&self, low: K, high: K) -> impl Iterator<Item = I> + '_ {
        self.0.range((low, I::FIRST)..=(high, I::LAST)).map(|(_, id)| *id)
    }
}

macro_rules! ids {
    ($($name:ident),* $(,)?) => {$(
        impl Id for crate::ids::$name {
            const FIRST: Self = Self(Uuid::nil());
            const LAST: Self = Self(Uuid::max());
        }
    )*};
}

ids!(
    PartId,
    SupplierId,
    OfferId,
    BinId,
    BuildId,
    StageId,
    LineId,
    AwaitedId,
    OrderId,
    OrderLineId,
    ReservationId,
);

#[cfg(test)]
#[path = "table_tests.rs"]
mod tests;
