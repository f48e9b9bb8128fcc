//! A finding in words.

use crate::record::finding::{Coded, Finding, LaneFault, RecheckReason, coded};
use crate::report::words::Words;

impl Words {
    /// A finding in words.
    #[must_use]
    pub fn finding<F: Finding>(&self, finding: &F) -> String {
        let Coded { code, leg, mut values } = coded(finding);
        values.insert("leg".to_owned(), leg.into());
        self.say(&format!("{}-{code}", F::KIND), values)
    }

    /// A finding in words, with its size for those who want to know.
    #[must_use]
    pub fn with_detail<F: Finding>(&self, finding: &F) -> String {
        let Coded { code, leg, mut values } = coded(finding);
        values.insert("leg".to_owned(), leg.into());
        let text = self.finding(finding);
        match self.attribute(&format!("{}-{code}", F::KIND), "detail", values) {
            Some(detail) => format!("{text} ({detail})"),
            None => text,
        }
    }

    /// Several findings of a kind, in one line.
    #[must_use]
    pub fn list<F: Finding>(&self, findings: &[F]) -> String {
        findings.iter().map(|one| self.finding(one)).collect::<Vec<_>>().join("; ")
    }

    /// What is wrong with a lane.
    #[must_use]
    pub fn lane_fault(&self, fault: &LaneFault) -> String {
        match fault {
            LaneFault::Herd { remark } => self.finding(remark),
            other => self.finding(other),
        }
    }

    /// Why a recheck is due.
    #[must_use]
    pub fn recheck_reason(&self, reason: &RecheckReason) -> String {
        match reason {
            RecheckReason::Course { verdict, reason } => {
                format!("{}: {}", self.finding(verdict), self.finding(reason))
            }
            other => self.finding(other),
        }
    }
}
