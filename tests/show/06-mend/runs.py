"""Runs of a section, written as the program's journals are, for figures that many runs are needed for.

    runs.py SECTION.toml FOLDER FIRST COUNT COMPRESS [LEFT_OUT:IN_SO_MANY]...

writes COUNT journals, a day each from the day FIRST (1 to 28) of April 2026 on: every step of the section is called in the order of the file, each
after as much of its `minutes` (a minute where it has none) as COMPRESS leaves, but LEFT_OUT (a step's id) in the first IN_SO_MANY.
"""
import hashlib
import json
import pathlib
import sys
import tomllib
import zlib

RATE = 16_000
LATE = 4.0


def journal(text, section, day, compress, left_out):
    header = dict(stepbell=2, program="0.1.0", started=f"2026-04-{day:02}T10:00:00Z", section=text,
                  section_sha256=hashlib.sha256(text.encode()).hexdigest(), rate=RATE, compress=compress, mode="coach",
                  seed=day, state=0)
    place = lambda seconds: round(seconds * RATE)
    events = [(0, "opened")]
    now, speech = 1.0, 0
    for spoken in range(section["reading"]["times"] + 1):
        events.append((now, {"speech_ended": spoken}))
        if spoken < section["reading"]["times"]:
            events.append((now + 2, {"timer_fired": "gap"}))
            now += 3

    def heard(meaning):
        at = place(now)
        events.append((now + 0.7, {"heard": dict(meaning=meaning, start=at, end=at + place(0.5), confidence=1.0)}))

    now += 2.0
    for step in section["step"]:
        if step.get("optional") or step["id"] in left_out:
            continue
        heard({"callout": step["say"][0]})
        now += max(2.0, step.get("minutes", 1.0) * 60 / compress)
    heard({"command": "finished"})
    events.append((now + LATE, {"timer_fired": "late"}))
    out, total = b"", 0
    for line in [header] + [dict(at=place(at), event=event) for at, event in events]:
        data = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode()
        total = zlib.crc32(data, total)
        out += f"{total:08x} ".encode() + data + b"\n"
    return out


def main():
    file, folder, first, count, compress = sys.argv[1], pathlib.Path(sys.argv[2]), *map(int, sys.argv[3:6])
    text = pathlib.Path(file).read_text()
    section = tomllib.loads(text)
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(count):
        left_out = {step for step, times in (x.split(":") for x in sys.argv[6:]) if number < int(times)}
        day = first + number
        (folder / f"2026-04-{day:02}T10-00-00-{section['id']}.journal").write_bytes(journal(text, section, day, compress, left_out))


if __name__ == "__main__":
    main()
