"""The parts manager's morning: what is short, order it, receive it, set it aside."""

import uuid

from wire import as_text, day, decimal, number


def on_hand(caller, part):
    """One part's quantities."""
    return caller.call("LedgerService", "GetOnHand", part={"number": part})["on_hand"]


def build_line(caller, build, part):
    """The line of a build that asks for a part."""
    lines = caller.call("BuildService", "GetBuild", build={"number": build})["build"]["lines"]
    found = [line for line in lines if line["part_number"] == part]
    assert len(found) == 1, f"{build} has {len(found)} lines of {part}"
    return found[0]


def what_is_short(today):
    """What is short"""
    parts = today.person("PARTS")
    rows = parts.call("LedgerService", "ListOnHand", only_short=True, page_size=200)["on_hand"]
    short = {row["part_number"]: number(row["short"]) for row in rows}
    today.check("parts are short", len(short) >= 7, ", ".join(f"{part} {short[part]:g}" for part in sorted(short)))
    today.check("each by more than nothing", all(quantity > 0 for quantity in short.values()))
    today.equal("probe tubes for the avalanche van", short.get("RF-3040"), 2)
    today.check("the next build's parts are not among them", "WR-4010" not in short)


def lists_come_in_pages(today):
    """Lists come in pages"""
    parts = today.person("PARTS")
    seen, token, pages = [], "", 0
    while True:
        page = parts.call("CatalogueService", "ListParts", page_size=50, page_token=token)
        seen += [part["number"] for part in page["parts"]]
        pages += 1
        token = page["next_page_token"]
        if not token or pages > 20:
            break
    today.check("every part once", len(seen) == len(set(seen)) >= 131, f"{len(seen)} parts on {pages} pages")
    token = parts.call("CatalogueService", "ListParts", page_size=50)["next_page_token"]
    refusal = parts.refused("CatalogueService", "ListParts", page_size=50, page_token=token, contains="loom")
    today.equal("a page token of another query", refusal.code, "INVALID_ARGUMENT")
    found = parts.call("CatalogueService", "ListParts", contains="LOOM")["parts"]
    today.equal("a search, whatever the case", [part["number"] for part in found], ["EL-1080", "EL-1081", "LM-1300"])


def order_and_acknowledge(today):
    """Order what B-1044 lacks, and book the supplier's answer"""
    parts = today.person("PARTS")
    line = build_line(parts, "B-1044", "SG-2050")
    today.equal("rucksack nets short", number(line["short"]), 3)
    for_line = {"build": {"number": "B-1044"}, "line_number": line["line_number"]}
    request = {
        "request_id": str(uuid.uuid4()), "number": "P-2201", "supplier": {"code": "strath"},
        "lines": [{"part": {"number": "sg-2050"}, "quantity": decimal(3), "for_line": for_line}],
        "placed_on": day(today.as_of),
    }
    first = parts.change("PurchasingService", "CreateOrder", **request)
    again = parts.change("PurchasingService", "CreateOrder", **request)
    today.equal("a repeated request answers as before", again, first)
    other = dict(request, number="P-2202")
    refusal = parts.refused("PurchasingService", "CreateOrder", **other)
    today.check("the same id with another order is refused", refusal.code != "OK" and refusal.reason != "",
                f"{refusal.code} {refusal.reason}")
    missing = parts.refused("PurchasingService", "GetOrder", order={"number": "P-2202"})
    today.equal("and that order does not exist", missing.code, "NOT_FOUND")
    ordered = first["order"]["lines"][0]
    today.equal("placed", ordered["state"], "ORDER_LINE_STATE_PLACED")
    today.equal("at the offer's price", ordered["price"]["currency_code"], "GBP")
    today.equal("pegged to", [(peg["build_number"], number(peg["quantity"])) for peg in ordered["pegs"]], [("B-1044", 3)])
    today.equal("no longer short", number(build_line(parts, "B-1044", "SG-2050")["short"]), 0)
    for promised in ("2026-09-24", "2026-09-28"):
        answer = parts.change(
            "PurchasingService", "RecordAcknowledgement", order={"number": "p-2201"}, supplier_reference="88402",
            promises=[{"line_number": 1, "promised_on": day(promised)}], occurred_on=day(today.as_of),
        )
    line = answer["order"]["lines"][0]
    today.equal("acknowledged", line["state"], "ORDER_LINE_STATE_ACKNOWLEDGED")
    today.equal("every promise is kept", [as_text(promise["promised_on"]) for promise in line["promises"]],
                ["2026-09-24", "2026-09-28"])
    today.equal("the supplier's reference", answer["order"]["supplier_reference"], "88402")


