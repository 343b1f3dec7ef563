//! One supplier's terms for one part.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "offer")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub supplier: Uuid,
    pub part: Uuid,
    pub item_number: String,
    pub price: Option<i64>,
    pub currency: Option<String>,
    pub pack_size: Option<i64>,
    pub minimum_quantity: Option<i64>,
    pub quoted_days: Option<i64>,
    pub preferred: bool,
    pub version: i64,
}

impl ActiveModelBehavior for ActiveModel {}
