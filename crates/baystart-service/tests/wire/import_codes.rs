//! Codes of the outside world in imports, and rows that say how something stood:
//! bad ones are named with field and value.

use crate::imports::import;
use crate::stand;
use baystart_proto::v1::ImportKind as Kind;

fn text(kind: Kind, text: &str) -> (Kind, String, Vec<u8>) {
    (kind, kind.as_str_name().to_lowercase(), text.as_bytes().to_vec())
}

const SUPPLIERS: &str = "code,name\nCORRIE,Corrie Electrics\n";

/// Read: check digits on GS1's own pages; UN/CEFACT Rec 20 codes. Run: ISO 4217
/// codes of the PyPI library iso4217 1.16.
#[tokio::test(flavor = "multi_thread")]
async fn published_codes_go_in_and_bad_ones_are_named() {
    let stand = stand().await;
    let parts = "part,description,unit,gtin\nP-1,One,C62,6291041500213\nP-2,Metre,MTR,8904000210037\n\
                 P-3,Square,MTK,7300011000017\nP-4,Litre,LTR,\nP-5,Kilogram,KGM,\nP-6,Mm,MMT,\n\
                 P-7,Cm,CMT,\nP-8,Ml,MLT,\n";
    let offers = "supplier,part,price,currency\nCORRIE,P-1,3,JPY\nCORRIE,P-2,1.125,BHD\n\
                  CORRIE,P-3,0.0001,CLF\nCORRIE,P-4,2.50,HUF\n";
    let good =
        [text(Kind::Suppliers, SUPPLIERS), text(Kind::Parts, parts), text(Kind::Offers, offers)];
    assert!(import(&stand, &good).await.end.is_ok());

    let parts = "part,description,unit,gtin\nQ-1,One,C62,6291041500214\nQ-2,Two,DOZEN,\n\
                 Q-3,Three,C62,629104150021\n";
    let offers = "supplier,part,price,currency\nCORRIE,P-1,3,XXZ\nCORRIE,P-2,1.00001,GBP\n";
    let bad = import(&stand, &[text(Kind::Parts, parts), text(Kind::Offers, offers)]).await;
    let named: Vec<_> =
        bad.bad.iter().map(|row| (row.line, row.field.as_str(), row.value.as_str())).collect();
    let want = [
        (2, "gtin", "6291041500214"),
        (3, "unit", "DOZEN"),
        (4, "gtin", "629104150021"),
        (2, "currency", "XXZ"),
        (3, "price", "1.00001"),
    ];
    assert_eq!(named, want, "{:#?}", bad.bad);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_have_stood_so_is_named() {
    let stand = stand().await;
    let parts = "part,description,unit,made_in_shop_days,finished_by,companions\n\
                 RAW,Raw,C62,,,\nFIN,Finished,C62,,CORRIE,RAW\nBOTH,Both,C62,2,CORRIE,\n\
                 NONE,Of nothing,C62,2,,\nCALL,Calls,C62,,,RAW|GONE\n";
    let lines = "build,stage,part,quantity,line,made_for,making_quantity,making_out,sent_on,\
                 at_finisher,issued\nB-1,Body,FIN,2,1,,2,2,2026-09-01,,\n\
                 B-1,Body,RAW,2,2,1,,,,1,2\nB-1,Body,RAW,1,3,9,,,,,\nB-2,Body,RAW,1,,1,,,,,\n";
    let files = [
        text(Kind::Suppliers, SUPPLIERS),
        text(Kind::Parts, parts),
        text(Kind::Kits, "kit,component,quantity\nFIN,RAW,1\n"),
        text(Kind::Builds, "build,vehicle,state\nB-1,Van,open\nB-2,Van,open\n"),
        text(Kind::Stages, "build,stage,planned_days\nB-1,Body,2\nB-2,Body,2\n"),
        text(Kind::BuildLines, lines),
        text(Kind::Awaited, "build,kind,name\nB-2,wish,Wings\n"),
    ];
    let bad = import(&stand, &files).await;
    let named: Vec<_> = bad
        .bad
        .iter()
        .map(|row| (row.file.trim_start_matches("import_kind_"), row.line, row.field.as_str()))
        .collect();
    let want = [
        ("parts", 4, "finished_by"),
        ("parts", 5, "part"),
        ("parts", 6, "companions"),
        ("build_lines", 3, "at_finisher"),
        ("build_lines", 4, "made_for"),
        ("build_lines", 5, "line"),
        ("awaited", 2, "kind"),
    ];
    assert_eq!(named, want, "{:#?}", bad.bad);
    stand.handle.stop().await.unwrap();
}
