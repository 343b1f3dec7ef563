"""A build of every kind of line: package, finish, assembly, the customer's things, papers, off site."""

import uuid

from parts_manager import build_line
from wire import as_text, day, decimal, number

BUILD = {"number": "B-1051"}


def line_ref(caller, part):
    """The reference of the build's line of a part, with the line."""
    line = build_line(caller, "B-1051", part)
    return {"build": BUILD, "line_number": line["line_number"]}, line


def what_it_waits_for(today):
    """A build of everything: what it waits for"""
    sales = today.person("SALES")
    forecast = sales.call("ForecastService", "ForecastBuild", build=BUILD, as_of=day(today.as_of))["forecast"]
    waits = {source["part_number"] or source["part_description"]: source for source in forecast["sources"]}
    for name in ("CH-6110", "BK-7060-GN", "CB-0500", "the vehicle, van, high roof", "CW-0001"):
        today.check(f"waits for {name}", name in waits, waits.get(name, {}).get("waits_for", "nothing"))
    papers = [paper["waits_for"] for paper in forecast["last_papers"]]
    today.check("a paper gates handover only", len(papers) == 1 and "examiner" in papers[0], papers)
    start, handover = ([as_text(at.get("date")) for at in forecast[which]] for which in ("start", "handover"))
    today.check("handover is after the start", all(a < b for a, b in zip(start, handover)), f"{start} {handover}")
    today.check("a missing companion is named", any("WH-6300" in str(warning) for warning in forecast["warnings"]),
                [warning.get("text", "") for warning in forecast["warnings"]])


def the_vehicle_comes(today):
    """The vehicle is here, and the brackets are back from the finisher"""
    parts = today.person("PARTS")
    answer = parts.change("BuildService", "ReceiveAwaited", build=BUILD, item_number=1, occurred_on=day(today.as_of),
                          identification="ZZZGLEN0000386752")
    items = {item["item_number"]: item for item in answer["build"]["awaited"]}
    today.equal("the vehicle came", as_text(items[1]["received_on"]), today.as_of)
    ref, _ = line_ref(parts, "BK-7060-GN")
    parts.change("BuildService", "RecordCameBack", line=ref, bin={"code": "A1"}, occurred_on=day(today.as_of))
    _, line = line_ref(parts, "BK-7060-GN")
    today.equal("two green brackets are reserved", number(line["reserved"]), 2)
    refusal = parts.refused("BuildService", "RecordCameBack", request_id=str(uuid.uuid4()), line=ref, bin={"code": "A1"})
    today.check("they cannot come back twice", refusal.code == "FAILED_PRECONDITION", f"{refusal.code} {refusal.reason}")


def a_package_in_pieces(today):
    """A package comes in pieces, and one of them is not as ordered"""
    parts = today.person("PARTS")
    order = parts.call("PurchasingService", "GetOrder", order={"number": "P-2140"})["order"]
    piece = next(line for line in order["lines"] if line["part_number"] == "CH-6110")
    lines = [{"line_number": piece["line_number"], "bin": {"code": "A1"}}]
    parts.change("PurchasingService", "ReceiveOrder", order={"number": "P-2140"}, lines=lines, occurred_on=day(today.as_of))
    _, line = line_ref(parts, "CH-6110")
    today.equal("two arms are reserved", number(line["reserved"]), 2)
    parts.change("PurchasingService", "RejectGoods", order={"number": "P-2140"}, line_number=piece["line_number"],
                 quantity=decimal(1), kind="REJECTION_KIND_QUARANTINED", bin={"code": "A1"},
                 settlement="SETTLEMENT_REDELIVERY", reason="bent at the bush", occurred_on=day(today.as_of))
    _, line = line_ref(parts, "CH-6110")
    today.equal("one is left, one is on order again", (number(line["reserved"]), number(line["pegged"])), (1, 1))
    profile = parts.call("LeadTimeService", "GetLeadTimeProfile", supplier={"code": "TARN"})["profile"]
    today.check("the supplier's profile shows it", profile["orders_rejected"] >= 1, profile["orders_rejected"])


def a_substitute_with_a_name(today):
    """A safety-related part is substituted by name only"""
    parts = today.person("PARTS")
    ref, _ = line_ref(parts, "WH-6200")
    asked = {"line": ref, "part": {"number": "SU-6050"}, "reason": "the spacer is not to be had in time"}
    refusal = parts.refused("BuildService", "SubstitutePart", request_id=str(uuid.uuid4()), **asked)
    today.check("not without a name", "approved_by" in str(refusal.fields), f"{refusal.code} {refusal.fields}")
    parts.change("BuildService", "SubstitutePart", approved_by="workshop lead", **asked)
    line = next(line for line in parts.call("BuildService", "GetBuild", build=BUILD)["build"]["lines"]
                if line["line_number"] == ref["line_number"])
    today.equal("the line asks for the other part", line["part_number"], "SU-6050")
    today.check("and says who accepted it", "workshop lead" in str(line), line["part_number"])


def a_loom_made_in_the_shop(today):
    """A loom is made in the shop of what it needs"""
    workshop, parts = today.person("WORKSHOP"), today.person("PARTS")
    for part, quantity in (("CB-0500", 12), ("EL-1310", 1)):
        parts.change("LedgerService", "AdjustStock", part={"number": part}, bin={"code": "A1"}, change=decimal(quantity),
                     reason="came with the van")
    ref, _ = line_ref(workshop, "LM-1300")
    workshop.change("BuildService", "RecordMade", line=ref, bin={"code": "A1"}, occurred_on=day(today.as_of))
    _, line = line_ref(workshop, "LM-1300")
    today.equal("the loom is reserved", number(line["reserved"]), 1)
    newest = workshop.call("LedgerService", "ListMovements", part={"number": "LM-1300"})["movements"][0]
    for part in ("LM-1300", "EL-1310"):
        own = [number(entry["quantity"]) for entry in newest["entries"] if entry["part_number"] == part]
        today.equal(f"the entries of {part} sum to zero", sum(own), 0)


STEPS = [what_it_waits_for, the_vehicle_comes, a_package_in_pieces, a_substitute_with_a_name, a_loom_made_in_the_shop]
