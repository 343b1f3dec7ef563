"""Three frozen shops whose bays are played forward by plain chance.

    python3 tests/bench/bays_by_chance.py > crates/baystart-core/src/plan/bays/play/frozen_shops.txt

Written from the rules as people know them (crates/baystart-core/src/plan/README.md, "Delivery and bays"), apart
from the program that it checks: other draws (plain ones, Python's Mersenne Twister), another loop (day
by day over objects), other mathematics for the chance of a stall (a sum over the supplier's score).
Standard library only; some minutes.

A line of the file is a word and its values. Chances by day are DAY:CHANCE, separated by commas.

    shop NAME bays B days D start all|stall|booked TOLERANCE news K rho R paths N
    vehicle waiting|begun FROM BOOKED|-             in the order of service
    step in|away OFFSET DAY:CHANCE,...              working days that it takes
    arrival SUPPLIER|-
    use STEP LEAD DAY:CHANCE,...                    of the arrival before
    paper DAY:CHANCE,...
    delivered CHANCE CHANCE ...                     of the vehicle before, by the end of each day
"""

import math
import random
from functools import lru_cache
from statistics import NormalDist

SEED = 20_261_127
PATHS = 200_000
DAYS = 120
NEVER = 10**6
NORMAL = NormalDist()
STUCK_DAYS = 60
# A sum over the standard normal score of a supplier, by the midpoint rule.
GRID = [(-6 + 12 * (i + 0.5) / 240) for i in range(240)]
WEIGHT = [NORMAL.pdf(z) * 12 / 240 for z in GRID]


def spread(rng, first, width, whole=1.0):
    """Chances on a handful of days; their sum is `whole`."""
    days = sorted(rng.sample(range(first, first + width), 5))
    parts = [rng.uniform(0.5, 1.5) for _ in days]
    return [(day, whole * part / sum(parts)) for day, part in zip(days, parts)]


def cumulative(points):
    total, row = 0.0, [0.0] * DAYS
    for day in range(DAYS):
        total += sum(p for at, p in points if at == day)
        row[day] = total
    return row


def first_day(row, u):
    for day, p in enumerate(row):
        if p >= u - 1e-12:
            return day
    return NEVER


class Vehicle:
    def __init__(self, standing, since, booked, steps, arrivals, papers):
        self.standing, self.since, self.booked = standing, since, booked
        self.steps = [(away, offset, points, cumulative(points)) for away, offset, points in steps]
        self.arrivals = [
            (supplier, [(step, lead, points, cumulative(points)) for step, lead, points in uses])
            for supplier, uses in arrivals
        ]
        self.papers = [(points, cumulative(points)) for points in papers]
        # The use that is missed first: its offset from the start, and its chances.
        self.tight = []
        for _, uses in self.arrivals:
            offset, row = min(
                ((self.steps[step][1] - lead, row) for step, lead, _, row in uses), key=lambda x: x[0]
            )
            self.tight.append((offset, row))
        self.work = sum(first_day(row, 0.5) for _, _, _, row in self.steps)

    def write(self):
        booked = "-" if self.booked is None else self.booked
        print("vehicle", self.standing, self.since, booked)
        text = lambda points: ",".join(f"{day}:{p!r}" for day, p in points)
        for away, offset, points, _ in self.steps:
            print("step", "away" if away else "in", offset, text(points))
        for supplier, uses in self.arrivals:
            print("arrival", supplier or "-")
            for step, lead, points, _ in uses:
                print("use", step, lead, text(points))
        for points, _ in self.papers:
            print("paper", text(points))


