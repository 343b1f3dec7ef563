//! An order line of the time before Baystart, as one import had it: to write.
//! Which of them count says `past_line_now`.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "past_line")]
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
    #[sea_orm(primary_key, auto_increment = false)]
    pub batch: i64,
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
    pub digest: Vec<u8>,
    pub seen: i64,
    pub replaces: bool,
}

impl ActiveModelBehavior for ActiveModel {}
