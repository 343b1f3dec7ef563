"""The workshop: what can start, take it in, fit parts, finish a stage."""

import uuid

from wire import day, decimal, number
from parts_manager import build_line, on_hand

BUILD = {"number": "B-1042"}


def can_it_start(today):
    """Can it start"""
    workshop = today.person("WORKSHOP")
    for build, expected in (("B-1042", "CAN_START"), ("B-1043", "MAY_STALL"), ("B-1044", "MAY_STALL")):
        answer = workshop.call("BuildService", "GetReadiness", build={"number": build}, as_of=day(today.as_of))["readiness"]
        today.equal(f"{build}", answer["verdict"].removeprefix("READINESS_VERDICT_"), expected)
        print(f"      {answer['verdict_text']}")
    missing = [part for stage in answer["stages"] for part in stage["missing"]]
    today.check("the missing parts say what they wait for", missing and all(part["waits_for"] for part in missing),
                f"{missing[0]['part_number']}: {missing[0]['waits_for']}" if missing else "none")


def into_the_bay(today):
    """Into the bay, strip-out, and parts out of the store"""
    workshop = today.person("WORKSHOP")
    on = {"build": BUILD, "occurred_on": day(today.as_of)}
    answer = workshop.change("BuildService", "PutInBay", **on)
    today.equal("in the bay", answer["build"]["state"], "BUILD_STATE_IN_BAY")
    answer = workshop.change("BuildService", "BeginStage", stage_name="Strip-out", **on)
    today.equal("begun", answer["build"]["stages"][0]["state"], "STAGE_STATE_BEGUN")
    before = on_hand(workshop, "SL-0160")
    answer = workshop.change("BuildService", "IssueStock", stage_name="Strip-out", **on)
    today.check("issued", len(answer["commit"]["effects"]) > 0, answer["commit"]["effects"][0]["text"])
    line = build_line(workshop, "B-1042", "SL-0160")
    today.equal("sound-deadening sheet in the vehicle", (number(line["issued"]), number(line["reserved"])), (3.5, 0))
    today.equal("and out of the store", number(on_hand(workshop, "SL-0160")["on_hand"]), number(before["on_hand"]) - 3.5)
    answer = workshop.change("BuildService", "FinishStage", stage_name="Strip-out", **on)
    today.equal("done", [stage["state"] for stage in answer["build"]["stages"]][:2], ["STAGE_STATE_DONE", "STAGE_STATE_WAITING"])
    refusal = workshop.refused("BuildService", "FinishStage", request_id=str(uuid.uuid4()), stage_name="Roof", **on)
    today.check("a stage that does not exist", refusal.code in ("NOT_FOUND", "INVALID_ARGUMENT", "FAILED_PRECONDITION"),
                f"{refusal.code} {refusal.reason}")


def found_on_the_shelf(today):
    """A fitter uses a part that the ledger does not have"""
    workshop = today.person("WORKSHOP")
    tubes = build_line(workshop, "B-1044", "RF-3040")
    today.equal("the ledger has none", number(on_hand(workshop, "RF-3040")["on_hand"]), 0)
    workshop.change(
        "LedgerService", "RecordFound", quantity=decimal(1), reason="lay behind the rack", occurred_on=day(today.as_of),
        line={"build": {"number": "B-1044"}, "line_number": tubes["line_number"]})
    line = build_line(workshop, "B-1044", "RF-3040")
    today.equal("one fitted, one short", (number(line["issued"]), number(line["short"])), (1, 1))
    today.equal("the ledger still has none", number(on_hand(workshop, "RF-3040")["on_hand"]), 0)
    newest = workshop.call("LedgerService", "ListMovements", part={"number": "RF-3040"})["movements"][0]
    today.equal("booked as found", newest["kind"], "MOVEMENT_KIND_FOUND")
    today.equal("its entries sum to zero", sum(number(entry["quantity"]) for entry in newest["entries"]), 0)


def fit_and_bring_back(today):
    """Body begins; a part comes back unused"""
    workshop = today.person("WORKSHOP")
    on = {"build": BUILD, "occurred_on": day(today.as_of)}
    workshop.change("BuildService", "BeginStage", stage_name="Body", **on)
    workshop.change("BuildService", "IssueStock", stage_name="Body", **on)
    line = build_line(workshop, "B-1042", "WR-4060")
    today.equal("four shackles out", number(line["issued"]), 4)
    back = [{"line_number": line["line_number"], "quantity": decimal(1), "bin": {"code": "C1"}}]
    workshop.change("BuildService", "ReturnToStock", lines=back, **on)
    line = build_line(workshop, "B-1042", "WR-4060")
    today.equal("one came back", number(line["issued"]), 3)
    forecast = workshop.call("ForecastService", "ForecastBuild", build=BUILD, as_of=day(today.as_of))["forecast"]
    today.equal("forecast from where it stands", forecast["basis"], "BUILD_FORECAST_BASIS_FROM_BAY")
    today.check("less work is left", 0 < forecast["remaining_days"] < 18, forecast["remaining_days"])


STEPS = [can_it_start, into_the_bay, found_on_the_shelf, fit_and_bring_back]
