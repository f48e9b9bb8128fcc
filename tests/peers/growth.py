"""How time, memory and store grow with the number of passages: import of a table, first list, later list.

growth.py FOURPLATE DEMO [MOST]: herds of 70 cows over a half-year, then ten times as many cows or days, up to MOST
passages (a million unless said).
"""

import sys
import tempfile
from pathlib import Path

from runs import run

# Cows and days: two passages a day of a cow in milk, some 10^4, 10^5, 10^6 and 10^7 passages.
HERDS = [(70, 84), (200, 288), (400, 1440), (2000, 2880)]
# The demo begins in 2025; the program takes no time of the future.
YEARS_BACK = 8


def earlier(table, out):
    """The table with its years set back: written anew, line by line."""
    with open(table) as lines, open(out, "w") as file:
        header = next(lines)
        file.write(header)
        place = header.strip().split(",").index("time")
        for line in lines:
            fields = line.split(",")
            fields[place] = f"{int(fields[place][:4]) - YEARS_BACK}{fields[place][4:]}"
            file.write(",".join(fields))


def main():
    fourplate, demo = sys.argv[1:3]
    most = float(sys.argv[3]) if len(sys.argv) > 3 else 1e6
    print(f"{'passages':>10}  {'import s':>8} {'busy':>6} {'MB':>5}  {'first list s':>12} {'busy':>6} {'MB':>5}"
          f"  {'later list ms':>13} {'busy':>6} {'MB':>5}  {'store MB':>8}")
    for cows, days in HERDS:
        if 1.3 * cows * days > most:
            break
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(folder)
            run([demo, "herd", "--out", folder, "--cows", str(cows), "--days", str(days), "--level", "passages"])
            table, store = folder / "earlier.csv", folder / "store.sqlite"
            earlier(folder / "passages.csv", table)
            (folder / "passages.csv").unlink()
            brought = run([fourplate, "import", "passages", "--lane", "exit", table, "--store", store])
            passages = sum(1 for _ in open(table)) - 1
            table.unlink()
            ask = [fourplate, "list", "--format", "json", "--store", store]
            first, later = run(ask), run(ask)
            assert first.out == later.out
            print(f"{passages:10,}  {brought.wall:8.1f} {brought.cpu:6.1f} {brought.mb:5.0f}"
                  f"  {first.wall:12.1f} {first.cpu:6.1f} {first.mb:5.0f}"
                  f"  {1000 * later.wall:13.0f} {1000 * later.cpu:6.0f} {later.mb:5.0f}"
                  f"  {store.stat().st_size / 1e6:8.0f}", flush=True)


main()
