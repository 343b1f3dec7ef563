//! A requirement bound to a supply that has not arrived.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "peg")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub line: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub order_line: Uuid,
    pub quantity: i64,
    pub kept: bool,
}

impl ActiveModelBehavior for ActiveModel {}
