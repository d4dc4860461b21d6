//! What is counted, from instruction to instruction.

use std::collections::BTreeMap;
use std::fmt::Write as _;

/// An instruction in memory.
#[derive(Debug)]
pub(crate) struct Place {
    pub(crate) address: u64,
    /// Where the next one lies: behind a call, that is where it returns to.
    pub(crate) next: u64,
    /// Which watched function begins here.
    pub(crate) function: Option<usize>,
}

/// A call that has not returned.
struct Call {
    function: usize,
    returns_to: u64,
    since: u64,
}

/// The counts so far.
pub(crate) struct Watch {
    functions: Vec<u64>,
    calls: Vec<Call>,
    /// All instructions ever, this one included.
    instructions: u64,
    /// Where the next instruction lies if nothing jumps.
    next: u64,
    /// What each function took within the whole that is being counted.
    within: Vec<u64>,
    lines: Vec<Vec<u64>>,
    stack_from: u64,
    deepest: u64,
    /// How often each instruction ran within the whole, where that is asked for.
    profile: Option<BTreeMap<u64, u64>>,
    /// Calls that were seen to begin twice before they ended, or to end with the whole only.
    odd: u64,
}

impl Watch {
    pub(crate) fn new(functions: Vec<u64>, stack_from: u64, profiles: bool) -> Self {
        let within = vec![0; functions.len()];
        Self {
            functions,
            calls: Vec::new(),
            instructions: 0,
            next: 0,
            within,
            lines: Vec::new(),
            stack_from,
            deepest: u64::MAX,
            profile: profiles.then(BTreeMap::new),
            odd: 0,
        }
    }

    /// Which watched function begins at `address`; Thumb code's addresses are odd in symbols.
    pub(crate) fn function_at(&self, address: u64) -> Option<usize> {
        self.functions.iter().position(|&function| function & !1 == address)
    }

    pub(crate) fn executed(&mut self, place: &Place) {
        while let Some(ended) = self.ended_at(place.address) {
            // A function that was jumped to at another's end returns where that one does. Where
            // that is the whole, something else may have been jumped from, and is overlooked.
            if ended == 0 && self.calls.len() > 1 {
                self.odd += 1;
            }
            for _ in ended..self.calls.len() {
                self.end_call();
            }
        }
        if let Some(function) = place.function {
            if self.calls.iter().any(|call| call.function == function) {
                self.odd += 1;
            } else if function == 0 || !self.calls.is_empty() {
                let since = self.instructions;
                self.calls.push(Call { function, returns_to: self.next, since });
            }
        }
        if let (Some(profile), false) = (&mut self.profile, self.calls.is_empty()) {
            *profile.entry(place.address).or_default() += 1;
        }
        self.instructions += 1;
        self.next = place.next;
    }

    /// The innermost call that returns to this address, by its depth.
    fn ended_at(&self, address: u64) -> Option<usize> {
        self.calls.iter().rposition(|call| call.returns_to == address)
    }

    fn end_call(&mut self) {
        let Some(Call { function, since, .. }) = self.calls.pop() else { return };
        self.within[function] += self.instructions - since;
        if self.calls.is_empty() {
            self.lines.push(std::mem::replace(&mut self.within, vec![0; self.functions.len()]));
        }
    }

    pub(crate) fn stored(&mut self, address: u64) {
        if !self.calls.is_empty() && address >= self.stack_from {
            self.deepest = self.deepest.min(address);
        }
    }

    /// A line per call of the whole, then what was odd and how deep the stack was.
    pub(crate) fn told(&self) -> String {
        let mut told = String::new();
        for line in &self.lines {
            let counts: Vec<_> = line.iter().map(u64::to_string).collect();
            // Writing to a string cannot fail.
            let _ = writeln!(told, "{}", counts.join(","));
        }
        let _ = writeln!(told, "unended,{}", self.odd + self.calls.len() as u64);
        let _ = writeln!(told, "deepest,{:#x}", self.deepest);
        for (address, count) in self.profile.iter().flatten() {
            let _ = writeln!(told, "at,{address:#x},{count}");
        }
        told
    }
}
