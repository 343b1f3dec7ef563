//! Companions that are missing and parts that were replaced: said by name, never a refusal.

use super::*;

/// AXLE calls for GUARD; OLD was replaced by MID and that by NEW.
fn shop() -> Shop {
    let mut shop = super::shop();
    shop.part("GUARD");
    shop.part(NewPart { companions: vec![by("GUARD")], ..part("AXLE") });
    shop.part("NEW");
    shop.part(NewPart { superseded_by: Some(by("NEW")), ..part("MID") });
    shop.part(NewPart { superseded_by: Some(by("MID")), ..part("OLD") });
    shop
}

#[test]
fn a_quote_that_lacks_a_companion_is_warned_by_name() {
    let mut shop = shop();
    let said = shop.run(NewBuild::of("B-1", &[need("AXLE", "1")]).create());
    assert_eq!(said[1..], ["Line 1: AXLE calls for GUARD Part GUARD, which the build lacks"]);
    let said = shop.run(NewBuild::of("B-2", &[need("AXLE", "1"), need("GUARD", "2")]).create());
    assert_eq!(said.len(), 1, "{said:?}");
}

#[test]
fn a_replaced_part_is_offered_the_last_of_those_that_replaced_it() {
    let mut shop = shop();
    let said = shop.run(NewBuild::of("B-1", &[need("OLD", "1")]).create());
    assert_eq!(said[1..], ["Line 1: OLD was replaced by NEW"]);
}

/// A quote's kits are not lines of their own yet, but what they hold is known.
#[test]
fn companions_in_a_quotes_kit_count_and_a_kits_own_parts_are_looked_at() {
    let mut shop = shop();
    shop.part(NewPart { components: components(&[("GUARD", "2")]), ..part("GUARDS") });
    shop.part(NewPart { components: components(&[("AXLE", "1"), ("OLD", "1")]), ..part("REAR") });
    let said = shop.run(NewBuild::of("B-1", &[need("AXLE", "1"), need("GUARDS", "1")]).create());
    assert_eq!(said.len(), 1, "{said:?}");
    let said = shop.run(NewBuild::of("B-2", &[need("REAR", "1")]).create());
    assert_eq!(
        said[1..],
        [
            "Line 1: AXLE calls for GUARD Part GUARD, which the build lacks".to_owned(),
            "Line 1: OLD was replaced by NEW".to_owned(),
        ]
    );
}

#[test]
fn a_part_that_would_replace_or_call_for_itself_is_refused() {
    let mut shop = shop();
    let circle = NewPart { superseded_by: Some(by("OLD")), ..part("NEW") };
    let update = |part: NewPart| Command::UpdatePart {
        target: crate::refs::Ref::Number(part.number.clone()),
        part,
        etag: "v1".into(),
    };
    let (reason, message) = shop.refused(update(circle));
    assert_eq!(reason, Reason::ValueInvalid);
    assert_eq!(message, "part.superseded_by: part NEW would be replaced by itself");
    let own = NewPart { companions: vec![by("AXLE")], ..part("AXLE") };
    let (reason, message) = shop.refused(update(own));
    assert_eq!(reason, Reason::ValueInvalid);
    assert_eq!(message, "part.companions: part AXLE would call for itself");
}
