//! Answers as text for people.

pub mod board;
pub mod build;
pub mod catalogue;
pub mod forecast;
pub mod imported;
pub mod order;
pub mod ready;
pub mod shop;
pub mod stock;
pub mod table;
pub mod text;
pub mod words;
