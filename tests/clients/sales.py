"""Sales: enter a build, open it, say when it can start, look at the board."""

import uuid

from wire import as_text, day, decimal

STAGES = [{"name": "Strip-out", "planned_days": 1}, {"name": "Electrical", "planned_days": 3}, {"name": "Interior", "planned_days": 2}]


def everything_wrong_at_once(today):
    """A form with several faults names all of them"""
    sales = today.person("SALES")
    refusal = sales.refused(
        "BuildService", "CreateBuild", request_id="not-a-uuid", number=" ", vehicle="Patrol 4x4",
        planned_start={"year": 2026, "month": 10}, stages=STAGES,
        lines=[
            {"stage_name": "Electrical", "part": {"number": "EL-1010"}, "quantity": decimal("-1")},
            {"stage_name": "Electrical", "part": {"number": "CB-0060"}, "quantity": decimal("2.0005"), "unit_code": "MTR"},
            {"stage_name": "Roof", "part": {"number": "EL-1070"}, "quantity": decimal(1)},
        ],
    )
    today.equal("refused", refusal.code, "INVALID_ARGUMENT")
    for field in ("request_id", "number", "planned_start", "lines[0].quantity", "lines[1].quantity"):
        today.check(f"names {field}", any(seen == field or seen.startswith(f"{field}.") for seen in refusal.fields),
                    ", ".join(refusal.fields))


def a_new_build(today):
    """A new build: quoted, then open"""
    sales = today.person("SALES")
    answer = sales.change(
        "BuildService", "CreateBuild", number="B-2001", vehicle="Patrol 4x4", customer="ranger, Strath Orran forest",
        priority=80, planned_start=day("2026-11-16"), stages=STAGES,
        lines=[
            {"stage_name": "Electrical", "part": {"number": "EL-1080"}, "quantity": decimal(1)},
            {"stage_name": "Electrical", "part": {"number": "CB-0060"}, "quantity": decimal("2.5"), "unit_code": "MTR"},
            {"stage_name": "Electrical", "part": {"number": "FX-0050"}, "quantity": decimal(40)},
            {"stage_name": "Interior", "part": {"number": "KT-0400"}, "quantity": decimal(1)},
        ],
    )
    today.equal("it is a quote", answer["build"]["state"], "BUILD_STATE_QUOTED")
    answer = sales.change("BuildService", "OpenBuild", build={"number": "b-2001"}, occurred_on=day(today.as_of))
    build = answer["build"]
    today.equal("now it is open", build["state"], "BUILD_STATE_OPEN")
    kit = [line for line in build["lines"] if line["exploded"]]
    pieces = [line for line in build["lines"] if kit and line["kit_line_number"] == kit[0]["line_number"]]
    today.equal("the heater kit became its parts", sorted(line["part_number"] for line in pieces),
                ["HT-7010", "HT-7030", "HT-7040", "HT-7050", "HT-7070"])
    today.check("opening says what it bound", len(answer["commit"]["effects"]) > 3, answer["commit"]["effects"][0]["text"])
    ties = [line for line in build["lines"] if line["part_number"] == "FX-0050"][0]
    today.check("cable ties never gate", not ties["gates"])
    sales.change("BuildService", "HoldBuild", build={"number": "B-2001"}, reason="waits for a signature",
                 occurred_on=day(today.as_of))
    answer = sales.change("BuildService", "ResumeBuild", build={"number": "B-2001"}, occurred_on=day(today.as_of))
    today.equal("held and resumed", answer["build"]["state"], "BUILD_STATE_OPEN")
    late = sales.refused(
        "BuildService", "UpdateBuild", request_id=str(uuid.uuid4()), build={"number": "B-2001"}, vehicle="Patrol 4x4",
        priority=85, etag=build["etag"])
    today.equal("an etag of an earlier read", late.code, "ABORTED")


def dates(entries):
    """Dates at 50, 80 and 95 %, as text; an absent date counts as later than all others."""
    return [as_text(entry.get("date")) or "9999-12-31" for entry in entries]


def a_date_to_promise(today):
    """A date to promise"""
    sales = today.person("SALES")
    ask = {"build": {"number": "B-2001"}, "as_of": day(today.as_of)}
    forecast = sales.call("ForecastService", "ForecastBuild", start_on=day("2026-11-16"), **ask)["forecast"]
    start = dates(forecast["start"])
    today.equal("at three levels", [entry["probability"] for entry in forecast["start"]], [0.5, 0.8, 0.95])
    today.check("the surer the later", start == sorted(start) and start[2] < "9999", " ".join(start))
    finish = dates(forecast["finish"])
    today.check("the finish is after the start", all(a < b for a, b in zip(start, finish)), " ".join(finish))
    shares = sum(source["gating_probability"] for source in forecast["sources"])
    whole = shares + forecast["startable_today"] + forecast["without_date"]
    today.check("shares, today and no date make one", abs(whole - 1) < 1e-6, f"{whole:.9f}")
    asked = forecast["stall_at_asked_start"]
    today.check("chance of a stall on the planned day", 0 <= asked <= 1, f"{asked:.4f}")
    again = sales.call("ForecastService", "ForecastBuild", start_on=day("2026-11-16"), **ask)["forecast"]
    today.equal("asked again, answered alike", again == forecast, True)
    undated = sales.call("ForecastService", "ForecastBuild", build={"number": "B-1044"}, as_of=day(today.as_of))["forecast"]
    today.check("a part nobody sells is named", "RF-3040" in [line["part_number"] for line in undated["undated"]],
                ", ".join(line["part_number"] for line in undated["undated"]))


def the_board(today):
    """The board"""
    entries = today.person("SALES").call("ForecastService", "StreamBoard", as_of=day(today.as_of))
    board = {entry["entry"]["build_number"]: entry for entry in entries}
    for number, entry in board.items():
        print(f"      {number}  {entry['entry']['state']:<10} start {' '.join(dates(entry['forecast']['start']))}")
    today.check("every build under way is there", {"B-1039", "B-1040", "B-1041", "B-1042", "B-1043", "B-1044", "B-2001"} <= set(board))
    today.check("none that is quoted, ready or past", not {"B-1034", "B-1038", "B-1045"} & set(board))
    rank = [entry["forecast"]["priority"] for entry in entries]
    today.check("by priority", rank == sorted(rank), rank)
    ready = board["B-1042"]["forecast"]["startable_today"]
    today.check("B-1042 can start today", ready > 0.99, f"{ready:.4f}")
    waits = board["B-1044"]["forecast"]["startable_today"]
    today.check("B-1044 cannot", waits < 0.05, f"{waits:.4f}")


STEPS = [everything_wrong_at_once, a_new_build, a_date_to_promise, the_board]
