"""The passage table into SQLite with Python's csv and sqlite3: text fields, an index by time and one by animal.

Prints passages and their mean weight as JSON.
"""

import csv
import json
import sqlite3
import sys

path, store = sys.argv[1:]
database = sqlite3.connect(store)
database.executescript("PRAGMA journal_mode = wal; PRAGMA synchronous = normal;")
with open(path, newline="") as file:
    rows = csv.reader(file)
    names = next(rows)
    database.execute(f"CREATE TABLE passages ({', '.join(names)})")
    database.execute("CREATE INDEX by_time ON passages (time)")
    database.execute("CREATE INDEX by_animal ON passages (animal_id, time)")
    database.executemany(f"INSERT INTO passages VALUES ({', '.join('?' * len(names))})", rows)
database.commit()
query = "SELECT count(*), avg(CAST(nullif(body_weight_kg, '') AS REAL)) FROM passages"
passages, weight = database.execute(query).fetchone()
print(json.dumps({"passages": passages, "weight": weight}))
