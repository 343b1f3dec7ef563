//! One vehicle's job.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "build")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub normal: String,
    pub written: String,
    pub vehicle: String,
    pub customer: String,
    pub state: String,
    pub held_from: Option<String>,
    pub priority: i64,
    pub planned_start: Option<Date>,
    pub required_by: Option<Date>,
    pub note: String,
    pub opened_at: Option<DateTimeUtc>,
    pub version: i64,
    pub for_stock: bool,
    pub staging_bin: Option<Uuid>,
    pub customer_promises: String,
    pub delivered_on: Option<Date>,
}

impl ActiveModelBehavior for ActiveModel {}
