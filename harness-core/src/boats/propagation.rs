//! What a half-decided boat forces: every decision carried through the rules at once.
//!
//! A state remembers only what still matters: which options not yet decided are forced on or off,
//! and which options that need company need none any more. Two half-decided boats with equal
//! states can be completed in exactly the same ways.

use super::rules::{OptionIndex, OptionRule, Options};

/// A half-decided boat: bits by place in the decision order for *forced on*, then for *forced
/// off*, then one bit for each company that is settled. A group that has its one needs none: all
/// others are forced off. Bits of decided places and of companies that are decided in full are
/// cleared, so equal futures are equal values.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct State(Vec<u64>);

struct Group {
    /// Places of the members in the decision order, ascending.
    members: Vec<usize>,
    /// Whether one must be chosen, not only at most one.
    one_needed: bool,
}

/// An option that is only fitted with at least one of others.
struct Company {
    /// Place of the option that needs others.
    needing: usize,
    /// Places of the others, ascending.
    others: Vec<usize>,
}

impl Company {
    /// The place after which nothing of it is open.
    fn last(&self) -> usize {
        self.others
            .last()
            .map_or(self.needing, |&other| other.max(self.needing))
    }
}

/// The rules, turned to face decisions: what follows when the option at a place is fitted or left
/// out. Places are places in the decision order.
pub(super) struct Propagation {
    count: usize,
    fitted_fits: Vec<Vec<usize>>,
    left_out_leaves_out: Vec<Vec<usize>>,
    fitted_leaves_out: Vec<Vec<usize>>,
    groups: Vec<Group>,
    groups_of: Vec<Vec<usize>>,
    companies: Vec<Company>,
    /// Companies in which the option at a place has either part.
    companies_of: Vec<Vec<usize>>,
    always: Vec<usize>,
}

impl Propagation {
    /// Rules seen from an order that lists every option once.
    pub(super) fn new(options: &Options, order: &[OptionIndex]) -> Self {
        let count = order.len();
        let mut place = vec![0; count];
        for (at, option) in order.iter().enumerate() {
            place[option.0] = at;
        }
        let mut facing = Self {
            count,
            fitted_fits: vec![Vec::new(); count],
            left_out_leaves_out: vec![Vec::new(); count],
            fitted_leaves_out: vec![Vec::new(); count],
            groups: Vec::new(),
            groups_of: vec![Vec::new(); count],
            companies: Vec::new(),
            companies_of: vec![Vec::new(); count],
            always: Vec::new(),
        };
        for rule in options.rules() {
            match rule {
                OptionRule::Requires(a, b) => {
                    facing.fitted_fits[place[a.0]].push(place[b.0]);
                    facing.left_out_leaves_out[place[b.0]].push(place[a.0]);
                }
                OptionRule::Excludes(a, b) => {
                    facing.fitted_leaves_out[place[a.0]].push(place[b.0]);
                    facing.fitted_leaves_out[place[b.0]].push(place[a.0]);
                }
                OptionRule::OnlyWithAnyOf(a, others) => facing.add_company(*a, others, &place),
                OptionRule::ExactlyOneOf(group) => facing.add_group(group, &place, true),
                OptionRule::AtMostOneOf(group) => facing.add_group(group, &place, false),
                OptionRule::Always(a) => facing.always.push(place[a.0]),
            }
        }
        facing
    }

    fn add_group(&mut self, group: &[OptionIndex], place: &[usize], one_needed: bool) {
        let mut members: Vec<usize> = group.iter().map(|option| place[option.0]).collect();
        members.sort_unstable();
        members.dedup();
        for &member in &members {
            self.groups_of[member].push(self.groups.len());
        }
        self.groups.push(Group {
            members,
            one_needed,
        });
    }

