//! Collects all that is wrong with a command, and hands over what was found when nothing is.

use super::{Fault, FieldPath, Reason, Refusal};
use std::collections::BTreeMap;

/// Collects every fault of a command before it is refused.
#[derive(Clone, Debug, Default)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// None so far.
    #[must_use]
    pub const fn new() -> Self {
        Self(Vec::new())
    }

    /// Notes one fault.
    pub fn push(
        &mut self,
        field: impl Into<FieldPath>,
        reason: Reason,
        message: impl Into<String>,
    ) {
        self.0.push(Fault { field: field.into(), reason, message: message.into() });
    }

    /// Takes a result: its value, or the fault noted under `field`.
    pub fn take<T>(
        &mut self,
        field: impl Into<FieldPath>,
        result: Result<T, (Reason, String)>,
    ) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err((reason, message)) => {
                self.push(field, reason, message);
                None
            }
        }
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The faults so far.
    #[must_use]
    pub fn list(&self) -> &[Fault] {
        &self.0
    }

    /// Adds another collector's faults.
    pub fn append(&mut self, other: Self) {
        self.0.extend(other.0);
    }

    /// Refuses when there is a fault. The reason is the faults' own where they
    /// agree, else `FIELDS_INVALID`.
    ///
    /// # Errors
    /// At least one fault was noted.
    pub fn check(self) -> Result<(), Refusal> {
        let Some(first) = self.0.first() else {
            return Ok(());
        };
        let agreed = self.0.iter().all(|fault| fault.reason == first.reason);
        let reason = if agreed { first.reason } else { Reason::FieldsInvalid };
        let message = match self.0.len() {
            1 => format!("{}: {}", first.field, first.message),
            n => format!("{n} fields are wrong; the first: {}: {}", first.field, first.message),
        };
        Err(Refusal { reason, message, faults: self.0, values: BTreeMap::new() })
    }

    /// Refuses when there is a fault, else hands over the values. Each of them is only missing where
    /// its fault was noted.
    ///
    /// # Errors
    /// At least one fault was noted. `INTERNAL`: none was, and a value is missing all the same.
    pub fn whole<V: Found>(self, values: V) -> Result<V::Whole, Refusal> {
        self.check()?;
        let missing = || Refusal::internal("a value is missing, and no fault was noted");
        values.whole().ok_or_else(missing)
    }
}

impl FromIterator<Fault> for Faults {
    fn from_iter<I: IntoIterator<Item = Fault>>(faults: I) -> Self {
        Self(faults.into_iter().collect())
    }
}

/// What a command named, as far as it was found: one value, or several.
pub trait Found {
    /// The values themselves.
    type Whole;

    /// The values, unless one is missing.
    fn whole(self) -> Option<Self::Whole>;
}

impl<T> Found for Option<T> {
    type Whole = T;

    fn whole(self) -> Self {
        self
    }
}

macro_rules! found_together {
    ($($name:ident)*) => {
        impl<$($name),*> Found for ($(Option<$name>),*) {
            type Whole = ($($name),*);

            #[allow(non_snake_case)]
            fn whole(self) -> Option<Self::Whole> {
                let ($($name),*) = self;
                Some(($($name?),*))
            }
        }
    };
}

found_together!(A B);
found_together!(A B C);
found_together!(A B C D);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{Reason, RefusalKind, nth};
    use super::Faults;

    #[test]
    fn values_come_over_only_when_nothing_is_wrong() {
        assert_eq!(Faults::new().whole((Some(1), Some("a"))), Ok((1, "a")));
        let mut faults = Faults::new();
        faults.push(nth("lines", 1).then("part"), Reason::PartUnknown, "no part \"X\"");
        let refusal = faults.whole((Some(1), None::<i32>)).unwrap_err();
        assert_eq!((refusal.reason, refusal.faults.len()), (Reason::PartUnknown, 1));
        assert_eq!(refusal.message, "lines[1].part: no part \"X\"");
    }

    #[test]
    fn a_value_that_is_missing_without_a_fault_is_no_success() {
        let refusal = Faults::new().whole((Some(1), None::<i32>)).unwrap_err();
        assert_eq!((refusal.reason, refusal.kind()), (Reason::Internal, RefusalKind::Internal));
        assert!(Faults::new().whole(None::<i32>).is_err());
    }
}
