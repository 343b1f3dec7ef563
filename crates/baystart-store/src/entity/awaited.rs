//! A thing from outside that no order brings.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "awaited")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub build: Uuid,
    pub number: i64,
    pub kind: String,
    pub name: String,
    pub identification: String,
    pub source: String,
    pub stage: Option<Uuid>,
    pub line: Option<Uuid>,
    pub asked_on: Date,
    pub quoted_days: Option<i64>,
    pub promises: String,
    pub received_on: Option<Date>,
    pub dropped_on: Option<Date>,
}

impl ActiveModelBehavior for ActiveModel {}
