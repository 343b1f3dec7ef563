//! One line of a purchase order.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "order_line")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub purchase_order: Uuid,
    pub number: i64,
    pub part: Uuid,
    pub ordered: i64,
    pub received: i64,
    pub over_accepted: i64,
    pub cancelled_by_us: i64,
    pub cancelled_by_supplier: i64,
    pub pegged: i64,
    pub price: Option<i64>,
    pub currency: Option<String>,
    pub quoted_days: Option<i64>,
    pub placed_on: Option<Date>,
    pub acknowledged_on: Option<Date>,
    pub despatched_on: Option<Date>,
    pub last_contact_on: Option<Date>,
    pub closed_on: Option<Date>,
    pub for_line: Option<Uuid>,
    pub package_line: i64,
    pub package: bool,
    pub rejected: i64,
}

impl ActiveModelBehavior for ActiveModel {}
