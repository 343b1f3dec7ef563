//! One side of a booking.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "entry")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub movement: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub ordinal: i64,
    pub part: Uuid,
    pub lot: String,
    pub account: String,
    pub account_id: Option<Uuid>,
    pub quantity: i64,
}

impl ActiveModelBehavior for ActiveModel {}
