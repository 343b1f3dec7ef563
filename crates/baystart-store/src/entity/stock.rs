//! A part and lot over all bins.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "stock")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub part: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub lot: String,
    pub usable: i64,
    pub reserved: i64,
    pub quarantined: i64,
    pub expires_on: Option<Date>,
    pub first_received_on: Option<Date>,
}

impl ActiveModelBehavior for ActiveModel {}
