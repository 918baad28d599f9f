//! Where the number of boats comes from: options that no rule joins multiply.

use num_bigint::BigUint;

use super::diagram::{BoatSet, TooWide};
use super::order::families;
use super::rules::{OptionIndex, Options};

/// Options joined by rules, directly or through others, and how many ways there are to choose
/// among them. The numbers of all families multiply to the number of boats.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Family {
    /// The options, ascending.
    pub options: Vec<OptionIndex>,
    /// The rules between them, by place in the rule list.
    pub rules: Vec<usize>,
    /// Ways to choose among them.
    pub ways: BigUint,
}

impl Family {
    /// The families of a list of options, in order of their first option. An option that no rule
    /// names is a family of its own: two ways, with and without. A rule that names no option
    /// belongs to none.
    ///
    /// # Errors
    /// [`TooWide`] if the rules tie too many options together.
    pub fn all(options: &Options) -> Result<Vec<Self>, TooWide> {
        let scopes: Vec<Vec<usize>> = options
            .rules()
            .iter()
            .map(|rule| rule.options().iter().map(|option| option.0).collect())
            .collect();
        let joining: Vec<Vec<usize>> = scopes.iter().filter(|s| !s.is_empty()).cloned().collect();
        families(options.count(), &joining)
            .into_iter()
            .map(|(members, _)| {
                let is_inside = |scope: &Vec<usize>| {
                    scope
                        .first()
                        .is_some_and(|option| members.binary_search(option).is_ok())
                };
                let rules: Vec<usize> = (0..scopes.len())
                    .filter(|&rule| is_inside(&scopes[rule]))
                    .collect();
                Ok(Self {
                    ways: ways(options, &rules, members.len())?,
                    rules,
                    options: members.into_iter().map(OptionIndex).collect(),
                })
            })
            .collect()
    }
}

/// Ways to choose among `members` options under these rules: all others are free, and each of
/// them doubles the number.
fn ways(options: &Options, rules: &[usize], members: usize) -> Result<BigUint, TooWide> {
    let kept = rules
        .iter()
        .map(|&rule| options.rules()[rule].clone())
        .collect();
    let boats = BoatSet::of(&Options::of_known(options.count(), kept))?;
    Ok(boats.count() >> (options.count() - members))
}

#[cfg(test)]
mod tests {
    use super::super::rules::OptionRule;
    use super::*;

    #[test]
    fn groups_chains_and_free_options_are_told_apart() {
        let at = OptionIndex;
        let rules = vec![
            OptionRule::ExactlyOneOf(vec![at(0), at(4)]),
            OptionRule::Requires(at(1), at(2)),
            OptionRule::OnlyWithAnyOf(at(5), vec![at(2)]),
            OptionRule::Always(at(6)),
        ];
        let options = Options::new(7, rules).unwrap();
        let found = Family::all(&options).unwrap();
        let told: Vec<(Vec<usize>, Vec<usize>, u32)> = found
            .iter()
            .map(|family| {
                let options = family.options.iter().map(|option| option.0).collect();
                let ways = u32::try_from(family.ways.clone()).unwrap();
                (options, family.rules.clone(), ways)
            })
            .collect();
        // By hand: with 2 both others are free, without it neither is: 4 + 1.
        let expected = [
            (vec![0, 4], vec![0], 2),
            (vec![1, 2, 5], vec![1, 2], 5),
            (vec![3], vec![], 2),
            (vec![6], vec![3], 1),
        ];
        assert_eq!(told, expected);
    }
}
