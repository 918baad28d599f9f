//! What was held against something outside: made from the committed results of the checks.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use askama::Template;
use serde::Deserialize;

use super::Frame;

/// Results of the checks on published values; written by the check `published`.
const PUBLISHED: &str = include_str!("../../verification/published.json");
/// Results of the checks on networks; written by the check `network_verification`.
const NETWORKS: &str = include_str!("../../verification/networks.json");

/// What has no outside reference, and why.
#[derive(Clone, Debug, Deserialize)]
struct NotVerified {
    what: String,
    why: String,
}

#[derive(Clone, Copy, Debug, Deserialize)]
struct Totals {
    compared: usize,
    within: usize,
    explained: usize,
    not_evaluated: usize,
    open: usize,
    sources: usize,
}

#[derive(Clone, Debug, Deserialize)]
struct Kind {
    kind: String,
    title: String,
    cases: usize,
    within: usize,
    explained: usize,
    not_evaluated: usize,
    open: usize,
    largest_relative_difference: Option<f64>,
}

/// One published value beside ours.
#[derive(Clone, Debug, Deserialize)]
struct Record {
    id: String,
    kind: String,
    question: String,
    source_title: String,
    source_place: String,
    source_url: Option<String>,
    reference_kind: String,
    published: String,
    unit: String,
    ours: Option<String>,
    tolerance_why: String,
    verdict: String,
    cause: Option<String>,
    explanation: Option<String>,
}

#[derive(Debug, Deserialize)]
struct Published {
    reproduce: String,
    counts: Totals,
    not_verified: Vec<NotVerified>,
    kinds: Vec<Kind>,
    records: Vec<Record>,
}

/// One network beside its reference.
#[derive(Clone, Debug, Deserialize)]
struct NetworkRow {
    id: String,
    kind: String,
    elements: usize,
    reference: String,
    expected: String,
    found: String,
    largest_relative_difference: Option<String>,
    tolerance: String,
    why: String,
    verdict: String,
}

#[derive(Debug, Deserialize)]
struct Networks {
    title: String,
    how_to_repeat: String,
    not_verified: String,
    rows: Vec<NetworkRow>,
}

struct Results {
    published: Published,
    networks: Networks,
}

/// The committed results are part of the service; a test reads them, so they are readable.
static RESULTS: LazyLock<Result<Results, serde_json::Error>> = LazyLock::new(|| {
    Ok(Results {
        published: serde_json::from_str(PUBLISHED)?,
        networks: serde_json::from_str(NETWORKS)?,
    })
});

/// Differences with one cause.
#[derive(Debug)]
struct Explained {
    cause: &'static str,
    records: Vec<&'static Record>,
}

/// The page: counts, differences explained, what has no reference, kinds; one kind in full.
#[derive(Debug, Template)]
#[template(path = "verification.html")]
pub struct VerificationPage {
    frame: Frame,
    published: &'static Published,
    networks: &'static Networks,
    networks_within: usize,
    network_references: Vec<(String, usize)>,
    explained: Vec<Explained>,
    shown: Option<Shown>,
}

/// One kind of case in full.
#[derive(Debug)]
struct Shown {
    title: &'static str,
    records: Vec<&'static Record>,
    networks: &'static [NetworkRow],
}

impl VerificationPage {
    /// The page, with the cases of one kind when it is asked for. `Ok(None)` when there is no such
    /// kind.
    ///
    /// # Errors
    /// When the committed results cannot be read.
    pub fn new(kind: &str) -> Result<Option<Self>, &'static serde_json::Error> {
        let results = RESULTS.as_ref()?;
        let (published, networks) = (&results.published, &results.networks);
        let shown = match kind {
            "" => None,
            "networks" => Some(Shown {
                title: &networks.title,
                records: Vec::new(),
                networks: &networks.rows,
            }),
            kind => {
                let Some(found) = published.kinds.iter().find(|other| other.kind == kind) else {
                    return Ok(None);
                };
                let records = published.records.iter();
                Some(Shown {
                    title: &found.title,
                    records: records.filter(|record| record.kind == kind).collect(),
                    networks: &[],
                })
            }
        };
        let mut references: BTreeMap<String, usize> = BTreeMap::new();
        for row in &networks.rows {
            *references.entry(row.reference.clone()).or_default() += 1;
        }
        Ok(Some(Self {
            frame: Frame::new("Verification").at("/verification"),
            networks_within: networks
                .rows
                .iter()
                .filter(|row| row.verdict == "within")
                .count(),
            network_references: references.into_iter().collect(),
            explained: explained(published),
            published,
            networks,
            shown,
        }))
    }
}

/// Every difference, those of one cause together, in the order of the cases.
fn explained(published: &'static Published) -> Vec<Explained> {
    let mut groups: Vec<Explained> = Vec::new();
    for record in published
        .records
        .iter()
        .filter(|record| record.verdict != "within")
    {
        let cause = record.cause.as_deref().unwrap_or("not explained yet");
        match groups.iter_mut().find(|group| group.cause == cause) {
            Some(group) => group.records.push(record),
            None => groups.push(Explained {
                cause,
                records: vec![record],
            }),
        }
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_committed_results_are_readable_and_counted_right() {
        let page = VerificationPage::new("").unwrap().unwrap();
        let counts = page.published.counts;
        assert_eq!(counts.compared, page.published.records.len());
        assert_eq!(
            counts.within + counts.explained + counts.not_evaluated + counts.open,
            counts.compared
        );
        let told: usize = page.explained.iter().map(|group| group.records.len()).sum();
        assert_eq!(told, counts.compared - counts.within);
        for kind in &page.published.kinds {
            let shown = VerificationPage::new(&kind.kind)
                .unwrap()
                .unwrap()
                .shown
                .unwrap();
            assert_eq!(shown.records.len(), kind.cases);
        }
        assert!(VerificationPage::new("nothing").unwrap().is_none());
    }
}
