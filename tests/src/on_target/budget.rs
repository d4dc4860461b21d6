//! What may be taken, what was taken when it was last looked at, and whether that has changed.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use anyhow::Context as _;
use serde::{Deserialize, Serialize};

use super::machine::Core;
use super::measure::Measured;

/// What is measured may differ this much from what is on record, in percent, before the record is out
/// of date.
const SLACK_PERCENT: u64 = 2;

/// What one quantity may be, and what it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// It is to be no more; nothing where it is only watched.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub budget: Option<u64>,
    /// Where it still falls short of its budget: it may not get worse than this meanwhile.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ceiling: Option<u64>,
    /// What it was when the file was written.
    pub measured: u64,
}

/// The file `boards/budgets.toml`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Budgets {
    /// What the measured numbers were built with.
    pub compiler: String,
    /// By core and quantity.
    #[serde(flatten)]
    pub cores: BTreeMap<String, BTreeMap<String, Entry>>,
}

/// Something that is not as it should be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Finding {
    /// More than it may.
    OverBudget {
        /// On which core.
        core: String,
        /// What.
        quantity: String,
        /// How much.
        measured: u64,
        /// How much it may.
        budget: u64,
    },
    /// More than it is to be, but no more than it was when that was last looked at.
    Short {
        /// On which core.
        core: String,
        /// What.
        quantity: String,
        /// How much.
        measured: u64,
        /// How much it is to be.
        budget: u64,
    },
    /// Not what is on record, with the same compiler: to be written anew, so that it is seen.
    OutOfDate {
        /// On which core.
        core: String,
        /// What.
        quantity: String,
        /// How much.
        measured: u64,
        /// How much it was.
        recorded: u64,
    },
    /// On record, but not measured any more; or the reverse.
    Unknown {
        /// On which core.
        core: String,
        /// What.
        quantity: String,
    },
}

impl Finding {
    /// Whether a budget is not held.
    #[must_use]
    pub const fn is_over(&self) -> bool {
        matches!(self, Self::OverBudget { .. } | Self::Short { .. })
    }

    /// Whether a change is to blame: it has passed a budget, or a ceiling, or the record.
    #[must_use]
    pub const fn is_new(&self) -> bool {
        !matches!(self, Self::Short { .. })
    }
}

impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::OverBudget { core, quantity, measured, budget } => {
                write!(f, "over budget: {core} {quantity} is {measured}, {budget} is allowed")
            }
            Self::Short { core, quantity, measured, budget } => {
                write!(
                    f,
                    "short of its budget: {core} {quantity} is {measured}, {budget} is asked for"
                )
            }
            Self::OutOfDate { core, quantity, measured, recorded } => {
                write!(f, "out of date: {core} {quantity} is {measured}, on record is {recorded}")
            }
            Self::Unknown { core, quantity } => {
                write!(f, "not in both: {core} {quantity} (the record, what is measured)")
            }
        }
    }
}

/// What was measured, by core.
pub type All = BTreeMap<String, Measured>;

impl Budgets {
    /// Reads the file.
    ///
    /// # Errors
    /// Where it cannot be read.
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        let text = std::fs::read_to_string(path)
            .with_context(|| format!("cannot read {}", path.display()))?;
        toml::from_str(&text).with_context(|| format!("{} is no budget", path.display()))
    }

    /// What of `all` is not as the record says.
    #[must_use]
    pub fn findings(&self, compiler: &str, all: &All) -> Vec<Finding> {
        let mut findings = Vec::new();
        for core in Core::ALL.map(Core::name) {
            let none = (BTreeMap::new(), Measured::new());
            let entries = self.cores.get(core).unwrap_or(&none.0);
            let measured = all.get(core).unwrap_or(&none.1);
            let name = |quantity: &str| (String::from(core), String::from(quantity));
            for quantity in entries.keys().chain(measured.keys()) {
                if !entries.contains_key(quantity) || !measured.contains_key(quantity) {
                    let (core, quantity) = name(quantity);
                    findings.push(Finding::Unknown { core, quantity });
                }
            }
            for (quantity, &measured) in measured {
                let Some(entry) = entries.get(quantity) else { continue };
                if let Some(budget) = entry.budget.filter(|&budget| measured > budget) {
                    let (core, quantity) = name(quantity);
                    findings.push(if entry.ceiling.is_some_and(|ceiling| measured <= ceiling) {
                        Finding::Short { core, quantity, measured, budget }
                    } else {
                        Finding::OverBudget { core, quantity, measured, budget }
                    });
                }
                let recorded = entry.measured;
                let apart = measured.abs_diff(recorded);
                if compiler == self.compiler && apart * 100 > recorded * SLACK_PERCENT {
                    let (core, quantity) = name(quantity);
                    findings.push(Finding::OutOfDate { core, quantity, measured, recorded });
                }
            }
        }
        findings
    }

    /// The same budgets with what was measured now.
    #[must_use]
    pub fn renewed(&self, compiler: &str, all: &All) -> Self {
        let known = |core: &str, quantity: &str| self.cores.get(core)?.get(quantity).copied();
        let entries = |(core, measured): (&String, &Measured)| {
            let entry = |(quantity, &measured): (&String, &u64)| {
                let known = known(core, quantity);
                let (budget, ceiling) =
                    known.map_or((None, None), |entry| (entry.budget, entry.ceiling));
                (quantity.clone(), Entry { budget, ceiling, measured })
            };
            (core.clone(), measured.iter().map(entry).collect())
        };
        let cores = all.iter().map(entries).collect();
        Self { compiler: String::from(compiler), cores }
    }

    /// The file's text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::from(
            "# What the library takes on emulated cores, and what it may take. Written by\n\
             # `boards/measure --write`, which leaves the budgets as they are; held by `boards/measure`.\n\
             # Rows without a budget are watched: a change shows in review. A ceiling stands where the\n\
             # library falls short of its budget: told each time, and not allowed to get worse.\n\n",
        );
        // Writing to a string cannot fail.
        let _ = writeln!(text, "compiler = \"{}\"", self.compiler);
        for core in Core::ALL.map(Core::name) {
            let Some(entries) = self.cores.get(core) else { continue };
            let _ = writeln!(text, "\n[{core}]");
            for (quantity, Entry { budget, ceiling, measured }) in entries {
                let told = |name: &str, value: &Option<u64>| {
                    value.map_or(String::new(), |value| format!("{name} = {value}, "))
                };
                let (budget, ceiling) = (told("budget", budget), told("ceiling", ceiling));
                let _ = writeln!(text, "{quantity} = {{ {budget}{ceiling}measured = {measured} }}");
            }
        }
        text
    }
}

