//! One part of a kit's list.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "kit_component")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub kit: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub ordinal: i64,
    pub component: Uuid,
    pub quantity: i64,
}

impl ActiveModelBehavior for ActiveModel {}
