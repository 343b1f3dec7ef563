//! A part and lot in one bin.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "bin_balance")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub part: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub lot: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub bin: Uuid,
    pub usable: i64,
    pub quarantined: i64,
}

impl ActiveModelBehavior for ActiveModel {}
