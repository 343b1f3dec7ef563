"""A day of the three people's work, by an independent client that knows the API only by reflection.

Runs against the demo's data (crates/baystart/demo) as of the day given. Prints a line a check and,
as its last line, "N passed, M failed"; exit code 1 when a check failed.
"""

import argparse
import sys
import traceback

import changes
import every_line
import parts_manager
import promises
import sales
import strangers
import suppliers
import workshop
from wire import Wire


class Day:
    """What the parts of the day share: the callers, the as-of day, and the count of checks."""

    def __init__(self, wire, token, as_of):
        self.wire = wire
        self.admin = wire.caller(token)
        self.as_of = as_of
        self.passed = 0
        self.failed = 0
        self.people = {}

    def check(self, what, holds, seen=""):
        """Counts and prints one check; `seen` says what was read."""
        if holds:
            self.passed += 1
        else:
            self.failed += 1
        print(f"{'ok   ' if holds else 'WRONG'} {what}{f': {seen}' if seen != '' else ''}", flush=True)

    def equal(self, what, seen, expected):
        """Checks that two values are the same."""
        self.check(what, seen == expected, seen if seen == expected else f"{seen}, expected {expected}")

    def person(self, role):
        """A caller with a new token that has one role."""
        if role not in self.people:
            answer = self.admin.change("AccessService", "IssueToken", name=f"{role} of the day", roles=[f"ROLE_{role}"])
            self.people[role] = self.wire.caller(answer["secret"])
        return self.people[role]

    def part_of_day(self, steps):
        """Runs one function of checks; an exception is one failure and does not end the day."""
        print(f"\n{steps.__doc__.strip().splitlines()[0]}")
        try:
            steps(self)
        except Exception as error:  # Whatever it is, the rest of the day is still worth seeing.
            self.check(f"{steps.__name__} went through", False, f"{type(error).__name__}: {error}")
            traceback.print_exc(limit=-3)


def main():
    """Reads the arguments, runs the day."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--ready-file", required=True, help="file with lines server=URL and token_file=PATH")
    options.add_argument("--as-of", required=True, help="the demo's day, YYYY-MM-DD")
    arguments = options.parse_args()
    with open(arguments.ready_file, encoding="utf-8") as ready:
        settings = dict(line.strip().split("=", 1) for line in ready if "=" in line)
    with open(settings["token_file"], encoding="utf-8") as file:
        token = file.read().strip()
    today = Day(Wire(settings["server"].removeprefix("http://")), token, arguments.as_of)
    for steps in [*strangers.STEPS, *parts_manager.STEPS, *suppliers.STEPS, *sales.STEPS, *workshop.STEPS,
                  *every_line.STEPS, *promises.STEPS, *changes.STEPS]:
        today.part_of_day(steps)
    print(f"\n{today.passed} passed, {today.failed} failed")
    return 1 if today.failed else 0


if __name__ == "__main__":
    sys.exit(main())
