//! Where in a request something is wrong, step by step; only the edges write it as text.

use std::fmt;

/// One step of a path into a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Step {
    /// A field of that name.
    Name(&'static str),
    /// An entry of the list that the step before names, from 0.
    Row(usize),
}

/// The path of a field, written `lines[2].quantity`. Without a step it stands for the whole request.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct FieldPath(Vec<Step>);

/// The entry `at`, from 0, of the list `list`.
#[must_use]
pub fn nth(list: impl Into<FieldPath>, at: usize) -> FieldPath {
    let FieldPath(mut steps) = list.into();
    steps.push(Step::Row(at));
    FieldPath(steps)
}

impl FieldPath {
    /// The whole request.
    #[must_use]
    pub const fn new() -> Self {
        Self(Vec::new())
    }

    /// The steps from the request on.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.0
    }

    /// The path of what lies `below` this one.
    #[must_use]
    pub fn then(&self, below: impl Into<Self>) -> Self {
        Self([self.steps(), below.into().steps()].concat())
    }

    /// The name of the field itself: None for the whole request.
    #[must_use]
    pub fn name(&self) -> Option<&'static str> {
        self.0.iter().rev().find_map(|step| match step {
            Step::Name(name) => Some(*name),
            Step::Row(_) => None,
        })
    }

    /// Whether a step bears the name.
    #[must_use]
    pub fn passes(&self, name: &'static str) -> bool {
        self.0.contains(&Step::Name(name))
    }

    /// Which entry of the list named `list` it lies in, from 0.
    #[must_use]
    pub fn row_of(&self, list: &'static str) -> Option<usize> {
        self.0.windows(2).find_map(|pair| match pair {
            [Step::Name(name), Step::Row(at)] if *name == list => Some(*at),
            _ => None,
        })
    }
}

/// A name, or names with dots between them.
impl From<&'static str> for FieldPath {
    fn from(names: &'static str) -> Self {
        match names {
            "" => Self::new(),
            names => Self(names.split('.').map(Step::Name).collect()),
        }
    }
}

impl From<&Self> for FieldPath {
    fn from(path: &Self) -> Self {
        path.clone()
    }
}

impl From<&[Step]> for FieldPath {
    fn from(steps: &[Step]) -> Self {
        Self(steps.to_vec())
    }
}

impl fmt::Display for FieldPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.0.iter().enumerate() {
            match step {
                Step::Name(name) if i > 0 => write!(f, ".{name}")?,
                Step::Name(name) => f.write_str(name)?,
                Step::Row(at) => write!(f, "[{at}]")?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::{FieldPath, Step, nth};

    #[test]
    fn a_path_is_written_as_the_wire_names_it() {
        let written = |path: FieldPath| path.to_string();
        assert_eq!(written(FieldPath::new()), "");
        assert_eq!(written("priority".into()), "priority");
        assert_eq!(
            written("part.made_in_shop.working_days".into()),
            "part.made_in_shop.working_days"
        );
        assert_eq!(written(nth("lines", 2).then("for_line.build")), "lines[2].for_line.build");
        let choice = nth(nth("groups", 1).then("choices"), 3);
        assert_eq!(written(nth(choice.then("lines"), 0)), "groups[1].choices[3].lines[0]");
    }

    #[test]
    fn steps_tell_list_entry_and_field() {
        let path = nth("lines", 4).then("for_line.build");
        assert_eq!(path.row_of("lines"), Some(4));
        assert_eq!(path.row_of("stages"), None);
        assert_eq!(nth("part.components", 1).then("part").row_of("components"), Some(1));
        assert_eq!(path.name(), Some("build"));
        assert!(path.passes("for_line") && !path.passes("for"));
        assert_eq!(nth("items", 0).name(), Some("items"));
        assert_eq!(FieldPath::new().name(), None);
        // However it was built, the same path is the same steps.
        assert_eq!(FieldPath::from("line.build"), FieldPath::from("line").then("build"));
        assert_eq!(path.steps().get(1), Some(&Step::Row(4)));
    }
}
