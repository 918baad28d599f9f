//! Two people's changes to one state brought together.

use super::difference::by_key;
use super::whole::{Key, Whole};
use serde_json::Value;

/// A thing that both changed, and differently.
#[derive(Clone, Debug, PartialEq)]
pub struct Clash {
    /// Which.
    pub key: Key,
    /// As it was before either.
    pub base: Option<Value>,
    /// As the one has it; `None` where removed.
    pub mine: Option<Value>,
    /// As the other has it.
    pub theirs: Option<Value>,
}

/// What `theirs` is with the changes that lead from `base` to `mine`. Things that only one of the
/// two changed are taken as changed; the order of a list is that of `theirs`, with what is new in
/// `mine` at its end.
///
/// # Errors
/// Every thing that both changed, and differently.
pub fn merge(base: &Whole, mine: &Whole, theirs: &Whole) -> Result<Whole, Vec<Clash>> {
    let (was, own, other) = (by_key(base), by_key(mine), by_key(theirs));
    let mut merged = theirs.clone();
    let mut clashes = Vec::new();
    let gone = base.keys().into_iter().filter(|key| !own.contains_key(key));
    for key in mine.keys().into_iter().chain(gone) {
        let (base, mine, theirs) = (was.get(&key), own.get(&key), other.get(&key));
        if mine == base || mine == theirs {
            continue;
        }
        if theirs != base {
            let owned = |value: Option<&&Value>| value.map(|value| (*value).clone());
            clashes.push(Clash {
                base: owned(base),
                mine: owned(mine),
                theirs: owned(theirs),
                key,
            });
            continue;
        }
        match mine {
            Some(thing) => merged.put(&key, (*thing).clone()),
            // What is gone in both is gone.
            None => drop(merged.remove(&key)),
        }
    }
    if clashes.is_empty() {
        Ok(merged)
    } else {
        Err(clashes)
    }
}
