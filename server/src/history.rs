//! Undo and redo over revisions that are never altered: going back is a revision of its own.

use crate::store::RevisionHead;

/// Where the latest revision stands among the states there were.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Standing {
    /// The revision whose state the latest one has: itself, unless it brings one back.
    pub state: i64,
    /// The revision whose state undo brings back.
    pub undo: Option<i64>,
    /// The revision whose state redo brings back.
    pub redo: Option<i64>,
}

/// Where the latest of these revisions stands; they come in any order. A change after going back
/// ends what could be redone; a state gone back to that undo and redo do not lead to counts as a
/// change.
pub fn standing(revisions: &[RevisionHead]) -> Standing {
    let mut inorder: Vec<&RevisionHead> = revisions.iter().collect();
    inorder.sort_unstable_by_key(|head| head.number);
    let mut states: Vec<i64> = Vec::new();
    let mut at = 0;
    for head in inorder {
        let known = head
            .restores
            .and_then(|state| states.iter().position(|known| *known == state));
        match known {
            Some(known) => at = known,
            None => {
                states.truncate(at + 1);
                states.push(head.number);
                at = states.len() - 1;
            }
        }
    }
    Standing {
        state: states.get(at).copied().unwrap_or_default(),
        undo: at.checked_sub(1).and_then(|one| states.get(one).copied()),
        redo: states.get(at + 1).copied(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn standing_of(restores: &[Option<i64>]) -> Standing {
        let mut heads: Vec<RevisionHead> = restores
            .iter()
            .zip(1..)
            .map(|(restores, number)| RevisionHead {
                model_id: String::new(),
                number,
                name: String::new(),
                recorded_at: String::new(),
                who: String::new(),
                reason: String::new(),
                stamp: String::new(),
                restores: *restores,
            })
            .collect();
        heads.reverse();
        standing(&heads)
    }

    fn at(state: i64, undo: Option<i64>, redo: Option<i64>) -> Standing {
        Standing { state, undo, redo }
    }

    #[test]
    fn undo_goes_back_step_by_step_and_redo_forward_again() {
        assert_eq!(standing_of(&[]), at(0, None, None));
        assert_eq!(standing_of(&[None]), at(1, None, None));
        assert_eq!(standing_of(&[None; 3]), at(3, Some(2), None));
        let undone = [None, None, None, Some(2)];
        assert_eq!(standing_of(&undone), at(2, Some(1), Some(3)));
        let twice = [None, None, None, Some(2), Some(1)];
        assert_eq!(standing_of(&twice), at(1, None, Some(2)));
        let redone = [None, None, None, Some(2), Some(1), Some(2)];
        assert_eq!(standing_of(&redone), at(2, Some(1), Some(3)));
    }

    #[test]
    fn a_change_after_undo_ends_what_could_be_redone() {
        let changed = [None, None, None, Some(2), None];
        assert_eq!(standing_of(&changed), at(5, Some(2), None));
        // The state of 3 is no longer on the way: going back to it is a change.
        let back = [None, None, None, Some(2), None, Some(3)];
        assert_eq!(standing_of(&back), at(6, Some(5), None));
    }
}
