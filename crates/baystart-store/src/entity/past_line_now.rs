//! The order lines of the time before Baystart that count: a view, to read.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "past_line_now")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub supplier: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub order_number: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub line: i64,
    #[sea_orm(primary_key, auto_increment = false)]
    pub part: String,
    pub quantity: i64,
    pub quoted_days: Option<i64>,
    pub placed_on: Date,
    pub promises: String,
    pub despatched_on: Option<Date>,
    pub received_on: Option<Date>,
    pub cancelled_on: Option<Date>,
    pub cancelled_by_supplier: bool,
    pub last_known_open_on: Option<Date>,
    pub recorded_on: Option<Date>,
    pub rejected: i64,
    pub entered: String,
}

impl ActiveModelBehavior for ActiveModel {}
