"""Writes the demo's past orders, history.csv: invented, from a seed, the same at every run.

    python3 crates/baystart/demo/history.py

Suppliers, parts and quotes are those of suppliers.csv and offers.csv, some parts are no longer in
the catalogue. Each supplier has a character; how long its orders took follows from it, from the
month (one supplier's orders are late together) and from chance.
"""

import csv
import math
import random
from datetime import date, timedelta
from pathlib import Path

HERE = Path(__file__).parent
TODAY = date(2026, 9, 14)  # Nothing in the file is known later than the Friday before.
FIRST = date(2024, 9, 16)
TOGETHER = 0.15  # Correlation of the delays of one supplier's orders in one month.
COLUMNS = ["supplier", "part", "order", "line", "quantity", "quoted_lead_time_days", "placed_on", "promises",
           "despatched_on", "received_on", "cancelled_on", "cancelled_by", "last_known_open_on", "recorded_on"]

# Parts that left the catalogue: supplier, part, quote.
GONE = [("CORRIE", "EL-0990", 14), ("STRATH", "SG-1980", 14), ("STRATH", "SG-1990", 21), ("KYLE", "PT-8990", 28),
        ("BEALACH", "RF-2990", 35), ("TARN", "SU-5980", 12), ("SHIEL", "TR-0009", 20)]


class Character:
    """How a supplier keeps its word. `ratio` and `spread` are of the quote (median, and log standard
    deviation); `promise` says how it answers; `notes` is the share of orders with a despatch note."""

    def __init__(self, orders, ratio, spread, promise="honest", notes=0.7, transit=2, worse=0.0, whole=False):
        self.orders, self.ratio, self.spread, self.promise = orders, ratio, spread, promise
        self.notes, self.transit, self.worse, self.whole = notes, transit, worse, whole


SUPPLIERS = {
    "CORRIE": Character(17, 1.05, 0.25, worse=0.75),                     # Getting worse in the last year.
    "SGURR": Character(15, 1.25, 0.18, promise="slips a week"),          # Keeps the second promise.
    "DUBH": Character(13, 0.95, 0.10, promise="keeps", notes=0.9),       # Honest.
    "STRATH": Character(18, 1.80, 0.16),                                 # Quotes 14 days and takes 25.
    "BEALACH": Character(12, 1.10, 0.38, promise="hopes"),               # Anything may happen.
    "FELSGRAT": Character(12, 1.10, 0.14, notes=1.0, transit=6),         # Long way, always a note.
    "LOCHAN": Character(12, 1.00, 0.15, promise="keeps"),
    "TARN": Character(11, 0.85, 0.20, notes=0.4),                        # Early, but drops an order now and then.
    "BRAE": Character(13, 1.15, 0.30, whole=True),                       # Whole orders come together.
    "ORRBURN": Character(11, 1.20, 0.25, promise="none", notes=0.2),     # Never answers.
    "MOIDACH": Character(10, 1.30, 0.20, promise="at despatch", notes=1.0),
    "RIFUGIO": Character(3, 1.40, 0.20),                                 # Three orders in all.
    "KYLE": Character(14, 1.15, 0.16, notes=0.1),                        # Shut in the trades holiday.
    "FANK": Character(13, 1.00, 0.20, promise="none", notes=0.8, transit=1),
    "SHIEL": Character(12, 1.05, 0.22, promise="hopes"),
}
DROPS = {"TARN": 0.2, "BEALACH": 0.08, "SGURR": 0.05}  # Share of lines that the supplier never delivered.