    fn add_company(&mut self, needing: OptionIndex, others: &[OptionIndex], place: &[usize]) {
        // An option is always in its own company: such a rule says nothing.
        if others.contains(&needing) {
            return;
        }
        let mut others: Vec<usize> = others.iter().map(|option| place[option.0]).collect();
        others.sort_unstable();
        others.dedup();
        let needing = place[needing.0];
        for &member in others.iter().chain([&needing]) {
            self.companies_of[member].push(self.companies.len());
        }
        self.companies.push(Company { needing, others });
    }

    fn words(&self) -> usize {
        self.count.div_ceil(64)
    }

    /// Size of one state, in 64-bit words.
    pub(super) fn state_words(&self) -> usize {
        2 * self.words() + self.companies.len().div_ceil(64)
    }

    /// The bit of a company that asks for nothing more: the option that needs it is left out, or
    /// one of the others is fitted.
    fn company_bit(&self, company: usize) -> usize {
        self.words() * 128 + company
    }

    /// The state before any decision; `None` if the rules alone already contradict each other.
    pub(super) fn start(&self) -> Option<State> {
        let mut state = State(vec![0; self.state_words()]);
        let mut todo = Vec::new();
        for &place in &self.always {
            self.force(&mut state, place, true, &mut todo)?;
        }
        for group in 0..self.groups.len() {
            self.fit_the_last_left(&mut state, 0, group, &mut todo)?;
        }
        for company in 0..self.companies.len() {
            self.keep_company(&mut state, 0, company, &mut todo)?;
        }
        self.carry(&mut state, 0, &mut todo)?;
        Some(state)
    }

    /// The state after the option at `place` is fitted or left out, all before it being decided;
    /// `None` if no boat can be completed from there as far as forcing shows.
    pub(super) fn decide(&self, before: &State, place: usize, fitted: bool) -> Option<State> {
        let mut state = before.clone();
        let mut todo = Vec::new();
        self.force(&mut state, place, fitted, &mut todo)?;
        self.carry(&mut state, place, &mut todo)?;
        state.clear(place);
        state.clear(self.words() * 64 + place);
        for &company in &self.companies_of[place] {
            if self.companies[company].last() == place {
                state.clear(self.company_bit(company));
            }
        }
        Some(state)
    }

    /// Marks one option; `None` if the opposite is already forced.
    fn force(
        &self,
        state: &mut State,
        place: usize,
        fitted: bool,
        todo: &mut Vec<(usize, bool)>,
    ) -> Option<()> {
        let (on, off) = (place, self.words() * 64 + place);
        let (same, opposite) = if fitted { (on, off) } else { (off, on) };
        if state.has(opposite) {
            return None;
        }
        if !state.has(same) {
            state.set(same);
            todo.push((place, fitted));
        }
        Some(())
    }

    /// Carries marks through the rules until nothing more follows. Places before `from` are
    /// decided: what they force was carried when they were.
    fn carry(&self, state: &mut State, from: usize, todo: &mut Vec<(usize, bool)>) -> Option<()> {
        while let Some((place, fitted)) = todo.pop() {
            if fitted {
                for &other in self.fitted_fits[place]
                    .iter()
                    .filter(|&&other| other >= from)
                {
                    self.force(state, other, true, todo)?;
                }
                for &other in self.fitted_leaves_out[place]
                    .iter()
                    .filter(|&&other| other >= from)
                {
                    self.force(state, other, false, todo)?;
                }
                for &group in &self.groups_of[place] {
                    let rivals = &self.groups[group].members;
                    for &other in rivals
                        .iter()
                        .filter(|&&other| other >= from && other != place)
                    {
                        self.force(state, other, false, todo)?;
                    }
                }
            } else {
                let leaves_out = &self.left_out_leaves_out[place];
                for &other in leaves_out.iter().filter(|&&other| other >= from) {
                    self.force(state, other, false, todo)?;
                }
                for &group in &self.groups_of[place] {
                    self.fit_the_last_left(state, from, group, todo)?;
                }
            }
            for &company in &self.companies_of[place] {
                let settles = (self.companies[company].needing == place) != fitted;
                if settles {
                    state.set(self.company_bit(company));
                } else {
                    self.keep_company(state, from, company, todo)?;
                }
            }
        }
        Some(())
    }

