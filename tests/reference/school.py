"""The twelve questions of `stepbell archive`, asked of DuckDB, of Apache Spark, and of the journals themselves. Answers are JSON: by
question a list of rows.

    school.py duckdb ARCHIVE OUT [MEMORY]      DuckDB on two threads; also seconds by question and the most memory held
    school.py spark ARCHIVE OUT                Spark: a cluster on this machine of two worker processes, each with a core and 1 GiB
    school.py journals PROGRAM FOLDER OUT      no SQL: what PROGRAM exports of each SCHOOL/CLASS/PERSON/*.journal, reckoned in Python
    school.py same A B                         whether two answers are equal, row by row; prints how many are
    school.py grow ARCHIVE TO RUNS             an archive of so many runs out of a small one: its runs over and over, each time of other
                                               people, in other months and other schools
"""
import collections
import glob
import hashlib
import json
import os
import resource
import subprocess
import sys
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from fractions import Fraction

TABLES = ["runs", "steps", "findings", "criteria"]


def questions(archive):
    here = os.path.dirname(os.path.abspath(__file__))
    folder = os.path.join(here, "../../src/history/questions")
    if os.path.isdir(f"{archive}/questions"):
        folder = f"{archive}/questions"
    return [(os.path.basename(p)[:-4], open(p).read().rstrip().rstrip(";")) for p in sorted(glob.glob(f"{folder}/*.sql"))]


def duckdb_on(archive, memory="4GB", setup=()):
    import duckdb
    db = duckdb.connect()
    for line in ["SET threads TO 2", f"SET memory_limit = '{memory}'", "SET TimeZone = 'UTC'", "SET preserve_insertion_order = false", *setup]:
        db.execute(line)
    for table in TABLES:
        # Folders' values are text: a school may be called 12.
        db.execute(f"CREATE VIEW {table} AS SELECT * FROM read_parquet('{archive}/{table}/*/*/*/*.parquet', "
                   "hive_partitioning = true, hive_types_autocast = false)")
    return db


def ask_duckdb(archive, memory="4GB"):
    db = duckdb_on(archive, memory, [f"SET temp_directory = '{os.environ.get('TMPDIR', '/tmp')}/duckdb-spill'"])
    answers, seconds = {}, {}
    for name, sql in questions(archive):
        begun = time.perf_counter()
        answers[name] = [list(row) for row in db.execute(sql).fetchall()]
        seconds[name] = round(time.perf_counter() - begun, 3)
    runs = db.execute("SELECT count(*) FROM runs").fetchone()[0]
    rows = db.execute("SELECT count(*) FROM steps").fetchone()[0]
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return dict(answers=answers, seconds=seconds, runs=runs, steps=rows, most_bytes=most)


def spark_on():
    import pyspark
    from pyspark.sql import SparkSession
    os.environ.setdefault("SPARK_HOME", os.path.dirname(pyspark.__file__))
    os.environ["PYSPARK_PYTHON"] = sys.executable
    os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
    session = (SparkSession.builder.master("local-cluster[2,1,1024]").appName("school")
               .config("spark.ui.enabled", "false").config("spark.executor.memory", "1g").config("spark.driver.memory", "1g")
               .config("spark.sql.session.timeZone", "UTC").config("spark.sql.shuffle.partitions", "8")
               .config("spark.sql.sources.partitionColumnTypeInference.enabled", "false")
               .config("spark.driver.bindAddress", "127.0.0.1").config("spark.driver.host", "127.0.0.1").getOrCreate())
    session.sparkContext.setLogLevel("ERROR")
    return session


