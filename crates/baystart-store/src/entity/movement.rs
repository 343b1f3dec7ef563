//! One immutable booking.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "movement")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub revision: i64,
    pub kind: String,
    pub occurred_on: Date,
    pub recorded_at: DateTimeUtc,
    pub recorded_by: String,
    pub reason: String,
    pub line: Option<Uuid>,
    pub order_line: Option<Uuid>,
}

impl ActiveModelBehavior for ActiveModel {}
