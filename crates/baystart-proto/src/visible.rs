//! Answers for a screen: whatever a database holds, no text in them breaks a line,
//! turns one round or controls the screen.

use baystart_core::text::escaped;
use prost::{Message as _, Name};
use prost_reflect::{DynamicMessage, Value};
use std::borrow::Cow;

/// The message with every text in it as [`escaped`] shows it; one that is none of
/// the API's as it is.
#[must_use]
pub fn visible<M: Name + Default + Clone>(message: &M) -> M {
    let Some(descriptor) = crate::json::descriptor::<M>() else { return message.clone() };
    let bytes = message.encode_to_vec();
    let Ok(mut dynamic) = DynamicMessage::decode(descriptor, bytes.as_slice()) else {
        return message.clone();
    };
    match show(&mut dynamic) {
        true => M::decode(dynamic.encode_to_vec().as_slice()).unwrap_or_else(|_| message.clone()),
        false => message.clone(),
    }
}

/// Whether something had to be shown otherwise.
fn show(message: &mut DynamicMessage) -> bool {
    show_all(message.fields_mut().map(|(_, value)| value))
}

/// All of them, whichever of them has to be shown otherwise.
fn show_all<'a>(values: impl Iterator<Item = &'a mut Value>) -> bool {
    let mut changed = false;
    for value in values {
        changed |= show_value(value);
    }
    changed
}

fn show_value(value: &mut Value) -> bool {
    match value {
        Value::String(text) => match escaped(text) {
            Cow::Borrowed(_) => false,
            Cow::Owned(shown) => {
                *text = shown;
                true
            }
        },
        Value::Message(message) => show(message),
        Value::List(list) => show_all(list.iter_mut()),
        Value::Map(map) => show_all(map.values_mut()),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::v1;

    #[test]
    fn texts_at_any_depth_are_shown_and_the_rest_stays() {
        let part = |description: &str| v1::Part {
            number: "HD-1".to_owned(),
            description: description.to_owned(),
            consumable: true,
            ..v1::Part::default()
        };
        let list = |parts| v1::ListPartsResponse { parts, next_page_token: "abc".to_owned() };
        let plain = list(vec![part("Zoë's rail"), part("")]);
        assert_eq!(visible(&plain), plain);
        let odd = list(vec![part("Rail\n2. forged\u{1b}[2J\u{202e}"), part("")]);
        let shown = list(vec![part("Rail\\n2. forged\\u{1b}[2J\\u{202e}"), part("")]);
        assert_eq!(visible(&odd), shown);
    }
}
