"""The licences of what is in a bundle.

licences.py check                    hold crates and parts against what is allowed, for every system
licences.py write BUNDLE TARGET      the same for one unpacked bundle and each file in it; writes BUNDLE/licences

Ends with 1 where a licence is unknown or not allowed, a text is missing, or a file belongs to no part. A part in doubt is told, and is no
error: whoever passes a bundle on must look. Needs Python 3.11 and cargo, no network.
"""
import fnmatch, hashlib, json, pathlib, re, shutil, subprocess, sys, tomllib

ROOT = pathlib.Path(__file__).resolve().parents[2]
SYSTEMS = {"x86_64-unknown-linux-gnu": "linux", "aarch64-unknown-linux-gnu": "linux", "x86_64-pc-windows-gnu": "windows",
           "x86_64-apple-darwin": "macos", "aarch64-apple-darwin": "macos"}
parts_file = tomllib.loads((ROOT / "models/bundle/parts.toml").read_text())
crates_allowed = set(tomllib.loads((ROOT / ".deny.toml").read_text())["licenses"]["allow"])
parts_allowed = crates_allowed | set(parts_file["allow"])


def chosen(expression, allowed):
    """The licences that an SPDX expression asks for, with the first way that is allowed; None where none is."""
    tokens = re.findall(r"[()]|[^\s()]+", expression.replace("/", " OR "))

    def one():
        if tokens and tokens[0] == "(":
            tokens.pop(0)
            found = either()
            if tokens[:1] != [")"]:
                raise ValueError(expression)
            tokens.pop(0)
            return found
        name = tokens.pop(0)
        if tokens[:1] == ["WITH"]:
            tokens.pop(0)
            name = f"{name} WITH {tokens.pop(0)}"
        # An exception only ever adds to what the licence allows.
        return [name] if name in allowed or name.split(" WITH ")[0] in allowed else None

    def both():
        found = one()
        while tokens[:1] == ["AND"]:
            tokens.pop(0)
            other = one()
            found = found + other if found is not None and other is not None else None
        return found

    def either():
        found = both()
        while tokens[:1] == ["OR"]:
            tokens.pop(0)
            other = both()
            found = found if found is not None else other
        return found

    found = either()
    if tokens:
        raise ValueError(expression)
    return found


def crates(target):
    """Every crate that is linked into the program for a target: name, version, licence, folder, authors."""
    told = subprocess.run(["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", target],
                          cwd=ROOT, check=True, capture_output=True, text=True)
    data = json.loads(told.stdout)
    nodes = {n["id"]: n for n in data["resolve"]["nodes"]}
    # A procedural macro and what it is made of run in the compiler, and are in no program.
    macros = {p["id"] for p in data["packages"] if any("proc-macro" in t["kind"] for t in p["targets"])}
    wanted, waiting = set(), [data["resolve"]["root"]]
    while waiting:
        at = waiting.pop()
        if at in wanted or at in macros:
            continue
        wanted.add(at)
        waiting += [d["pkg"] for d in nodes[at]["deps"] if any(k["kind"] is None for k in d["dep_kinds"])]
    wanted.remove(data["resolve"]["root"])
    packages = [p for p in data["packages"] if p["id"] in wanted]
    return sorted(packages, key=lambda p: (p["name"], p["version"]))


def read(package):
    """The licence that parts.toml says a crate's text is, as long as it is that text."""
    known = parts_file["read"].get(package["name"])
    text = known and pathlib.Path(package["manifest_path"]).parent / known["file"]
    same = text and text.is_file() and hashlib.sha256(text.read_bytes()).hexdigest() == known["sha256"]
    return known["licence"] if same else ""


def texts(package):
    folder = pathlib.Path(package["manifest_path"]).parent
    names = re.compile(r"(licen[cs]e|copying|notice|unlicense|copyright)", re.I)
    found = [p for p in sorted(folder.iterdir()) if p.is_file() and names.match(p.name)]
    if package["license_file"] and folder / package["license_file"] not in found:
        found.append(folder / package["license_file"])
    return found