    /// A group that needs its one and has a single candidate left gets it.
    fn fit_the_last_left(
        &self,
        state: &mut State,
        from: usize,
        group: usize,
        todo: &mut Vec<(usize, bool)>,
    ) -> Option<()> {
        if !self.groups[group].one_needed {
            return Some(());
        }
        let off = self.words() * 64;
        let mut left = self.groups[group]
            .members
            .iter()
            .filter(|&&member| member >= from && !state.has(off + member));
        match (left.next().copied(), left.next()) {
            (None, _) => None,
            (Some(only), None) => self.force(state, only, true, todo),
            (Some(_), Some(_)) => Some(()),
        }
    }

    /// An option that needs others gets the single one left for it, or is left out where none is.
    fn keep_company(
        &self,
        state: &mut State,
        from: usize,
        company: usize,
        todo: &mut Vec<(usize, bool)>,
    ) -> Option<()> {
        let Company { needing, others } = &self.companies[company];
        if state.has(self.company_bit(company)) {
            return Some(());
        }
        // Not settled and decided: it was fitted.
        let is_fitted = *needing < from || state.has(*needing);
        let off = self.words() * 64;
        let mut left = others
            .iter()
            .filter(|&&other| other >= from && !state.has(off + other));
        match (left.next().copied(), left.next()) {
            (None, _) if *needing < from => None,
            (None, _) => self.force(state, *needing, false, todo),
            (Some(only), None) if is_fitted => self.force(state, only, true, todo),
            _ => Some(()),
        }
    }
}

impl State {
    fn has(&self, bit: usize) -> bool {
        self.0[bit / 64] >> (bit % 64) & 1 == 1
    }

    fn set(&mut self, bit: usize) {
        self.0[bit / 64] |= 1 << (bit % 64);
    }