def receive_to_a_build(today):
    """Two of three nets arrive and go to the build they were ordered for"""
    parts = today.person("PARTS")
    receipt = {"order": {"number": "P-2201"}, "occurred_on": day(today.as_of)}
    answer = parts.change(
        "PurchasingService", "ReceiveOrder", lines=[{"line_number": 1, "quantity": decimal(2), "bin": {"code": "B2"}}], **receipt
    )
    effects = answer["commit"]["effects"]
    mine = [effect for effect in effects if effect["kind"] == "EFFECT_KIND_RESERVED" and effect["build_number"] == "B-1044"]
    today.check("the receipt says for whom", len(mine) == 1, mine[0]["text"] if mine else [effect["text"] for effect in effects])
    today.equal("still to come", number(answer["order"]["lines"][0]["on_order"]), 1)
    line = build_line(parts, "B-1044", "SG-2050")
    today.equal("the build has", (number(line["reserved"]), number(line["pegged"]), number(line["short"])), (3, 1, 0))
    too_many = parts.refused(
        "PurchasingService", "ReceiveOrder", request_id=str(uuid.uuid4()),
        lines=[{"line_number": 1, "quantity": decimal(5), "bin": {"code": "B2"}}], **receipt,
    )
    today.check("more than ordered is refused", too_many.code == "FAILED_PRECONDITION" and too_many.reason != "",
                f"{too_many.reason}: {too_many.message}")
    today.equal("and nothing came in", number(on_hand(parts, "SG-2050")["on_order"]), 1)


def set_aside_and_give_back(today):
    """Reserve, release, and what cannot be reserved"""
    parts = today.person("PARTS")
    build = {"number": "B-1042"}
    before = on_hand(parts, "RF-3080")
    line = build_line(parts, "B-1042", "RF-3080")
    chosen = [{"line_number": line["line_number"], "quantity": decimal(1)}]
    today.equal("the load bar is set aside", number(line["reserved"]), 1)
    parts.change("BuildService", "ReleaseStock", build=build, lines=chosen)
    today.equal("given back", number(on_hand(parts, "RF-3080")["available"]), number(before["available"]) + 1)
    parts.change("BuildService", "ReserveStock", build=build, lines=chosen)
    today.equal("set aside again", on_hand(parts, "RF-3080"), before)
    tubes = build_line(parts, "B-1044", "RF-3040")
    refusal = parts.refused(
        "BuildService", "ReserveStock", request_id=str(uuid.uuid4()), build={"number": "B-1044"},
        lines=[{"line_number": tubes["line_number"], "quantity": decimal(2)}],
    )
    today.check("what is not there cannot be set aside", refusal.code == "FAILED_PRECONDITION" and refusal.reason != "",
                f"{refusal.reason}: {refusal.message}")


def quarantine(today):
    """A doubtful shackle goes to quarantine and comes back"""
    parts = today.person("PARTS")
    where = {"part": {"number": "WR-4060"}, "bin": {"code": "C1"}, "occurred_on": day(today.as_of)}
    parts.change("PurchasingService", "ReceiveStock", quantity=decimal(3), supplier={"code": "LOCHAN"},
                 reason="came without an order", **where)
    before = on_hand(parts, "WR-4060")
    parts.change("LedgerService", "QuarantineStock", quantity=decimal(2), reason="mark not readable", **where)
    held = on_hand(parts, "WR-4060")
    today.equal("still on hand", number(held["on_hand"]), number(before["on_hand"]))
    today.equal("quarantined", number(held["quarantined"]), number(before["quarantined"]) + 2)
    today.equal("no longer available", number(held["available"]), number(before["available"]) - 2)
    parts.change("LedgerService", "ReleaseQuarantine", quantity=decimal(2), reason="mark read under the lamp", **where)
    today.equal("released", on_hand(parts, "WR-4060")["available"], before["available"])
    kinds = [movement["kind"] for movement in parts.call("LedgerService", "ListMovements", part={"number": "WR-4060"})["movements"]]
    today.equal("each step is booked, newest first", kinds[:3], [
        "MOVEMENT_KIND_QUARANTINE_RELEASE", "MOVEMENT_KIND_QUARANTINE", "MOVEMENT_KIND_RECEIPT"])


STEPS = [what_is_short, lists_come_in_pages, order_and_acknowledge, receive_to_a_build, set_aside_and_give_back, quarantine]
