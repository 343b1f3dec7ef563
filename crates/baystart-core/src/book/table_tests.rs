//! Tables keep their indexes, and the check of them sees one that does not.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::book::model::Supplier;
use crate::book::{Book, Change, index_faults};
use crate::ids::SupplierId;
use crate::number::Number;
use crate::refs::Ref;

fn supplier(id: u128, code: &str) -> Supplier {
    let (id, code) = (SupplierId(Uuid::from_u128(id)), Number::parse(code).unwrap());
    Supplier { id, code, name: "Firm".to_owned(), version: 1 }
}

fn found(book: &Book, code: &str) -> Option<u128> {
    let found = book.find_supplier(&Ref::Number(Number::parse(code).unwrap()));
    found.ok().map(|row| row.id.0.as_u128())
}

#[test]
fn look_ups_follow_every_way_of_changing_a_row() {
    let mut book = Book::default();
    let first = book.apply(&Change::Supplier(supplier(1, "S1")));
    let renamed = book.apply(&Change::Supplier(supplier(1, "s2")));
    assert_eq!((found(&book, "S1"), found(&book, "S2")), (None, Some(1)));
    book.take_back(renamed);
    assert_eq!((found(&book, "S1"), found(&book, "S2")), (Some(1), None));
    book.suppliers.get_mut(&SupplierId(Uuid::from_u128(1))).unwrap().code =
        Number::parse("S3").unwrap();
    assert_eq!((found(&book, "S1"), found(&book, "S3")), (None, Some(1)));
    // Of rows of one number, the first by id, as a scan would find it.
    book.suppliers.insert(SupplierId(Uuid::from_u128(7)), supplier(7, "S3"));
    assert_eq!(found(&book, "S3"), Some(1));
    book.suppliers.retain(|id, _| id.0.as_u128() != 1);
    assert_eq!(found(&book, "S3"), Some(7));
    book.suppliers.change_all(|row| row.code = Number::parse("S4").unwrap());
    assert_eq!((found(&book, "S3"), found(&book, "S4")), (None, Some(7)));
    assert_eq!(index_faults(&book), Vec::<String>::new());
    book.suppliers.clear();
    book.take_back(first);
    assert_eq!(index_faults(&book), Vec::<String>::new());
}

#[test]
fn an_index_that_was_left_behind_is_seen() {
    let mut book = Book::default();
    book.suppliers.insert(SupplierId(Uuid::from_u128(1)), supplier(1, "S1"));
    book.suppliers.index = By::default();
    let faults = index_faults(&book);
    assert!(faults.iter().any(|fault| fault.contains("index of suppliers")), "{faults:?}");
    assert!(faults.iter().any(|fault| fault.contains("find_supplier")), "{faults:?}");
}
