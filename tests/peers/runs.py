"""Programs run as a whole, in turn: time on the wall, time of processors, memory."""

import os
import statistics
import subprocess
import time
from dataclasses import dataclass


@dataclass
class Run:
    """One run: seconds on the wall and of processors, peak memory in MB, what it printed."""

    wall: float
    cpu: float
    mb: float
    out: str


def run(command):
    """Runs a command that must succeed."""
    begun = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    out = process.stdout.read()
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.monotonic() - begun
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise SystemExit(f"{' '.join(map(str, command))} ended with {process.returncode}")
    return Run(wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1000, out)


def in_turn(commands, rounds):
    """Runs each of the named commands once a round, so that a machine that grows busy is busy for all; `before` of each
    is called first."""
    runs = {name: [] for name in commands}
    for number in range(rounds + 1):
        for name, (before, command) in commands.items():
            before()
            done = run(command)
            # The first round warms the file cache.
            if number > 0 or rounds == 0:
                runs[name].append(done)
    return runs


def median(runs, field):
    return statistics.median(getattr(run, field) for run in runs)


def table(runs, mine, amount, unit):
    """Prints a line a command: its medians, and round by round how many times the time of `mine` it took."""
    print(f"{'':34} {'wall s':>8} {'busy s':>8} {'MB':>7} {unit + '/s':>13}  {'wall':>6} {'busy':>6}  (times {mine}'s)")
    for name, done in runs.items():
        ratio = {
            field: statistics.median(getattr(a, field) / getattr(b, field) for a, b in zip(done, runs[mine]))
            for field in ("wall", "cpu")
        }
        wall = median(done, "wall")
        print(
            f"{name:34} {wall:8.2f} {median(done, 'cpu'):8.2f} {median(done, 'mb'):7.0f} {amount / wall:13,.0f}"
            f"  {ratio['wall']:6.2f} {ratio['cpu']:6.2f}"
        )