def ask_spark(archive):
    spark = spark_on()
    for table in TABLES:
        spark.read.parquet(f"{archive}/{table}").createOrReplaceTempView(table)
    answers, seconds, shuffles = {}, {}, {}
    for name, sql in questions(archive):
        begun = time.perf_counter()
        frame = spark.sql(sql)
        answers[name] = [list(row) for row in frame.collect()]
        seconds[name] = round(time.perf_counter() - begun, 3)
        shuffles[name] = frame._jdf.queryExecution().executedPlan().toString().count("Exchange hashpartitioning")
    sql = dict(questions(archive))["02-omissions-by-month"]
    plan = spark.sql(sql)._jdf.queryExecution().executedPlan().toString()
    filters = [line[line.index("PartitionFilters"):].split(", PushedFilters")[0] for line in plan.splitlines() if "PartitionFilters" in line]
    where = sql[sql.index("WHERE") + 5:sql.index("GROUP")]
    opened = spark.read.parquet(f"{archive}/steps").where(where).select("_metadata.file_path").distinct().count()
    there = len(spark.read.parquet(f"{archive}/steps").inputFiles())
    workers = spark.sparkContext._jsc.sc().getExecutorMemoryStatus().size() - 1
    spark.stop()
    return dict(answers=answers, seconds=seconds, shuffles=shuffles, partition_filters=filters, files_opened=opened, files_there=there,
                workers=workers)


# The journals themselves.

def lived(program, path):
    """All that the questions ask of a run, from its journal's first line, its section's text in it, and the exported run."""
    first = open(path, "rb").readline()
    header = json.loads(first[9:])
    run = json.loads(subprocess.run([program, "export", path, "--format", "json"], check=True, capture_output=True).stdout)
    section = tomllib.loads(header["section"])
    fade = header.get("fade", "all")
    choices = {step for choice in section.get("choice", []) for step in choice["of"]}
    taken = {step["id"]: step for step in run["steps"]}
    perhaps = [f["sentence"] for f in run["findings"] if f["kind"] == "perhaps_called"]
    steps = []
    for step in section["step"]:
        if fade == "hygiene" and not (step.get("hygiene") or step.get("labels")):
            continue
        title = step["title"]
        there = taken.get(step["id"])
        steps.append(dict(
            step=step["id"], title=title, critical=step.get("critical", False), hygiene=step.get("hygiene", False),
            needed=not step.get("optional", False) and step["id"] not in choices,
            left_out=there is None and not any(title.lower() in s.lower() for s in perhaps),
            took=None if there is None else round(there["took_s"] * 1000),
            plan=round(step["minutes"] * 60000) if step.get("minutes") else None))
    events = [json.loads(line[9:]) for line in open(path, "rb").read().splitlines()[1:]]
    heard = [e["event"]["heard"]["meaning"] for e in events if isinstance(e.get("event"), dict) and "heard" in e["event"]]
    limits = [phase["limit_s"] for phase in run["phases"]]
    past = (header.get("past") or {}).get("ready")
    person, klass, school = (os.path.basename(p) for p in (os.path.dirname(path), os.path.dirname(os.path.dirname(path)),
                                                         os.path.dirname(os.path.dirname(os.path.dirname(path)))))
    # Findings that are critical: none of these sections has points, whose mark would count, too.
    assert run["points"] is None
    return dict(
        run=hashlib.sha256(first[9:].rstrip(b"\n")).hexdigest()[:32], school=school, klass=klass, person=person,
        section=run["section"]["id"], edition=run["section"]["edition"], started=datetime.fromisoformat(run["started"]),
        month=run["started"][:7], mode=run["mode"], fade=fade, finished=run["ending"] == "finished",
        counts=run["ending"] in ("finished", "timed_out") and run["compress"] == 1 and not header.get("drill"),
        used=round(run["used_s"] * 1000), limited=None not in limits, critical=sum(f["critical"] for f in run["findings"]),
        findings=len(run["findings"]), hygiene=len(run["hygiene"]), dropped=sum(m.get("command") == "dropped_item" for m in heard),
        steps=steps, sheet=run.get("sheet", []), ready=past)


def grouped(items, key):
    groups = collections.defaultdict(list)
    for item in items:
        groups[key(item)].append(item)
    return sorted(groups.items())


