//! A stocked or bought item.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "part")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub normal: String,
    pub written: String,
    pub description: String,
    pub unit: String,
    pub consumable: bool,
    pub safety_related: bool,
    pub lot_tracked: bool,
    pub gtin: String,
    pub handling_note: String,
    pub version: i64,
    pub made: String,
    pub made_days: Option<i64>,
    pub made_by: Option<Uuid>,
    pub family: String,
    pub finish: String,
    pub made_to_order: bool,
    pub superseded_by: Option<Uuid>,
    pub companions: String,
    pub stocked_permille: Option<i64>,
    pub stocked_days: Option<i64>,
    pub stocked_least: Option<i64>,
}

impl ActiveModelBehavior for ActiveModel {}
