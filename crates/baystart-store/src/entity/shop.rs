//! A workshop and its counter of revisions.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "shop")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub revision: i64,
    pub name: String,
    pub time_zone: String,
    pub currency: String,
    pub working_days: String,
    pub ordering_days: String,
    pub reserve_window_days: i64,
    pub stall_tolerance: f64,
    pub version: i64,
    pub learning: String,
    pub evidence_revision: i64,
    pub bays: i64,
    pub ways: String,
    /// Random, renewed by every commit.
    pub commit_id: Uuid,
}

impl ActiveModelBehavior for ActiveModel {}