def share(items, of):
    return float(Fraction(sum(1 for i in items if of(i)), len(items)))


def mean(items, of):
    return float(Fraction(sum(of(i) for i in items), len(items)))


def ask_journals(program, folder):
    paths = sorted(glob.glob(f"{folder}/*/*/*/*.journal"))
    with ThreadPoolExecutor(2) as pool:
        runs = [r for r in pool.map(lambda p: lived(program, p), paths) if r["counts"]]
    steps = [dict(r, **s) for r in runs for s in r["steps"]]
    needed = [s for s in steps if s["needed"]]
    left = lambda s: s["left_out"]
    good = lambda r: r["critical"] == 0 and (r["finished"] or not r["limited"])
    answers = {}

    rows = [[sec, step, min(s["title"] for s in g), len(g), sum(map(left, g)), share(g, left)]
            for (sec, step), g in grouped(needed, lambda s: (s["section"], s["step"]))]
    answers["01-omissions-by-step"] = sorted(rows, key=lambda r: (r[0], -r[5], r[1]))

    months = [s for s in needed if s["section"] == "basic-facial" and "2026-04" <= s["month"] <= "2026-05"]
    answers["02-omissions-by-month"] = [[m, c, len(g), sum(map(left, g)), share(g, left)]
                                        for (m, c), g in grouped(months, lambda s: (s["month"], s["critical"]))]

    lines = [(r["section"], c["number"], r["school"], c) for r in runs for c in r["sheet"]
             if c["claim"] in ("claimed", "not_claimed", "contradicted")]
    answers["03-criteria-by-school"] = [
        [*key, min(c[3]["text"] for c in g), len(g), sum(c[3]["claim"] == "claimed" for c in g),
         sum(c[3]["claim"] == "contradicted" for c in g), share(g, lambda c: c[3]["claim"] == "claimed")]
        for key, g in grouped(lines, lambda c: c[:3])]

    nth = []
    for (*_, section, _), g in grouped(runs, lambda r: (r["school"], r["person"], r["section"], r["edition"])):
        nth += [(section, n + 1, r) for n, r in enumerate(sorted(g, key=lambda r: (r["started"], r["run"])))]

    def middle(values):
        values = sorted(values)
        return (values[(len(values) - 1) // 2] + values[len(values) // 2]) / 2

    answers["04-time-by-nth-run"] = [
        [sec, n, len(g), mean(g, lambda i: i[2]["used"]) / 1000, middle([i[2]["used"] for i in g]) / 1000, share(g, lambda i: i[2]["finished"])]
        for (sec, n), g in grouped(nth, lambda i: i[:2]) if len(g) >= 5 and n <= 60]

    timed = [s for s in steps if s["took"] is not None and s["plan"] is not None]
    answers["05-step-times"] = [
        [sec, step, min(s["title"] for s in g), len(g), max(s["plan"] for s in g) / 1000, mean(g, lambda s: s["took"]) / 1000,
         share(g, lambda s: s["took"] > s["plan"]), share(g, lambda s: 2 * s["took"] > 3 * s["plan"])]
        for (sec, step), g in grouped(timed, lambda s: (s["section"], s["step"]))]

    told = [r for r in runs if r["ready"]]
    answers["06-readiness-calibration"] = [
        [sec, t, len(g), mean(g, lambda r: r["ready"][0]), mean(g, lambda r: r["ready"][1]), mean(g, lambda r: r["ready"][2]),
         mean(g, lambda r: 100 * good(r)), mean(g, lambda r: (r["ready"][0] - 100 * good(r)) ** 2) / 10000]
        for (sec, t), g in grouped(told, lambda r: (r["section"], min(9, r["ready"][0] // 10)))]

    exams = {}
    for r in runs:
        key = (r["school"], r["person"], r["section"], r["edition"])
        if r["mode"] == "exam":
            exams[key] = max(exams.get(key, r["started"]), r["started"])
    counted = []
    for s in needed:
        exam = exams.get((s["school"], s["person"], s["section"], s["edition"]))
        if exam and s["started"] <= exam:
            counted.append((s, s["started"] > exam - timedelta(days=14)))
    rows = []
    for (sec, step), g in grouped(counted, lambda c: (c[0]["section"], c[0]["step"])):
        late, earlier = [s for s, l in g if l], [s for s, l in g if not l]
        if late and earlier:
            rows.append([sec, step, min(s["title"] for s, _ in g), len(late), sum(map(left, late)), len(earlier), sum(map(left, earlier)),
                         share(late, left) - share(earlier, left)])
    answers["07-worse-before-exams"] = sorted(rows, key=lambda r: (r[0], -r[7], r[1]))

    rows = []
    for sec, g in grouped(runs, lambda r: r["section"]):
        classes = [(key, len(c), sum(map(good, c))) for key, c in grouped(g, lambda r: (r["school"], r["klass"]))]
        total, all_good = len(g), sum(map(good, g))
        m = Fraction(all_good, total)
        spread = sum(n * (Fraction(k, n) - m) ** 2 for _, n, k in classes)
        room = total - Fraction(sum(n * n for _, n, _ in classes), total) - (len(classes) - 1)
        likeness = (spread - m * (1 - m) * (len(classes) - 1)) / (m * (1 - m) * room) if 0 < m < 1 and room > 0 else 0
        for key, n, k in classes:
            shrunk = m if likeness <= 0 else Fraction(k, n) if likeness >= 1 else (
                (k + m * (1 - likeness) / likeness) / (n + (1 - likeness) / likeness))
            rows.append([sec, *key, n, k, k / n, float(shrunk)])
    answers["08-classes-shrunk"] = rows

    base = lambda r: r["section"].replace("-hygiene", "").replace("-silent", "")
    answers["09-fading"] = [
        [*key, len(g), mean(g, lambda r: r["findings"]), mean(g, lambda r: r["critical"]), share(g, lambda r: r["findings"] == 0),
         share(g, lambda r: r["finished"])] for key, g in grouped(runs, lambda r: (base(r), r["fade"]))]

    due = dict(grouped([s for s in needed if s["hygiene"]], lambda s: (s["school"], s["month"])))
    answers["10-hygiene-by-school"] = [
        [*key, len(g), mean(g, lambda r: r["hygiene"]), sum(r["dropped"] for r in g), len(due[key]), sum(map(left, due[key])), share(due[key], left)]
        for key, g in grouped(runs, lambda r: (r["school"], r["month"])) if key in due]

    rows = []
    for (school, section, person), g in grouped(runs, lambda r: (r["school"], r["section"], r["person"])):
        g = sorted(g, key=lambda r: (r["started"], r["run"]))[-5:]
        rows.append([school, min(r["klass"] for r in g), section, person, len(g), sum(r["critical"] for r in g), sum(r["findings"] for r in g),
                     sum(r["limited"] and not r["finished"] for r in g)])
    answers["11-who-needs-help"] = sorted(rows, key=lambda r: (-r[5], -r[7], -r[6], r[0], r[2], r[3]))[:100]

    since = []
    for _, g in grouped(runs, lambda r: (r["school"], r["person"], r["section"], r["edition"])):
        g = sorted(g, key=lambda r: (r["started"], r["run"]))
        for before, r in zip([None, *g], g):
            gap = before and r["started"] - before["started"]
            since.append(("0 the first" if gap is None else "1 under two days" if gap < timedelta(days=2) else "2 under a week"
                          if gap < timedelta(days=7) else "3 under four weeks" if gap < timedelta(days=28) else "4 four weeks or more", r))
    answers["12-after-a-break"] = [
        [key, len(g), mean(g, lambda i: i[1]["findings"]), share(g, lambda i: i[1]["critical"] > 0), share(g, lambda i: i[1]["finished"])]
        for key, g in grouped(since, lambda i: i[0])]
    return dict(answers=answers, runs=len(paths))


def equal(a, b):
    if isinstance(a, float) or isinstance(b, float):
        return a is not None and b is not None and abs(a - b) <= 1e-9 * max(1.0, abs(a), abs(b))
    return a == b and isinstance(a, bool) == isinstance(b, bool)


def same(one, other):
    """How many questions have equal answers, how many rows those are, and the first differences."""
    alike, rows, differ = 0, 0, []
    for name in sorted(one.keys() | other.keys()):
        a, b = one.get(name), other.get(name)
        ok = a is not None and b is not None and len(a) == len(b) and all(
            len(x) == len(y) and all(map(equal, x, y)) for x, y in zip(a, b))
        # An answer without rows shows nothing.
        ok = ok and len(a) > 0
        alike += ok
        rows += len(a) if ok else 0
        if not ok:
            first = next(((x, y) for x, y in zip(a or [], b or []) if not (len(x) == len(y) and all(map(equal, x, y)))), None)
            differ.append(f"{name}: {len(a or [])} and {len(b or [])} rows, first difference {first}")
    return alike, rows, differ


def grow(archive, to, runs):
    db = duckdb_on(archive, "6GB", ["SET partitioned_write_max_open_files = 400"])
    base = db.execute("SELECT count(*) FROM runs").fetchone()[0]
    copies = -(-runs // base)
    schools = max(2, runs // 250_000)
    os.makedirs(to)
    for table in TABLES:
        columns = [row[0] for row in db.execute(f"DESCRIBE {table}").fetchall()]
        kept = [c for c in columns if c not in ("run", "person", "started", "took_ms", "used_ms", "school", "month")]
        jitter = ", ".join(f"{c} + CAST(hash(run, k) % 2001 AS BIGINT) AS {c}" for c in ("took_ms", "used_ms") if c in columns)
        for school in range(schools):
            db.execute(f"""
                COPY (
                  WITH shifted AS (
                    SELECT *, started + to_months(CAST(k % 3 AS INTEGER)) AS later FROM (SELECT * FROM {table}) t, range({copies}) c(k)
                    WHERE k % {schools} = {school} AND k * {base} < {runs}
                  )
                  SELECT md5(run || k) AS run, person || '-' || k AS person, later AS started, {', '.join(kept)}{', ' + jitter if jitter else ''},
                         'school-{school:02}' AS school, strftime(later, '%Y-%m') AS month
                  FROM shifted
                ) TO '{to}/{table}' (FORMAT parquet, PARTITION_BY (school, section, month), COMPRESSION zstd, ROW_GROUP_SIZE 122880,
                  OVERWRITE_OR_IGNORE, FILENAME_PATTERN 'part-{{uuid}}')""")
    size = sum(os.path.getsize(p) for p in glob.glob(f"{to}/**/*.parquet", recursive=True))
    return dict(runs=duckdb_on(to).execute("SELECT count(*) FROM runs").fetchone()[0], schools=schools, bytes=size)


def main():
    verb, *rest = sys.argv[1:]
    if verb == "same":
        alike, rows, differ = same(*(json.load(open(p))["answers"] for p in rest))
        print(f"{alike} of {len(json.load(open(rest[0]))['answers'])} ({rows} rows)")
        for line in differ:
            print(line, file=sys.stderr)
        sys.exit(bool(differ))
    if verb == "grow":
        print(json.dumps(grow(rest[0], rest[1], int(rest[2]))))
        return
    if verb == "duckdb":
        answer, out = ask_duckdb(rest[0], *rest[2:]), rest[1]
    elif verb == "spark":
        answer, out = ask_spark(rest[0]), rest[1]
    else:
        answer, out = ask_journals(rest[0], rest[1]), rest[2]
    with open(out, "w") as file:
        json.dump(answer, file, default=float)


if __name__ == "__main__":
    main()
