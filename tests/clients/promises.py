"""Sales and parts: quotes with options, promises to customers, suggestions, calls."""

import uuid

from wire import as_text, day, decimal


def line(stage, part, quantity, **more):
    """A line of a package."""
    return {"stage_name": stage, "part": {"number": part}, "quantity": decimal(quantity), **more}


def a_quote_with_two_options(today):
    """A quote with two groups of options"""
    sales = today.person("SALES")
    package = {
        "vehicle": "Rescue 4x4", "as_of": day(today.as_of), "wanted_by": day("2027-01-29"),
        "stages": [{"name": "Body", "planned_days": 6}, {"name": "Electrical", "planned_days": 5}],
        "lines": [line("Body", "RF-3010", 1), line("Electrical", "EL-1010", 1), line("Electrical", "CW-0001", 1, customer_supplied=True)],
        "groups": [
            {"name": "bumper", "choices": [{"name": "none"}, {"name": "winch bumper", "lines": [line("Body", "WR-4020", 1)]}]},
            {"name": "lights", "choices": [{"name": "beacon bar", "lines": [line("Electrical", "EL-1170", 1)]},
                                           {"name": "grille lights", "lines": [line("Electrical", "EL-1180", 2)]}]},
        ],
    }
    variants = sales.call("QuoteService", "QuoteBuild", **package)["variants"]
    names = [f"{variant['group_name']} {variant['choice_name']}".strip() for variant in variants]
    today.equal("one row an option", names, ["", "bumper winch bumper", "lights grille lights"])
    for variant in variants:
        at = variant["forecast"]["delivery"]["dates"][1]
        cost = ", ".join(f"{sum_.get('units', 0)} {sum_['currency_code']}" for sum_ in variant["parts_cost"])
        print(f"      {variant['choice_name'] or 'as it is'}: ready by {as_text(at['delivered_by'])}, parts {cost}, "
              f"accept by {as_text(variant.get('accept_by'))}")
        today.check("start before delivery", as_text(at["start"]) < as_text(at["delivered_by"]), as_text(at["delivered_by"]))
    today.check("the customer's own part is named", variants[0]["customer_part_numbers"] == ["CW-0001"])
    supposed = sales.call("QuoteService", "QuoteBuild", suppose=[{"more_bays": {"bays": 1}}], **package)
    moved = [variant["as_it_is"]["delivery_days_later"] for variant in supposed["variants"]]
    today.check("one bay more makes nothing later", len(moved) == 3 and all(days <= 0 for days in moved), moved)
    package["groups"][1]["choices"][0]["lines"][0]["part"]["number"] = "NO-1"
    package["lines"][0]["stage_name"] = "Paint"
    refusal = sales.refused("QuoteService", "QuoteBuild", **package)
    wanted = ["groups[1].choices[0].lines[0].part", "lines[0].stage_name"]
    today.equal("all faults at once", sorted(refusal.fields), wanted)


def a_promise_and_its_chance(today):
    """A date given to a customer is watched"""
    sales = today.person("SALES")
    request = {"request_id": str(uuid.uuid4()), "build": {"number": "B-1044"}, "delivery_on": day("2027-02-12"),
               "occurred_on": day(today.as_of)}
    answer = sales.call("CustomerPromiseService", "PromiseDelivery", **request)
    given = answer["build"]["customer_promises"][-1]
    today.check("the chance is stated", 0 <= given.get("stated_chance", -1) <= 1, given.get("stated_chance"))
    again = sales.call("CustomerPromiseService", "PromiseDelivery", **request)
    today.equal("a repeat answers the same", again, answer)
    rows = sales.call("CustomerPromiseService", "ListCustomerPromises", as_of=day(today.as_of))["promises"]
    chances = [row["chance"] for row in rows]
    today.check("the endangered first", len(rows) >= 2 and chances == sorted(chances), [row["build_number"] for row in rows])


def order_and_chase(today):
    """What to order, and whom to call"""
    parts = today.person("PARTS")
    found = parts.call("PurchasingService", "SuggestOrders", as_of=day(today.as_of))
    today.check("suggestions by supplier", len(found["suppliers"]) > 0, [s["supplier_code"] for s in found["suppliers"]])
    orders = parts.change("PurchasingService", "DraftSuggestedOrders")["orders"]
    today.check("drafted in one step", len(orders) > 0, [order["number"] for order in orders])
    again = parts.change("PurchasingService", "DraftSuggestedOrders").get("orders", [])
    today.equal("and never twice", again, [])
    page = parts.call("PurchasingService", "GetOrderDocument", order={"number": orders[0]["number"]},
                      format="DOCUMENT_FORMAT_HTML")
    today.check("a page for the supplier", "<table" in page["content"], page["media_type"])
    chases = parts.call("ForecastService", "ListChases", as_of=day(today.as_of))["chases"]
    worth = [chase["worth"] for chase in chases]
    # What differs by less than a billionth is worth the same.
    falls = all(first > then - 1e-9 for first, then in zip(worth, worth[1:]))
    today.check("calls by worth", len(chases) > 0 and falls, chases[0]["reason"] if chases else "")


def what_if_and_what_moved(today):
    """What if an order came later, and what moved since the start of the month"""
    sales = today.person("SALES")
    rows = sales.call("ForecastService", "StreamBoard", as_of=day(today.as_of))
    ordered = [(row["forecast"]["build_number"], source) for row in rows for source in row["forecast"].get("sources", [])
               if source.get("order_number")]
    number, source = max(ordered, key=lambda pair: pair[1]["gating_probability"])
    fact = {"order_later": {"order": {"number": source["order_number"]}, "days": 28}}
    answer = sales.call("ForecastService", "ForecastBuild", build={"number": number}, as_of=day(today.as_of), suppose=[fact])
    later = answer["as_it_is"]["start_days_later"]
    today.check("four weeks later is felt", 0 < later <= 20, f"{number}, order {source['order_number']}: {later} working days")
    today.equal("it says what is supposed", answer["supposed"], [f"order {source['order_number']} comes 28 days later"])
    again = sales.call("ForecastService", "StreamBoard", as_of=day(today.as_of))
    today.equal("nothing was saved", [row["forecast"]["start"] for row in again], [row["forecast"]["start"] for row in rows])
    month = sales.call("ForecastService", "StreamBoard", as_of=day(today.as_of), since_on=day(today.as_of[:8] + "01"))
    events = [event["text"] for row in month for event in row["since"].get("events", [])]
    today.check("what moved is named", len(events) > 0, events[:2])
    refusal = sales.refused("ForecastService", "ForecastBuild", build={"number": number}, suppose=[
        {"more_bays": {"bays": 0}}, {"build_first": {"build": {"number": "B-NONE"}}}])
    today.check("every fact that cannot be is named", "suppose[1].build" in refusal.fields, refusal.fields)


def late_builds_and_swaps(today):
    """Which builds are late, and what could be lent"""
    parts = today.person("PARTS")
    answer = parts.call("ForecastService", "ProposeSwaps", as_of=day(today.as_of), cost_lower_priority=True)
    late = {row["build_number"]: row.get("days", 0) for row in answer.get("late", [])}
    today.check("late builds are named with their days", all(days > 0 for days in late.values()), late)
    for proposal in answer.get("proposals", []):
        gained = sum(max(side["before"].get("days", 0), 0) - max(side["after"].get("days", 0), 0) for side in proposal["sides"])
        today.equal("a proposal's days are its sides'", proposal["days_gained"], gained)


STEPS = [a_quote_with_two_options, a_promise_and_its_chance, order_and_chase, what_if_and_what_moved, late_builds_and_swaps]