class Luck:
    """What happens to a vehicle, bays aside."""

    def __init__(self, vehicle, shop, rng, scores):
        self.vehicle, self.shop = vehicle, shop
        steps = len(vehicle.steps)
        self.takes = [first_day(row, 1 - rng.random()) for _, _, _, row in vehicle.steps]
        self.ready, self.first = [0] * steps, 0
        self.here, self.known = [], []
        for supplier, uses in vehicle.arrivals:
            own = rng.gauss(0, 1)
            if supplier and shop["rho"] > 0:
                if supplier not in scores:
                    scores[supplier] = rng.gauss(0, 1)
                own = math.sqrt(shop["rho"]) * scores[supplier] + math.sqrt(1 - shop["rho"]) * own
            u = NORMAL.cdf(own)
            last = 0
            for step, lead, _, row in uses:
                day = first_day(row, u)
                last = max(last, day)
                self.ready[step] = max(self.ready[step], day + lead)
                if step == 0:
                    # Decided in the morning, on what was here by the day before.
                    self.first = max(self.first, day + max(lead, 1))
            self.here.append(last)
            self.known.append(rng.random() < shop["news"])
        self.papers = max([first_day(row, 1 - rng.random()) for _, row in vehicle.papers], default=0)

    def in_time_from(self, k):
        """The first start for which the arrival comes in time."""
        return self.here[k] if self.here[k] == NEVER else max(self.here[k] - self.vehicle.tight[k][0], 0)

    def tolerates(self, day, most):
        out = []
        for k, (supplier, _) in enumerate(self.vehicle.arrivals):
            in_time = day >= self.in_time_from(k)
            if self.here[k] < day and in_time:
                continue
            if self.known[k]:
                if not in_time:
                    return False
                continue
            if self.here[k] < day:
                continue
            offset, row = self.vehicle.tight[k]
            before = row[day - 1] if day > 0 else 0.0
            by = row[min(day + offset, DAYS - 1)] if day + offset >= 0 else 0.0
            out.append((supplier, max(0.0, (by - before) / (1 - before)) if before < 1 else 0.0))
        return all_in_time(tuple(sorted(out, key=repr)), self.shop["rho"]) >= 1 - most - 1e-12

    def may_begin(self, day):
        vehicle, (rule, most) = self.vehicle, self.shop["start"]
        if day < max(self.first, vehicle.since):
            return False
        if rule == "all":
            return all(h < day and day >= self.in_time_from(k) for k, h in enumerate(self.here))
        if rule == "booked" and vehicle.booked is not None:
            return day >= vehicle.booked
        return self.tolerates(day, most)


@lru_cache(maxsize=None)
def all_in_time(out, rho):
    """Chance that all come in time; a supplier's share a normal score."""
    groups = {}
    for n, (supplier, p) in enumerate(out):
        groups.setdefault(supplier or f"alone {n}", []).append(p)
    whole = 1.0
    for name, chances in groups.items():
        if rho == 0 or len(chances) == 1 or str(name).startswith("alone"):
            whole *= math.prod(chances)
            continue
        if min(chances) <= 0:
            return 0.0
        bounds = [NORMAL.inv_cdf(p) if p < 1 else math.inf for p in chances]
        scale = math.sqrt(1 - rho)
        whole *= sum(
            weight * math.prod(NORMAL.cdf((b - math.sqrt(rho) * z) / scale) for b in bounds)
            for z, weight in zip(GRID, WEIGHT)
        )
    return whole


