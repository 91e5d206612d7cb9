"""What DuckDB makes of the Parquet tables that `stepbell archive` writes: a line of JSON.

    archive.py FOLDER [SECTION]    runs, and by step: how often it was not called, and the middle of its times

The middle is the 50th percentile of NIST/SEMATECH e-Handbook 7.2.6.2, p (N + 1), which for the 50th is the median of every definition.
"""
import json
import sys
import time

import duckdb


def main():
    folder, section = sys.argv[1], (sys.argv[2:] or [None])[0]
    db = duckdb.connect()
    db.execute("SET threads TO 2")
    begun = time.perf_counter()
    runs, steps = f"read_parquet('{folder}/runs.parquet')", f"read_parquet('{folder}/steps.parquet')"
    if section is None:
        section = db.execute(f"SELECT section FROM {runs} GROUP BY section ORDER BY count(*) DESC LIMIT 1").fetchone()[0]
    people, count, finished, clean, hygiene = db.execute(
        f"SELECT count(DISTINCT person), count(*), count(*) FILTER (finished), count(*) FILTER (critical = 0), sum(hygiene) "
        f"FROM {runs} WHERE section = ? AND whole", [section]).fetchone()
    rows = db.execute(
        f"SELECT s.step, count(*) FILTER (NOT s.called), median(s.took_s) FROM {steps} s JOIN {runs} r USING (run) "
        f"WHERE r.section = ? AND r.whole GROUP BY s.step, s.place ORDER BY s.place", [section]).fetchall()
    took = time.perf_counter() - begun
    types = dict(db.execute(f"SELECT column_name, column_type FROM (DESCRIBE SELECT * FROM {runs})").fetchall())
    print(json.dumps(dict(people=people, runs=count, finished=finished, clean=clean, hygiene=int(hygiene), steps=rows, seconds=took, types=types)))


if __name__ == "__main__":
    main()