def read(name):
    """The rows of one of the demo's files."""
    with open(HERE / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def closed_days():
    """Closed days by supplier code; the shop's own under the empty code."""
    closed = {}
    for row in read("closed_days.csv"):
        day = date.fromisoformat(row["first_day"])
        last = date.fromisoformat(row["last_day"] or row["first_day"])
        while day <= last:
            closed.setdefault(row["supplier"], set()).add(day)
            day += timedelta(1)
    return closed


CLOSED = closed_days()


def working(day, supplier="", step=1):
    """The day, or the next (with -1: the last before) on which the shop and the supplier work."""
    while day.weekday() > 4 or day in CLOSED.get("", ()) or day in CLOSED.get(supplier, ()):
        day += timedelta(step)
    return day


def after(placed, supplier, days):
    """The working day on which so many days without the supplier's closures have passed."""
    day, left = placed, round(days)
    while left > 0:
        day += timedelta(1)
        left -= day not in CLOSED.get(supplier, ())
    return working(day, supplier)


class Maker:
    """Draws the orders."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.months = {}

    def strain(self, supplier, day):
        """What all of a supplier's orders of one month share."""
        key = (supplier, day.year, day.month)
        return self.months.setdefault(key, self.random.gauss(0, 1))

    def order(self, supplier, placed, offers):
        """The lines of one order."""
        character = SUPPLIERS[supplier]
        count = 1 if supplier == "RIFUGIO" else self.random.choice([1, 2, 2, 3, 3])
        chosen = []
        while len(chosen) < min(count, len(offers)):
            # The first offers are the most ordered.
            offer = offers[min(int(self.random.expovariate(0.28)), len(offers) - 1)]
            if offer not in chosen:
                chosen.append(offer)
        own = self.random.gauss(0, 1)
        answered = working(placed + timedelta(self.random.randint(1, 3)), supplier)
        lines = []
        for number, offer in enumerate(chosen, 1):
            alone = own if character.whole else self.random.gauss(0, 1)
            lines.append(self.line(supplier, number, offer, placed, answered, alone))
        return lines

    def line(self, supplier, number, offer, placed, answered, alone):
        """One line, as it stands on the Friday before TODAY."""
        character, (part, quote, pack) = SUPPLIERS[supplier], offer
        ratio = character.ratio
        if placed > TODAY - timedelta(365):
            ratio *= 1 + character.worse
        chance = math.sqrt(TOGETHER) * self.strain(supplier, placed) + math.sqrt(1 - TOGETHER) * alone
        came = after(placed, supplier, max(1.0, (quote or 20) * ratio * math.exp(character.spread * chance)))
        row = dict.fromkeys(COLUMNS, "")
        row.update(supplier=supplier, part=part, line=number, quantity=pack * self.random.randint(1, 3),
                   quoted_lead_time_days=quote or "", placed_on=placed)
        despatched = working(came - timedelta(character.transit), supplier, -1) if self.random.random() < character.notes else None
        if despatched and despatched <= placed:
            despatched = None
        promises = self.promises(character, supplier, placed, answered, quote or 20, came, despatched)
        fate = self.random.random()
        end = came
        if fate < DROPS.get(supplier, 0.0):
            end = working(came - timedelta(self.random.randint(0, 5)), "", -1)
            row.update(cancelled_on=end, cancelled_by="supplier")
            despatched = None
        elif fate > 0.98 and (came - placed).days > 4:
            end = working(placed + (came - placed) / 2, "", -1)
            row.update(cancelled_on=end, cancelled_by="us")
            despatched = None
        else:
            row["received_on"] = came
            if fate > 0.95:  # Booked some days late.
                row["recorded_on"] = working(came + timedelta(self.random.randint(2, 6)))
        if end >= TODAY or (row["recorded_on"] and row["recorded_on"] >= TODAY):  # Still open.
            row.update(received_on="", cancelled_on="", cancelled_by="", recorded_on="",
                       last_known_open_on=working(TODAY - timedelta(3), "", -1))
            end = TODAY
        known = [(on, told) for on, told in promises if placed <= told < min(end, TODAY) or told == end < TODAY]
        row["promises"] = " ".join(f"{on}@{told}" for on, told in known)
        if despatched and despatched < min(end, TODAY):
            row["despatched_on"] = despatched
        return row

    def promises(self, character, supplier, placed, answered, quote, came, despatched):
        """The promised dates with the days on which they became known."""
        quoted = after(placed, supplier, quote)
        if character.promise == "none" or answered >= came:
            return []
        if character.promise == "at despatch":
            return [(working(came + timedelta(self.random.choice([0, 0, 1]))), despatched)] if despatched else []
        if character.promise == "keeps":
            return [(working(came + timedelta(self.random.choice([-1, 0, 0, 0, 1, 2]))), answered)]
        if character.promise == "slips a week":
            first = working(came - timedelta(self.random.randint(6, 9)), supplier, -1)
            told = working(first - timedelta(self.random.randint(1, 3)), supplier, -1)
            if first <= answered or told <= answered:
                return [(working(came), answered)]
            return [(first, answered), (working(came + timedelta(self.random.choice([-1, 0, 0, 0, 1]))), told)]
        if character.promise == "hopes":  # The quote again, and a new date when that has passed.
            found, day = [(quoted, answered)], quoted
            while day < came - timedelta(3) and len(found) < 4:
                told = working(day + timedelta(1), supplier)
                day = working(told + timedelta(self.random.randint(5, 14)), supplier)
                if told < came:
                    found.append((day, told))
            return found
        middle = placed + (came - placed) * self.random.uniform(0.75, 1.05)  # Honest, as far as it knows.
        return [(working(max(middle, answered), supplier), answered)]


def all_orders(maker):
    """Every order of the two years, by day of placing."""
    orders = []
    quotes = {}
    for row in read("offers.csv"):
        quote = int(row["quoted_lead_time_days"]) if row["quoted_lead_time_days"] else None
        pack = math.ceil(float(row["pack_size"])) if row["pack_size"] else 1
        quotes.setdefault(row["supplier"], []).append((row["part"], quote, pack))
    days = (TODAY - FIRST).days - 7
    for supplier, character in SUPPLIERS.items():
        offers = quotes[supplier] + [(part, quote, 1) for code, part, quote in GONE if code == supplier]
        maker.random.shuffle(offers)
        for _ in range(character.orders):
            placed = working(FIRST + timedelta(maker.random.randrange(days)))
            orders.append((placed, supplier, maker.order(supplier, placed, offers), ""))
    orders += forgotten()
    orders += beside_open_orders(maker, quotes)
    return sorted(orders, key=lambda order: order[:2])


def beside_open_orders(maker, quotes):
    """The lines of today's open orders that have come already.

    Without them the open orders would look slower than they are: of every order that was placed in
    these weeks the sheets of open orders hold only what has not come. So for each open line, lines
    are drawn until one is still open; those before it are the ones that came.
    """
    lines = {}
    rows = [row for row in read("open_orders.csv") if row["placed_on"]]
    still_open = {(row["order"], row["part"]) for row in rows}
    for row in rows:
        supplier, placed = row["supplier"], date.fromisoformat(row["placed_on"])
        of_order = lines.setdefault((placed, supplier, row["order"]), [])
        taken = {line["part"] for line in of_order}
        free = [offer for offer in quotes[supplier]
                if offer[0] not in taken and (row["order"], offer[0]) not in still_open]
        for offer in maker.random.sample(free, min(len(free), 4)):
            line = maker.line(supplier, 20 + len(of_order), offer, placed, working(placed + timedelta(2), supplier),
                              maker.random.gauss(0, 1))
            if not line["received_on"]:
                break
            of_order.append(line)
    return [(placed, supplier, of_order, order) for (placed, supplier, order), of_order in lines.items() if of_order]


def forgotten():
    """Two orders that came or died long ago, and nobody wrote it down."""
    for supplier, part, quote, placed, seen in [
        ("ORRBURN", "HT-7050", 12, date(2025, 4, 8), date(2025, 5, 6)),
        ("SHIEL", "TR-0040", 16, date(2025, 6, 17), ""),
    ]:
        row = dict.fromkeys(COLUMNS, "")
        row.update(supplier=supplier, part=part, line=1, quantity=1, quoted_lead_time_days=quote, placed_on=placed,
                   last_known_open_on=seen)
        yield placed, supplier, [row], ""


def main():
    """Writes the file."""
    rows, number = [], 1700
    for _, _, lines, order in all_orders(Maker(2026)):
        number += not order
        for line in lines:
            line["order"] = order or f"P-{number}"
            rows.append(line)
    with open(HERE / "history.csv", "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    print(f"{len(rows)} order lines")


if __name__ == "__main__":
    main()
