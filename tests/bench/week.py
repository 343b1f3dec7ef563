#!/usr/bin/env python3
"""Times the commands of a week on the demo: each five times, the slowest told.

    tests/bench/week.py target/release/baystart

Starts the demo, runs what a parts manager, sales and the workshop run, and fails when one takes more than 300 ms.
"""

import pathlib
import shlex
import subprocess
import sys
import tempfile
import time

LIMIT_MS = 300
RUNS = 5
COMMANDS = """
board
board --since "a week ago"
forecast B-1043
forecast B-1051 --all
ready B-1039
quote tests/quotes/rescue.csv --wanted-by "in 26 weeks"
promise list
build list
build show B-1044
pick B-1042
stock list --short
stock show CB-0500
stock free WR-4060
stock history
order list --open
order show P-2101
suggest
chase
stale
lead-times
lead-times STRATH
swaps
offer list
part list
shop show
help words
"""
WRITES = """
promise give B-1043 "in 21 weeks"
order new P-300{n} STRATH --line SG-2050=3 --placed today
order answer P-300{n} --all "in two weeks"
order take-back P-300{n} 1 --reason "misheard"
order asked P-2122 4 --note "on its way"
receive P-300{n} 1=2 --bin A1
stock adjust CB-0500=1 --bin A1 --reason recount
build await B-1044 paper "approval {n}" --from examiner --usual-days 30
"""


def main() -> int:
    binary = pathlib.Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as folder:
        ready = pathlib.Path(folder) / "ready"
        demo = subprocess.Popen(
            [binary, "demo", "--keep", "--ready-file", ready], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        try:
            for _ in range(600):
                if ready.exists():
                    break
                time.sleep(0.1)
            place = dict(line.split("=", 1) for line in ready.read_text().splitlines())
            to = ["--server", place["server"], "--token-file", place["token_file"]]
            return run_all(binary, to)
        finally:
            demo.terminate()
            demo.wait()


def run_all(binary: pathlib.Path, to: list[str]) -> int:
    slow = 0
    for line in [*COMMANDS.strip().splitlines(), *WRITES.strip().splitlines()]:
        times = []
        for n in range(RUNS):
            words = shlex.split(line.replace("{n}", str(n)))
            began = time.perf_counter()
            done = subprocess.run([binary, *words, *to], capture_output=True, text=True, check=False)
            times.append((time.perf_counter() - began) * 1000)
            if done.returncode != 0:
                print(f"{line}: exit {done.returncode}: {done.stdout}{done.stderr}")
                slow += 1
                break
        mark = "" if max(times) <= LIMIT_MS else "   TOO SLOW"
        slow += bool(mark)
        print(f"{min(times):7.0f} {max(times):7.0f} ms  {line}{mark}")
    return 1 if slow else 0


if __name__ == "__main__":
    sys.exit(main())
