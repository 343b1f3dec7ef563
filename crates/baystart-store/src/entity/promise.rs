//! A promise date with the day on which it became known.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "promise")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub order_line: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub ordinal: i64,
    pub promised_on: Date,
    pub known_on: Date,
    pub recorded_at: DateTimeUtc,
    pub taken_back_on: Option<Date>,
    pub taken_back_reason: Option<String>,
}

impl ActiveModelBehavior for ActiveModel {}
