//! A step of a build.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "stage")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub build: Uuid,
    pub ordinal: i64,
    pub normal: String,
    pub written: String,
    pub planned_days: i64,
    pub begun_on: Option<Date>,
    pub done_on: Option<Date>,
    pub off_site: Option<Uuid>,
}

impl ActiveModelBehavior for ActiveModel {}
