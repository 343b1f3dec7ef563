//! An order as its supplier gets it, as text and as a page.
//!
//! The page needs no script and fetches nothing; maud escapes every value.

use baystart_core::money::Money;
use baystart_core::ordering::{DocumentLine, OrderDocument};
use baystart_core::text::escaped;
use maud::{DOCTYPE, html as page};
use std::fmt::Write as _;

/// Said where a line is marked (design, section 10).
const SAFETY: &str = "Lines marked safety related: fitment, mass and approval follow the local \
    codes and a licensed engineer or certifier; no substitute without our written approval.";

/// Dark on white throughout: a contrast of at least 7 to 1.
const LOOKS: &str = "body{font-family:sans-serif;color:#111;background:#fff;margin:2rem;\
    line-height:1.5}table{border-collapse:collapse;width:100%}caption{text-align:left;\
    font-weight:bold;padding:.5rem 0}th,td{border:1px solid #555;padding:.3rem .5rem;\
    text-align:left;vertical-align:top}.n{text-align:right}.wide{overflow-x:auto}";

fn title(document: &OrderDocument) -> String {
    format!("Order {}", document.number)
}

fn placed(document: &OrderDocument) -> String {
    match document.placed_on {
        Some(day) => format!("Placed on {day}"),
        None => "Draft: not placed yet".to_owned(),
    }
}

/// `5` or `7.5 m`.
fn quantity(line: &DocumentLine) -> String {
    format!("{} {}", line.quantity, line.unit).trim_end().to_owned()
}

fn amount(money: Option<Money>) -> String {
    money.map_or(String::new(), |money| money.to_string())
}

fn notes(line: &DocumentLine) -> Vec<String> {
    let mut notes = Vec::new();
    if line.package_line > 0 {
        notes.push(format!("Comes with line {}.", line.package_line));
    }
    if line.safety_related {
        notes.push("Safety related.".to_owned());
    }
    if !line.handling_note.is_empty() {
        notes.push(format!("Handling: {}", line.handling_note));
    }
    notes
}

fn has_safety(document: &OrderDocument) -> bool {
    document.lines.iter().any(|line| line.safety_related)
}

/// `Sum: 12.50 GBP`, one for each currency, and what it leaves out.
fn sums(document: &OrderDocument) -> Vec<String> {
    let mut rows: Vec<String> = document.sums.iter().map(|sum| format!("Sum: {sum}")).collect();
    match document.unpriced {
        0 => {}
        1 => rows.push("1 line has no price yet".to_owned()),
        n => rows.push(format!("{n} lines have no price yet")),
    }
    rows
}

fn parties(document: &OrderDocument) -> Vec<(&'static str, String)> {
    let mut rows = vec![
        ("From", document.shop.clone()),
        ("To", format!("{} ({})", document.supplier_name, document.supplier_code)),
        ("Our order number", document.number.clone()),
    ];
    if !document.supplier_reference.is_empty() {
        rows.push(("Your reference", document.supplier_reference.clone()));
    }
    rows
}

/// The document with every text of a value in one line that can be seen, whatever
/// the database holds: a line break in a description must not forge a line of the
/// order, nor a direction mark turn a number round.
fn safe(document: &OrderDocument) -> OrderDocument {
    let shown = |text: &String| escaped(text).into_owned();
    let line = |line: &DocumentLine| DocumentLine {
        item_number: shown(&line.item_number),
        part: shown(&line.part),
        description: shown(&line.description),
        handling_note: shown(&line.handling_note),
        ..line.clone()
    };
    OrderDocument {
        shop: shown(&document.shop),
        number: shown(&document.number),
        supplier_code: shown(&document.supplier_code),
        supplier_name: shown(&document.supplier_name),
        supplier_reference: shown(&document.supplier_reference),
        lines: document.lines.iter().map(line).collect(),
        ..document.clone()
    }
}

/// The order as plain text.
pub(crate) fn text(document: &OrderDocument) -> String {
    let document = &safe(document);
    let mut text = format!("{}\n{}\n\n", title(document), placed(document));
    for (name, value) in parties(document) {
        let _ = writeln!(text, "{name}: {value}");
    }
    for line in &document.lines {
        let _ = writeln!(text, "\n{}. {}  {}", line.number, quantity(line), line.description);
        if !line.item_number.is_empty() {
            let _ = writeln!(text, "   your item number: {}", line.item_number);
        }
        let _ = writeln!(text, "   our part number: {}", line.part);
        if let Some(price) = line.price {
            let _ = writeln!(text, "   price: {price}, in all {}", amount(line.amount));
        }
        if let Some(day) = line.wished_on {
            let _ = writeln!(text, "   wished by: {day}");
        }
        for note in notes(line) {
            let _ = writeln!(text, "   {note}");
        }
    }
    text.push('\n');
    for sum in sums(document) {
        let _ = writeln!(text, "{sum}");
    }
    if has_safety(document) {
        let _ = write!(text, "\n{SAFETY}\n");
    }
    text
}