def play(shop, vehicles, rng):
    """The day of each vehicle's delivery on one path."""
    scores = {}
    lucks = [Luck(vehicle, shop, rng, scores) for vehicle in vehicles]
    delivered = [NEVER] * len(vehicles)
    free = shop["bays"]
    freed = [0] * (DAYS + 2 * STUCK_DAYS)
    back = []
    waiting = [n for n, vehicle in enumerate(vehicles) if vehicle.standing == "waiting"]

    def release(day):
        if day < len(freed):
            freed[day] += 1

    def work(n, step, day, holds):
        vehicle, luck = vehicles[n], lucks[n]
        at = day
        for k in range(step, len(vehicle.steps)):
            away = vehicle.steps[k][0]
            if not away and not holds:
                back.append((at, n, k))
                return
            if luck.ready[k] >= NEVER:
                if holds:
                    release(at + STUCK_DAYS)
                return
            begin = max(at, luck.ready[k])
            if away and holds:
                release(max(begin, day + 1))
                holds = False
            if luck.takes[k] >= NEVER:
                return
            at = begin + luck.takes[k]
        if holds:
            release(max(at, day + 1))
        end = max(at - 1, day)
        delivered[n] = max(end, luck.papers) if end < DAYS else NEVER

    for n, vehicle in enumerate(vehicles):
        if vehicle.standing == "begun":
            holds = not vehicle.steps[0][0]
            free -= holds
            work(n, 0, 0, holds)

    def room(n, day):
        """A bay is free for the whole work, whatever is booked."""
        left = free
        for t in range(day, min(day + vehicles[n].work, DAYS)):
            left += freed[t] if t > day else 0
            taken = 0
            for other in waiting:
                booked = vehicles[other].booked
                if booked is not None:
                    taken += max(booked, day) <= t < max(booked, day) + vehicles[other].work
            if left <= taken:
                return False
        return True

    for day in range(DAYS):
        free += freed[day]
        while free > 0 and any(entry[0] <= day for entry in back):
            entry = min(back)
            back.remove(entry)
            free -= 1
            work(entry[1], entry[2], day, True)
        for n in list(waiting):
            away = vehicles[n].steps[0][0]
            if (free <= 0 and not away) or not lucks[n].may_begin(day):
                continue
            if shop["start"][0] == "booked" and vehicles[n].booked is None and not away:
                if not room(n, day):
                    continue
            waiting.remove(n)
            free -= not away
            work(n, 0, day, not away)
        if not waiting and not back:
            break
    return delivered


def made(shop, rng, count, off_site, booked):
    """Vehicles of a shop."""
    vehicles = []
    for n in range(count):
        steps, offset = [], 0
        for k in range(rng.randint(2, 3)):
            planned = rng.randint(2, 6)
            takes = [(planned - 1, 0.3), (planned, 0.4), (planned + 2, 0.3)]
            steps.append((off_site and k == 1, offset, takes))
            offset += planned
        arrivals = []
        for k in range(rng.randint(3, 6)):
            supplier = rng.choice(["CORRIE", "STRATH", None])
            whole = 0.97 if rng.random() < 0.1 else 1.0
            points = spread(rng, 1 + 3 * n, 25, whole)
            step = rng.randrange(len(steps))
            uses = [(step, rng.choice([0, 0, 2]), points)]
            if rng.random() < 0.3:
                uses.append((len(steps) - 1, 0, points))
            arrivals.append((supplier, uses))
        papers = [spread(rng, 20, 30)] if rng.random() < 0.4 else []
        day = 8 + 7 * n if booked and n % 3 != 2 else None
        begun = n == 0
        if begun:
            arrivals = [row for row in arrivals if any(use[0] > 0 for use in row[1])]
        vehicles.append(
            Vehicle("begun" if begun else "waiting", 0, None if begun else day, steps, arrivals, papers)
        )
    return vehicles


def main():
    print(f"# Made and played by tests/bench/bays_by_chance.py, {PATHS} paths, seed {SEED}.")
    rng = random.Random(SEED)
    for name, bays, start, news, rho, count, off_site, booked in [
        ("all-here", 1, ("all", 0.0), 0.4, 0.0, 5, False, False),
        ("stall-tolerated", 2, ("stall", 0.1), 0.4, 0.3, 8, False, False),
        ("booked-day", 2, ("booked", 0.1), 0.4, 0.15, 7, True, True),
    ]:
        shop = {"bays": bays, "start": start, "news": news, "rho": rho}
        vehicles = made(shop, rng, count, off_site, booked)
        print("shop", name, "bays", bays, "days", DAYS, "start", *start, "news", news, "rho", rho, "paths", PATHS)
        counts = [[0] * (DAYS + 1) for _ in vehicles]
        for _ in range(PATHS):
            for row, day in zip(counts, play(shop, vehicles, rng)):
                row[min(day, DAYS)] += 1
        for vehicle, row in zip(vehicles, counts):
            vehicle.write()
            total, shares = 0, []
            for n in row[:DAYS]:
                total += n
                shares.append(f"{total / PATHS:.5f}")
            print("delivered", *shares)


if __name__ == "__main__":
    main()
