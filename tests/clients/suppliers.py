"""The parts manager's second look: how long suppliers take, and would the dates have held."""

from wire import as_text, day


def how_long_a_supplier_takes(today):
    """How long a supplier takes"""
    parts = today.person("PARTS")
    answer = parts.call("LeadTimeService", "GetLeadTimeProfile", supplier={"code": "strath"}, as_of=day(today.as_of))
    profile = answer["profile"]
    today.check("STRATH's past orders are on record", profile["all"]["orders"] >= 45, profile["all"]["orders"])
    counted = sum(profile[f"orders_{what}"] for what in ("received", "open", "cancelled_by_us", "failed"))
    today.equal("each of them came, is open or was cancelled", counted, profile["all"]["orders"])
    reach = profile["all"]
    today.check("half before 80 %, before 95 %", reach["days_50"] <= reach["days_80"] <= reach["days_95"],
                (reach["days_50"], reach["days_80"], reach["days_95"]))
    curve = [point["probability"] for point in profile["forecast"]["distribution"]]
    today.check("the forecast's curve only rises, to at most 1", curve == sorted(curve) and 0.9 < curve[-1] <= 1, curve[-1])
    evidence = profile["forecast"]["evidence"]
    shares = [evidence[f"{whose}_share"] for whose in ("offer", "supplier", "shop", "default")]
    today.check("own and borrowed make up the whole answer", abs(sum(shares) - 1) < 1e-9,
                ", ".join(f"{share:.3f}" for share in shares))
    today.check("its offers are told apart", len(answer["offers"]) > 5,
                ", ".join(offer["part_number"] for offer in answer["offers"][:5]))
    late = {"supplier": {"code": "STRATH"}, "part": {"number": "SG-2040"}, "as_of": day(today.as_of)}
    offer = parts.call("LeadTimeService", "GetLeadTimeProfile", **late)["profile"]
    quoted, half = offer["forecast"]["quoted_days"], offer["forecast"]["days_50"]
    today.check("it quotes fewer days than it takes", half > quoted, f"{quoted} quoted, half within {half}")
    refusal = parts.refused("LeadTimeService", "GetLeadTimeProfile", supplier={"code": "NOBODY"})
    today.equal("nobody has no lead times", refusal.code, "NOT_FOUND")


def who_got_worse(today):
    """Who got worse, and which orders were forgotten"""
    parts = today.person("PARTS")
    profiles = parts.call("LeadTimeService", "ListLeadTimeProfiles", as_of=day(today.as_of))["profiles"]
    codes = [profile["supplier_code"] for profile in profiles]
    today.check("every supplier once, by code", codes == sorted(set(codes)) and len(codes) == 15, len(codes))
    corrie = profiles[codes.index("CORRIE")]
    before, now = corrie["before"]["days_80"], corrie["last_year"]["days_80"]
    today.check("CORRIE got worse in the last year", now > before, f"80 % within {before}, now {now} days")
    stale = parts.call("LeadTimeService", "ListStaleOrders", as_of=day(today.as_of))["orders"]
    forgotten = [(order["supplier_code"], as_text(order["placed_on"])) for order in stale if order["imported"]]
    today.equal("the two forgotten orders, the longest silent first", forgotten,
                [("ORRBURN", "2025-04-08"), ("SHIEL", "2025-06-17")])


def would_the_dates_have_held(today):
    """Would the dates have held"""
    parts = today.person("PARTS")
    events = parts.call("LeadTimeService", "RunBacktest", end=day(today.as_of), step_days=28, horizon_days=180)
    *progress, last = events
    done = [event["progress"]["days_done"] for event in progress]
    today.check("progress, then the report", done == sorted(done) and len(done) > 0 and "report" in last, len(done))
    report = last["report"]
    kept = report["kept"]
    today.check("about as many came by the 80 % date as were said to",
                abs(kept["by_80"] - kept["said_80"]) < 0.1 * kept["orders"],
                f"{kept['by_80']} of {kept['orders']}, {kept['said_80']:.0f} were said to")
    cost = {row["method"]: row["scores"]["crps"]["value"] for row in report["rows"] if row.get("all")}
    today.equal("every simpler method stands beside it, and each half-life alone", len(cost), 10)
    learned = cost.pop("BACKTEST_METHOD_LEARNED")
    today.check("a bare quote is further off", cost["BACKTEST_METHOD_QUOTE"] > learned,
                f"{learned:.1f} days, the quote {cost['BACKTEST_METHOD_QUOTE']:.1f}")
    refusal = parts.refused("LeadTimeService", "RunBacktest", step_days=0, horizon_days=9000)
    today.equal("both wrong settings are named", (refusal.code, sorted(refusal.fields)),
                ("INVALID_ARGUMENT", ["horizon_days", "step_days"]))


STEPS = [how_long_a_supplier_takes, who_got_worse, would_the_dates_have_held]