/// The order as a page.
pub(crate) fn html(document: &OrderDocument) -> String {
    let document = &safe(document);
    let rows = page! {
        @for line in &document.lines {
            tr {
                th scope="row" class="n" { (line.number) }
                td { (line.item_number) }
                td { (line.part) }
                td {
                    (line.description)
                    @for note in notes(line) { br; (note) }
                }
                td class="n" { (quantity(line)) }
                td class="n" { (amount(line.price)) }
                td class="n" { (amount(line.amount)) }
                td { @if let Some(day) = line.wished_on { time datetime=(day) { (day) } } }
            }
        }
    };
    let whole = page! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title(document)) " – " (document.shop) }
                style { (LOOKS) }
            }
            body {
                main {
                    h1 { (title(document)) }
                    p { (placed(document)) }
                    dl { @for (name, value) in parties(document) { dt { (name) } dd { (value) } } }
                    div class="wide" tabindex="0" role="region" aria-labelledby="lines" {
                        table {
                            caption id="lines" { "Lines" }
                            thead { tr {
                                @for name in ["Line", "Your item number", "Our part number",
                                    "Description", "Quantity", "Price", "Amount", "Wished by"] {
                                    th scope="col" { (name) }
                                }
                            } }
                            tbody { (rows) }
                        }
                    }
                    @for sum in sums(document) { p { (sum) } }
                    @if has_safety(document) { p { (SAFETY) } }
                }
            }
        }
    };
    whole.into_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use baystart_core::quantity::Quantity;

    fn document(description: &str) -> OrderDocument {
        let line = DocumentLine {
            number: 1,
            item_number: "C&17".into(),
            part: "RAIL".into(),
            description: description.into(),
            quantity: Quantity::from_milli(7_500),
            unit: "m",
            price: None,
            amount: None,
            wished_on: Some(jiff::civil::date(2026, 10, 5)),
            handling_note: "lithium <battery>".into(),
            safety_related: true,
            package_line: 0,
        };
        OrderDocument {
            shop: "Glen \"Orran\"".into(),
            number: "P-1".into(),
            supplier_code: "CORRIE".into(),
            supplier_name: "Corrie".into(),
            supplier_reference: "<img src=x onerror=alert(1)>".into(),
            placed_on: None,
            lines: vec![line],
            sums: Vec::new(),
            unpriced: 1,
        }
    }

    #[test]
    fn nothing_of_a_value_becomes_markup() {
        let page = html(&document("Rail <script>alert('x')</script> & more"));
        assert!(!page.contains("<script") && !page.contains("<img"), "{page}");
        assert!(page.contains("Rail &lt;script&gt;alert('x')&lt;/script&gt; &amp; more"), "{page}");
        assert!(page.contains("C&amp;17") && page.contains("lithium &lt;battery&gt;"), "{page}");
    }

    #[test]
    fn no_value_forges_a_line_or_turns_one_round() {
        let forged = "Rail\n\n2. 40 pcs  Winch\r\u{202e}72\u{1b}[8m\u{200b}";
        for whole in [text(&document(forged)), html(&document(forged))] {
            assert!(!whole.contains("\n2. 40 pcs"), "{whole}");
            let shown = "Rail\\n\\n2. 40 pcs  Winch\\r\\u{202e}72\\u{1b}[8m\\u{200b}";
            assert!(whole.contains(shown), "{whole}");
            assert!(!whole.contains(['\r', '\u{1b}', '\u{202e}', '\u{200b}']), "{whole}");
        }
    }

    /// WCAG 2.2 AA, as far as markup goes (1.3.1, 2.4.2, 3.1.1): language, title, caption, headers.
    #[test]
    fn the_table_says_what_its_cells_are() {
        let page = html(&document("Rail"));
        assert!(page.starts_with("<!DOCTYPE html><html lang=\"en\">"));
        for part in ["<title>Order P-1", "<caption", "<h1>Order P-1</h1>", "<th scope=\"row\""] {
            assert!(page.contains(part), "{part}: {page}");
        }
        assert_eq!(page.matches("<th scope=\"col\">").count(), 8);
        assert!(!page.contains("http:") && !page.contains("https:"), "{page}");
    }

    #[test]
    fn text_names_both_numbers_the_wish_and_the_cautions() {
        let text = text(&document("Rail"));
        for part in [
            "Draft: not placed yet",
            "7.5 m  Rail",
            "your item number: C&17",
            "our part number: RAIL",
            "wished by: 2026-10-05",
            "Safety related.",
            "licensed engineer",
            "1 line has no price yet",
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
    }
}
