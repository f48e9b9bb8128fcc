"""Runs every oracle script again and holds its figures against the recorded ones.

An oracle is `<topic>.R` or `<topic>.py` beside `<topic>.json`: the script prints JSON on standard output, the
JSON is what the Rust tests read. `check.py --record TOPIC...` writes the JSON anew.
"""

import json
import math
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
RELATIVE = 1e-6  # figures of iterative fits differ a little between builds of a library
ABSOLUTE = 1e-9


def scripts():
    for path in sorted([*HERE.glob("*.R"), *HERE.glob("*.py")]):
        if path.name != "check.py":
            yield path


def run(path):
    interpreter = ["Rscript", "--vanilla"] if path.suffix == ".R" else [sys.executable]
    done = subprocess.run([*interpreter, str(path)], capture_output=True, text=True, timeout=600)
    if done.returncode:
        raise SystemExit(f"{path.name} failed:\n{done.stderr}")
    return json.loads(done.stdout)


def differences(recorded, now, where=""):
    if isinstance(recorded, dict) and isinstance(now, dict):
        for key in sorted(recorded.keys() | now.keys()):
            if key not in recorded or key not in now:
                yield f"{where}/{key}: only on one side"
            else:
                yield from differences(recorded[key], now[key], f"{where}/{key}")
    elif isinstance(recorded, list) and isinstance(now, list):
        if len(recorded) != len(now):
            yield f"{where}: {len(recorded)} values recorded, {len(now)} now"
        for index, (a, b) in enumerate(zip(recorded, now)):
            yield from differences(a, b, f"{where}/{index}")
    elif isinstance(recorded, (int, float)) and isinstance(now, (int, float)):
        if not math.isclose(recorded, now, rel_tol=RELATIVE, abs_tol=ABSOLUTE):
            yield f"{where}: recorded {recorded}, now {now}"
    elif recorded != now:
        yield f"{where}: recorded {recorded!r}, now {now!r}"


def main():
    recording = sys.argv[1:2] == ["--record"]
    passed = failed = 0
    for path in scripts():
        if recording and path.stem not in sys.argv[2:]:
            continue
        now = run(path)
        target = path.with_suffix(".json")
        if recording:
            target.write_text(json.dumps(now, indent=1) + "\n")
            continue
        found = list(differences(json.loads(target.read_text()), now))
        print(f"{path.name}: {'agrees' if not found else 'DIFFERS'}")
        for line in found[:10]:
            print(f"  {line}")
        passed, failed = passed + (not found), failed + bool(found)
    if not recording:
        print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
