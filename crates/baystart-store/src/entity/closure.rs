//! Days on which the shop or a supplier is closed.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "closure")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub supplier: Option<Uuid>,
    pub first_day: Date,
    pub last_day: Date,
    pub name: String,
}

impl ActiveModelBehavior for ActiveModel {}