def check(target, bundle=None):
    """Rows of the list for a target, and what is wrong."""
    rows, wrong, files = [], [], {}
    system = SYSTEMS[target]
    if bundle:
        files = {str(p.relative_to(bundle)): None for p in sorted(bundle.rglob("*")) if p.is_file()}
    for part in parts_file["part"]:
        if system not in part.get("only", ["linux", "windows", "macos"]):
            continue
        mine = [f for f in files if any(fnmatch.fnmatch(f, glob) for glob in part.get("files", []))]
        for file in mine:
            if files[file]:
                wrong.append(f"{file} belongs to {files[file]} and to {part['name']}")
            files[file] = part["name"]
        if bundle and not mine and not part.get("inside"):
            continue  # left out of this bundle
        if chosen(part["licence"], parts_allowed) is None:
            wrong.append(f"{part['name']}: {part['licence']} is not among what is allowed")
        if part["status"] not in ("clear", "doubt") or part["status"] == "doubt" and not part.get("note"):
            wrong.append(f"{part['name']}: its status is 'clear', or 'doubt' with a note")
        where = [ROOT / t for t in part["texts"]]
        wrong += [f"{part['name']}: its licence text {t} is not there" for t in where if not t.is_file()]
        rows.append((part["name"], part.get("version", "-"), part["licence"], part["status"], where, part["source"], part.get("note", "")))
    wrong += [f"{file} belongs to no part of parts.toml" for file, part in files.items() if not part]
    for package in crates(target):
        licence = package["license"] or read(package)
        found = chosen(licence, crates_allowed) if licence else None
        if found is None:
            wrong.append(f"crate {package['name']}: {licence or 'no licence'} is not among what .deny.toml allows")
            continue
        where = texts(package)
        note = "" if where else "its package holds no text; the usual one stands for it, authors: " + (", ".join(package["authors"]) or "not named")
        if not where:
            where = [ROOT / f"models/bundle/texts/{name.split(' ')[0]}.txt" for name in found]
            wrong += [f"crate {package['name']}: no text of {t.stem} is there" for t in where if not t.is_file()]
        rows.append((package["name"], package["version"], licence, "clear", where, "crates.io", note))
    return rows, wrong


def told(rows, wrong, target):
    for line in wrong:
        print(f"licences: {target}: {line}", file=sys.stderr)
    doubt = [row for row in rows if row[3] == "doubt"]
    for row in doubt:
        print(f"licences: {target}: in doubt: {row[0]}: {row[6]}", file=sys.stderr)
    print(f"licences: {target}: {len(rows)} parts, {len(wrong)} unknown or wrong, {len(doubt)} in doubt")


def main():
    if sys.argv[1:] == ["check"]:
        bad = 0
        for target in SYSTEMS:
            rows, wrong = check(target)
            told(rows, wrong, target)
            bad += len(wrong)
        return int(bad > 0)
    if len(sys.argv) != 4 or sys.argv[1] != "write":
        print(__doc__, file=sys.stderr)
        return 2
    bundle, target = pathlib.Path(sys.argv[2]), sys.argv[3]
    rows, wrong = check(target, bundle)
    out = bundle / "licences"
    out.mkdir(exist_ok=True)
    kept = {}  # equal texts are kept once
    lines = ["part\tversion\tlicence\tstatus\ttexts\tsource\tnote"]
    for name, version, licence, status, where, source, note in rows:
        names = []
        for text in where:
            body = text.read_bytes()
            if body not in kept:
                kept[body] = f"{name}-{version}-{text.name}" if source == "crates.io" else f"{name}-{text.name}"
                (out / kept[body]).write_bytes(body)
            names.append(kept[body])
        lines.append("\t".join([name, version, licence, status, " ".join(names), source, note]))
    (out / "parts.tsv").write_text("\n".join(lines) + "\n")
    told(rows, wrong, target)
    return int(bool(wrong))


sys.exit(main())