/// A table of all cores, with the budgets.
#[must_use]
pub fn table(budgets: &Budgets, compiler: &str, all: &All) -> String {
    let mut text = format!("built with {compiler}, opt-level s\n\n{:<36}", "");
    for core in Core::ALL {
        let _ = write!(text, "{:>18}", core.name());
    }
    text.push('\n');
    let quantities: std::collections::BTreeSet<&str> =
        all.values().flat_map(|measured| measured.keys().map(String::as_str)).collect();
    for quantity in quantities {
        let _ = write!(text, "{quantity:<36}");
        for core in Core::ALL.map(Core::name) {
            let measured = all.get(core).and_then(|measured| measured.get(quantity));
            let entry = budgets.cores.get(core).and_then(|entries| entries.get(quantity));
            let budget = entry.and_then(|entry| entry.budget);
            let told = match (measured, budget) {
                (None, _) => String::from("-"),
                (Some(measured), None) => measured.to_string(),
                (Some(measured), Some(budget)) => format!("{measured} of {budget}"),
            };
            let _ = write!(text, "{told:>18}");
        }
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn budgets(budget: Option<u64>, measured: u64) -> Budgets {
        let entry = Entry { budget, ceiling: None, measured };
        let entries = BTreeMap::from([(String::from("tick"), entry)]);
        let cores = Core::ALL.map(|core| (String::from(core.name()), entries.clone()));
        Budgets { compiler: String::from("one"), cores: cores.into() }
    }

    fn all(measured: u64) -> All {
        let measured = Measured::from([(String::from("tick"), measured)]);
        Core::ALL.map(|core| (String::from(core.name()), measured.clone())).into()
    }

    #[test]
    fn a_budget_that_is_passed_is_found_with_any_compiler() {
        let held = budgets(Some(100), 90);
        assert!(held.findings("another", &all(100)).is_empty());
        let over = held.findings("another", &all(101));
        assert!(over.len() == 3 && over.iter().all(Finding::is_over), "{over:?}");
    }

    #[test]
    fn what_falls_short_is_told_and_may_not_get_worse() {
        let mut short = budgets(Some(100), 120);
        for entries in short.cores.values_mut() {
            entries.get_mut("tick").unwrap().ceiling = Some(125);
        }
        let told = short.findings("another", &all(120));
        assert!(
            told.len() == 3 && told.iter().all(|finding| finding.is_over() && !finding.is_new())
        );
        let worse = short.findings("another", &all(126));
        assert!(worse.len() == 3 && worse.iter().all(Finding::is_new));
        assert_eq!(toml::from_str::<Budgets>(&short.text()).unwrap(), short);
    }

    #[test]
    fn a_record_is_out_of_date_with_its_own_compiler_only() {
        let watched = budgets(None, 100);
        assert!(watched.findings("one", &all(102)).is_empty());
        assert_eq!(watched.findings("one", &all(103)).len(), 3);
        assert_eq!(watched.findings("one", &all(97)).len(), 3);
        assert!(watched.findings("another", &all(200)).is_empty());
    }

    #[test]
    fn a_quantity_on_one_side_only_is_found() {
        let held = budgets(Some(100), 90);
        let mut more = all(90);
        more.get_mut("cortex-m3").unwrap().insert(String::from("stack"), 1);
        assert_eq!(held.findings("one", &more).len(), 1);
    }

    #[test]
    fn what_is_written_is_read_again() {
        let before = budgets(Some(100), 90).renewed("two", &all(95));
        assert_eq!(toml::from_str::<Budgets>(&before.text()).unwrap(), before);
        let entry = Entry { budget: Some(100), ceiling: None, measured: 95 };
        assert_eq!(before.cores["cortex-m0"]["tick"], entry);
    }
}
