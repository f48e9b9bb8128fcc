"""The program beside its peers on the same files, in turn: figures, ratios, and whether all found the same.

compare.py FOURPLATE DEMO [ROUNDS]; FOURPLATE may be several, divided by commas, to compare builds.
"""

import csv
import json
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from runs import in_turn, run, table

HERE = Path(__file__).parent
PYTHON = sys.executable


def near(one, other, part):
    return abs(one - other) <= part * abs(other)


def found(fourplate, store):
    """Passages in a store and their mean weight. Read as they come: what a program is started from counts as its memory
    until it has begun."""
    with subprocess.Popen(
        [fourplate, "export", "passages", "--store", store], stdout=subprocess.PIPE, text=True
    ) as export:
        weights = [float(row["body_weight_kg"] or "nan") for row in csv.DictReader(export.stdout)]
    return len(weights), statistics.mean(weight for weight in weights if weight == weight)


def forget(store):
    for file in store.parent.glob(store.name + "*"):
        file.unlink()


def against_peers(programs, peers, stores, rounds, amount, unit):
    """Runs programs and peers in turn, prints the table, gives what each peer printed last."""
    commands = {}
    for name, command in {**programs, **peers}.items():
        commands[name] = (lambda store=stores.get(name): store and forget(store), command)
    runs = in_turn(commands, rounds)
    table(runs, next(iter(programs)), amount, unit)
    return {name: json.loads(runs[name][-1].out) for name in peers}


def named(fourplates):
    return {"fourplate" if at == 0 else f"fourplate ({at + 1})": path for at, path in enumerate(fourplates)}


def imports(fourplates, kind, file):
    """Rows of a file, the builds by name, a store for each beside the file, and the command that brings it in there."""
    with open(file, "rb") as lines:
        rows = sum(1 for _ in lines) - 1
    builds = named(fourplates)
    stores = {name: file.parent / f"{at}.sqlite" for at, name in enumerate(builds)}
    programs = {
        name: [path, "import", kind, "--lane", "exit", file, "--store", stores[name]] for name, path in builds.items()
    }
    return rows, builds, stores, programs


def readings(fourplates, demo, folder, rounds):
    run([demo, "herd", "--out", folder, "--cows", "200", "--days", "9"])
    file = folder / "readings.csv"
    rows, builds, stores, programs = imports(fourplates, "readings", file)
    print(f"\nReadings at 100 Hz: {rows:,} rows, {file.stat().st_size / 1e6:.0f} MB")
    peers = {
        "Polars, SciPy: to passages": [PYTHON, HERE / "readings_polars.py", file],
        "DuckDB: sums, 1 thread": [PYTHON, HERE / "readings_duckdb.py", file, "1"],
        "DuckDB: sums, 2 threads": [PYTHON, HERE / "readings_duckdb.py", file, "2"],
    }
    said = against_peers(programs, peers, stores, rounds, rows, "rows")
    vectorised, summed = said["Polars, SciPy: to passages"], said["DuckDB: sums, 1 thread"]
    assert vectorised["rows"] == summed["rows"] == rows
    assert all(near(a, b, 1e-6) for a, b in zip(vectorised["sums"], summed["sums"]))
    for name, path in builds.items():
        passages, weight = found(path, stores[name])
        print(f"{name}: {passages} passages of {weight:.1f} kg; "
              f"Polars, SciPy: {vectorised['passages']} of {vectorised['weight']:.1f} kg")
        # The vectorised pipeline knows no two cows at once and no hosing.
        assert near(vectorised["passages"], passages, 0.005) and near(vectorised["weight"], weight, 0.01)


def passage_table(fourplates, demo, folder, rounds):
    run([demo, "herd", "--out", folder, "--cows", "200", "--days", "365", "--level", "passages"])
    file = folder / "passages.csv"
    rows, builds, stores, programs = imports(fourplates, "passages", file)
    print(f"\nThe passage table: {rows:,} rows, {file.stat().st_size / 1e6:.0f} MB")
    stores |= {"Python sqlite3": folder / "peer.sqlite", "DuckDB, 2 threads": folder / "peer.duckdb"}
    peers = {
        "Python sqlite3": [PYTHON, HERE / "table_sqlite.py", file, stores["Python sqlite3"]],
        "DuckDB, 2 threads": [PYTHON, HERE / "table_duckdb.py", file, stores["DuckDB, 2 threads"], "2"],
    }
    said = against_peers(programs, peers, stores, rounds, rows, "rows")
    for name, path in builds.items():
        passages, weight = found(path, stores[name])
        print(f"{name}: {passages} passages of {weight:.3f} kg")
        for peer in said.values():
            assert passages == peer["passages"] == rows and near(weight, peer["weight"], 1e-6)


def lists(fourplates, demo, folder, rounds):
    """First and later lists of a herd of 200 over a year."""
    run([demo, "herd", "--out", folder, "--cows", "200", "--days", "365", "--level", "passages"])
    for name, path in named(fourplates).items():
        kept = folder / "kept.sqlite"
        forget(kept)
        run([path, "import", "passages", "--lane", "exit", folder / "passages.csv", "--store", kept])
        store = folder / "list.sqlite"

        def anew(store=store, kept=kept):
            forget(store)
            store.write_bytes(kept.read_bytes())

        command = [path, "list", "--format", "json", "--store", store]
        runs = in_turn({"first": (anew, command), "later": (lambda: None, command)}, rounds)
        print(f"\nThe list of {name}, 200 cows over a year")
        table(runs, "later", 1, "lists")
        assert runs["first"][-1].out == runs["later"][-1].out


def main():
    fourplates, demo = sys.argv[1].split(","), sys.argv[2]
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 5
    for part in (readings, passage_table, lists):
        with tempfile.TemporaryDirectory() as folder:
            part(fourplates, demo, Path(folder), rounds)


main()
