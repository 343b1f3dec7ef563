"""The fit of a million waits, beside lifelines' Kaplan-Meier fit of the same file in the same run.

    python3 -m venv .venv && .venv/bin/pip install lifelines==0.30.3
    .venv/bin/python tests/bench/fit_ratio.py [OBSERVATIONS]

Both fits are timed alone, data already in memory as each wants it, turn by turn; the medians and
their ratio are printed. Fails unless both give the same survival curve to 1e-9.
"""

import json
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

import numpy
from lifelines import KaplanMeierFitter

REPEATS = 7
DIFFERENCE_MAX = 1e-9
ROOT = pathlib.Path(__file__).resolve().parents[2]


def build() -> str:
    """The path of the release build of the example that fits a file."""
    command = ["cargo", "build", "--release", "-q", "-p", "baystart-core", "--example", "fit_file"]
    subprocess.run(command, cwd=ROOT, check=True)
    target = subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--no-deps"],
        cwd=ROOT, check=True, capture_output=True, text=True,
    )
    folder = json.loads(target.stdout)["target_directory"]
    return str(pathlib.Path(folder, "release", "examples", "fit_file"))


def waits(count: int) -> tuple[numpy.ndarray, numpy.ndarray]:
    """Seeded log-normal waits in whole days, one in eight censored on a day before its end."""
    draws = numpy.random.default_rng(11)
    days = numpy.clip(numpy.rint(30 * numpy.exp(0.5 * draws.standard_normal(count))), 1, 1900)
    events = draws.random(count) >= 0.125
    days = numpy.where(events, days, numpy.ceil(days * draws.random(count)))
    return days.astype(numpy.uint16), events


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    program = build()
    days, events = waits(count)
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder, "waits")
        rows = numpy.zeros(count, dtype=[("day", "<u2"), ("event", "u1")])
        rows["day"], rows["event"] = days, events
        file.write_bytes(rows.tobytes())
        durations, observed = days.astype(float), events.astype(bool)
        ours, theirs, curve, fitter = [], [], [], None
        for _ in range(REPEATS):
            begun = time.perf_counter_ns()
            fitter = KaplanMeierFitter().fit(durations, observed)
            theirs.append(time.perf_counter_ns() - begun)
            printed = subprocess.run([program, file, "3"], check=True, capture_output=True, text=True)
            first, *rest = printed.stdout.splitlines()
            ours.append(statistics.median(int(value) for value in first.split()))
            curve = [float(value) for value in rest]
    wanted = fitter.survival_function_at_times(range(len(curve))).to_numpy()
    difference = float(numpy.abs(wanted - numpy.array(curve)).max())
    our_ms, their_ms = statistics.median(ours) / 1e6, statistics.median(theirs) / 1e6
    print(f"{count} waits, {len(curve)} days, {REPEATS} repeats, medians")
    print(f"ours      {our_ms:8.2f} ms  (all: {' '.join(f'{v / 1e6:.2f}' for v in ours)})")
    print(f"lifelines {their_ms:8.2f} ms  (all: {' '.join(f'{v / 1e6:.1f}' for v in theirs)})")
    print(f"ratio     {our_ms / their_ms:8.4f}")
    print(f"largest difference of the survival curves: {difference:.1e}")
    if difference > DIFFERENCE_MAX:
        print(f"the curves differ by more than {DIFFERENCE_MAX:.0e}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
