//! A book made ready for planning.

pub(in crate::plan) mod accepted;
pub(in crate::plan) mod coming;
pub(in crate::plan) mod learned;
pub(in crate::plan) mod needs;
pub(in crate::plan) mod overlay;
pub(in crate::plan) mod placed;
pub(in crate::plan) mod slim;
pub(in crate::plan) mod view;
