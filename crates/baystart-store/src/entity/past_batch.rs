//! An import of past order lines.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "past_batch")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub number: i64,
    pub revision: Option<i64>,
    pub ended: bool,
    pub cleared: bool,
    pub touched_at: DateTimeUtc,
}

impl ActiveModelBehavior for ActiveModel {}