    fn clear(&mut self, bit: usize) {
        self.0[bit / 64] &= !(1 << (bit % 64));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(index: usize) -> OptionIndex {
        OptionIndex(index)
    }

    fn facing(count: usize, rules: Vec<OptionRule>) -> Propagation {
        let order: Vec<OptionIndex> = (0..count).map(OptionIndex).collect();
        Propagation::new(&Options::new(count, rules).unwrap(), &order)
    }

    #[test]
    fn forcing_runs_along_chains_and_into_groups() {
        // 0 requires 1, 1 excludes 2, exactly one of 2 and 3: fitting 0 forces 3.
        let rules = facing(
            4,
            vec![
                OptionRule::Requires(at(0), at(1)),
                OptionRule::Excludes(at(1), at(2)),
                OptionRule::ExactlyOneOf(vec![at(2), at(3)]),
            ],
        );
        let start = rules.start().unwrap();
        let state = rules.decide(&start, 0, true).unwrap();
        let state = rules.decide(&state, 1, true).unwrap();
        assert!(rules.decide(&state, 2, true).is_none());
        let state = rules.decide(&state, 2, false).unwrap();
        assert!(rules.decide(&state, 3, false).is_none());
        assert!(rules.decide(&state, 3, true).is_some());
    }

    #[test]
    fn equal_futures_are_equal_states() {
        // After both options of an at-most-one pair are decided nothing is left to remember.
        let rules = facing(3, vec![OptionRule::AtMostOneOf(vec![at(0), at(1)])]);
        let start = rules.start().unwrap();
        let first = rules.decide(&start, 0, true).unwrap();
        let first = rules.decide(&first, 1, false).unwrap();
        let second = rules.decide(&start, 0, false).unwrap();
        let second = rules.decide(&second, 1, true).unwrap();
        assert_eq!(first, second);
    }

    #[test]
    fn company_is_kept_from_both_sides() {
        // 0 only with 1 or 2.
        let rules = facing(
            3,
            vec![OptionRule::OnlyWithAnyOf(at(0), vec![at(2), at(1)])],
        );
        let start = rules.start().unwrap();
        let with = rules.decide(&start, 0, true).unwrap();
        let without_one = rules.decide(&with, 1, false).unwrap();
        assert!(rules.decide(&without_one, 2, false).is_none());
        // Once settled it is forgotten: both ways on are one.
        let with_one = rules.decide(&with, 1, true).unwrap();
        let left_out = rules.decide(&start, 0, false).unwrap();
        assert_eq!(with_one, rules.decide(&left_out, 1, true).unwrap());
        // The option that needs company may be decided last.
        let rules = facing(
            3,
            vec![OptionRule::OnlyWithAnyOf(at(2), vec![at(0), at(1)])],
        );
        let alone = rules.decide(&rules.start().unwrap(), 0, false).unwrap();
        let alone = rules.decide(&alone, 1, false).unwrap();
        assert!(rules.decide(&alone, 2, true).is_none());
        assert!(rules.decide(&alone, 2, false).is_some());
    }

    #[test]
    fn the_last_company_left_is_fitted_at_once() {
        // 0 only with 2 or 3; each of them may be left out for another reason.
        let company = OptionRule::OnlyWithAnyOf(at(0), vec![at(2), at(3)]);
        let excludes = |other| OptionRule::Excludes(at(1), at(other));
        let rules = facing(4, vec![company.clone(), excludes(2)]);
        let state = rules.decide(&rules.start().unwrap(), 0, true).unwrap();
        let state = rules.decide(&state, 1, true).unwrap();
        assert!(state.has(3), "forced, though 0 was decided before");
        // Both at once leave none.
        let rules = facing(4, vec![company, excludes(2), excludes(3)]);
        let state = rules.decide(&rules.start().unwrap(), 0, true).unwrap();
        assert!(rules.decide(&state, 1, true).is_none());
    }

    #[test]
    fn marks_of_many_options_stay_apart() {
        // 70 options take two words; 0 only with 1 or 3 is settled once 0 is left out.
        let rules = facing(
            70,
            vec![OptionRule::OnlyWithAnyOf(at(0), vec![at(1), at(3)])],
        );
        let state = rules.decide(&rules.start().unwrap(), 0, false).unwrap();
        assert!((1..70).all(|place| !state.has(place) && !state.has(128 + place)));
        assert!(state.has(256));
        // 64 fill one word; 1 settles what 2 needs.
        let alone = OptionRule::OnlyWithAnyOf(at(0), vec![at(3)]);
        let settled = OptionRule::OnlyWithAnyOf(at(2), vec![at(1), at(3)]);
        let rules = facing(64, vec![alone, settled]);
        let state = rules.decide(&rules.start().unwrap(), 0, false).unwrap();
        let state = rules.decide(&state, 1, true).unwrap();
        assert!((2..128).all(|place| !state.has(place)));
        assert!(state.has(128) && state.has(129));
    }

    #[test]
    fn company_of_nobody_and_of_itself() {
        let rules = facing(2, vec![OptionRule::OnlyWithAnyOf(at(0), Vec::new())]);
        assert!(rules.decide(&rules.start().unwrap(), 0, true).is_none());
        let rules = facing(2, vec![OptionRule::OnlyWithAnyOf(at(0), vec![at(0)])]);
        assert!(rules.decide(&rules.start().unwrap(), 0, true).is_some());
    }

    #[test]
    fn contradictions_before_any_decision() {
        assert!(
            facing(1, vec![OptionRule::ExactlyOneOf(Vec::new())])
                .start()
                .is_none()
        );
        let rules = vec![
            OptionRule::Always(at(0)),
            OptionRule::Excludes(at(0), at(0)),
        ];
        assert!(facing(1, rules).start().is_none());
    }
}
