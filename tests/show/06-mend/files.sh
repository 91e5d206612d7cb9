# Files and data: what forget may delete, what is kept of a run, what is followed, read and believed.
f=$work/files; mkdir -p "$f/runs"; here=$PWD; v2=$here/tests/data/journals/v2.journal
facial=$here/prompts/skin-care/basic-facial.toml
in_f() { (cd "$f" && "$stepbell" "$@") >"$work/out" 2>&1; } # the program in a folder with other people's files
stay() { # what was done, then the files that must still be there; it must have been refused, too
  local what=$1 rc=$2; shift 2
  local gone=0; for file in "$@"; do [ -e "$f/$file" ] || gone=$((gone + 1)); done
  figure "$what" "exit $rc, $gone of $# files gone" "refused, 0 gone" $((rc == 0 || gone > 0))
}
peak() { # a command -> its exit code, seconds, peak MB; the output is in $work/out
  python3 - "$work/out" "$@" <<'PY'
import resource, subprocess, sys, time
begun = time.time()
try:
    code = subprocess.run(sys.argv[2:], stdout=open(sys.argv[1], "wb"), stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, timeout=60).returncode
except subprocess.TimeoutExpired:
    code = "hangs"
print(code, f"{time.time() - begun:.1f}", resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)
PY
}
refused() { # name, exit code wanted, words wanted, most MB, command...
  local name=$1 code=$2 words=$3 most=$4; shift 4
  local rc s mb; read -r rc s mb < <(peak "$@")
  local met=0; [ "$rc" = "$code" ] && [ "$mb" -le "$most" ] && grep -q -- "$words" "$work/out" || { met=1; head -3 "$work/out"; }
  figure "$name" "exit $rc, $s s, $mb MB" "exit $code, \"$words\", $most MB" $met
}

# 1. forget
touch "$f/Cargo.toml" "$f/Cargo.lock" "$f/thesis.md" "$f/thesis.bib" "$f/notes" "$f/notes.txt"
cp "$v2" "$f/x.journal"; for run in notes a a.b; do cp "$v2" "$f/runs/$run.journal"; done; touch "$f/runs/a.b.html" "$f/runs/notes.html"
in_f forget Cargo.toml; stay "forget Cargo.toml beside Cargo.lock" $? Cargo.toml Cargo.lock
in_f forget thesis.md; stay "forget thesis.md beside thesis.bib" $? thesis.md thesis.bib
in_f forget ../x; stay "forget ../x" $? x.journal
in_f forget notes; rc=$?
figure "forget notes, a run, beside files notes and notes.txt" "exit $rc, $(ls "$f" | grep -c '^notes') files, $(ls "$f/runs" | grep -c '^notes') of the run" \
  "exit 0, 2 files, 0 of the run" $((rc != 0 || $(ls "$f" | grep -c '^notes') != 2 || $(ls "$f/runs" | grep -c '^notes') != 0))
in_f forget a; rc=$?
figure "forget a beside a run a.b" "exit $rc, $(ls "$f/runs" | tr '\n' ' ')" "exit 0, both files of a.b" $((rc != 0 || $(ls "$f/runs" | wc -l) != 2))
"$stepbell" rehearse "$facial" --mic tests/audio/demo.wav --compress 10 --voice off --real-speed --runs "$f/on" >"$work/live" 2>&1 & live=$!
for _ in $(seq 100); do grep -q '“' "$work/live" && break; sleep 0.2; done
on=$(basename "$(ls "$f"/on/*.journal)" .journal); touch "$f/on/$on.html"
in_f forget "on/$on.html" --runs on; stay "forget RUN.html of a run that is going on" $? "on/$on.journal" "on/$on.html"
in_f forget "$on" --runs on; stay "forget a run that is going on" $? "on/$on.journal" "on/$on.html"
kill -9 $live; wait $live 2>/dev/null
mkdir "$f/runs/0.journal"; in_f forget --all --yes; rc=$?
figure "forget --all with a folder 0.journal among the runs" "exit $rc, $(ls "$f/runs" | tr '\n' ' ')" "exit 0, only the folder" $((rc != 0 || $(ls "$f/runs" | wc -l) != 1))

# 3. What is kept of a voice
m=$work/models; mkdir -p "$m"; for part in english voice vosk; do ln -s "$(readlink -f models/fetched)/$part" "$m/$part"; done
STEPBELL_MODELS=$m "$stepbell" rehearse "$facial" --mic tests/audio/demo.wav --compress 10 --runs "$f/voice" --render "$f/spoken.wav" >"$work/out" 2>&1; rc=$?
kept=$(find "$m/cache" -name '*.wav' | wc -l)
figure "a run with its recap aloud: sounds kept that others can read" "exit $rc, $(find "$m/cache" -perm /077 | wc -l) of $kept" "0 of some" $((rc != 0 || kept == 0 || $(find "$m/cache" -perm /077 | wc -l) != 0))
STEPBELL_MODELS=$m "$stepbell" recap --aloud --runs "$f/voice" >"$work/out" 2>&1
figure "the recap aloud again: sounds kept more than before" "$(($(find "$m/cache" -name '*.wav' | wc -l) - kept))" "0" $(($(find "$m/cache" -name '*.wav' | wc -l) != kept))
# Three times the limit, of last year: the next announcement that is kept makes room.
for k in 1 2 3; do truncate -s 256M "$m/cache/announcements/$(printf '%064d' $k).wav"; touch -d '1 year ago' "$m/cache/announcements/$(printf '%064d' $k).wav"; done
STEPBELL_MODELS=$m "$stepbell" rehearse prompts/skin-care/blood.toml --mic tests/audio/demo.wav --compress 20 --runs "$f/voice" >"$work/out" 2>&1
mb=$(($(find "$m/cache" -name '*.wav' -printf '%s+')0 >> 20)); figure "size of what is kept, after 768 MB were put there" "$mb MB" "at most 256 MB" $((mb > 256))

# 4. Planted links
mkdir "$f/planted"; cp "$v2" "$f/planted/x.journal"; size=$(stat -c %s "$v2"); printf '0badf00d {"at":99' >>"$f/planted/x.journal"; echo mine >"$f/victim"
for name in x.html x.html.part .index .index.part "x.journal.torn-$size"; do ln -s "$f/victim" "$f/planted/$name"; done
for verb in page resume; do in_f "$verb" x --runs planted; done; in_f history --runs planted
figure "links planted as RUN.html.part, .index.part, RUN.journal.torn-N: followed" "$(grep -qx mine "$f/victim" && echo 0 || echo some)" "0" $(($(grep -cx mine "$f/victim") != 1))
chmod 777 "$f/planted"; "$stepbell" rehearse prompts/skin-care/blood.toml --mic tests/audio/demo.wav --compress 20 --voice off --runs "$f/planted" >"$work/out" 2>&1
figure "a folder of runs that others can write in" "$(grep -o 'others can write in this folder' "$work/out")" "told" $(($(grep -c 'others can write' "$work/out") == 0))

# 5. Exports of a run whose digests differ
run=$(ls "$f"/voice/*facial*.journal | head -1)
python3 - "$run" "$f/voice/other.journal" <<'PY'
import sys, zlib
sum = 0
with open(sys.argv[2], "wb") as out:
    for line in open(sys.argv[1], "rb"):
        json = line[9:-1]
        if b'"digest":"' in json:
            json = json[:json.index(b'"digest":"') + 10] + b"0" * 32 + b'"}'
        sum = zlib.crc32(json, sum)
        out.write(b"%08x %s\n" % (sum, json))
PY
"$stepbell" export other --runs "$f/voice" --format json >"$f/x.json" 2>"$work/notice"; python3 -c 'import json, sys; json.load(open(sys.argv[1]))' "$f/x.json"; rc=$?
figure "export --format json where digests differ: valid, notice on stderr" "$rc, $(grep -c 'understands the run differently' "$work/notice") notice" "0, 1 notice" $((rc != 0 || $(grep -c 'understands' "$work/notice") != 1))
"$stepbell" export other --runs "$f/voice" --format csv >"$f/x.csv" 2>/dev/null
figure "export --format csv of the same begins with" "$(head -c 12 "$f/x.csv")" "run,section," $(($(head -c 12 "$f/x.csv" | grep -c 'run,section,') != 1))

# 7. Regular files only, limits before reading
wav() { # path, bytes of sound, none of which takes space
  python3 -c 'import struct, sys
n = int(sys.argv[2]); f = open(sys.argv[1], "wb")
f.write(b"RIFF" + struct.pack("<I", min(n + 36, 2**32 - 1)) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 1, 16000, 32000, 2, 16) + b"data" + struct.pack("<I", n)); f.truncate(44 + n)' "$1" "$2"
}
wav "$f/4gb.wav" 4294966000; wav "$f/7h.wav" 806400000; mkfifo "$f/fifo"; truncate -s 10G "$f/huge.journal"
run() { echo "$stepbell" rehearse "$facial" --compress 10 --voice off --runs "$f/r" --mic "$@"; }
# The model alone takes some 400 MB.
refused "a sparse WAV of 4 GB" 1 "longer than 6 hours" 600 $(run "$f/4gb.wav")
refused "a WAV of 7 hours" 1 "longer than 6 hours" 600 $(run "$f/7h.wav")
refused "check /dev/zero" 1 "a device, not a regular file" 600 "$stepbell" check /dev/zero
refused "a FIFO as WAV" 1 "a pipe, not a regular file" 600 $(run "$f/fifo")
cp -a "$f/fifo" "$f/runs/pipe.journal"
for verb in page resume recap; do refused "a FIFO as journal: $verb" 4 "a pipe, not a regular file" 100 "$stepbell" $verb pipe --runs "$f/runs"; done
mkdir -p "$f/piped" "$f/model/am"; cp -a "$f/fifo" "$f/piped/profile.toml"; cp -a "$f/fifo" "$f/model/am/final.mdl"
refused "a FIFO as profile" 4 "a pipe, not a regular file" 600 "$stepbell" rehearse "$facial" --voice off --mic tests/audio/demo.wav --runs "$f/piped"
refused "a FIFO as a model's file" 3 "a pipe, not a regular file" 100 $(run tests/audio/demo.wav) --model "$f/model"
refused "a journal of 10 GB" 4 "larger than 256 MiB" 100 "$stepbell" recap "$f/huge.journal"
python3 - "$v2" "$f/runs/far.journal" <<'PY'
import sys, zlib
lines = open(sys.argv[1], "rb").read().splitlines()[:2]
sum = zlib.crc32(lines[1][9:], zlib.crc32(lines[0][9:]))
with open(sys.argv[2], "wb") as out:
    out.write(b"\n".join(lines) + b"\n")
    for json in [b'{"at":%d,"event":"beat"}' % 2**63] * 2:
        sum = zlib.crc32(json, sum)
        out.write(b"%08x %s\n" % (sum, json))
PY
for verb in page resume; do refused "a place of 2^63 in a journal: $verb" 4 "more than 7 days behind the start" 100 "$stepbell" $verb far --runs "$f/runs"; done
mb=$(wav "$f/5h.wav" 576000000; peak $(run "$f/5h.wav") | cut -d' ' -f3)
figure "peak memory with a recording of 5 hours (it is read piece by piece)" "$mb MB" "at most 600 MB" $((mb > 600))

# 2. A full disk while the page is written
gcc -shared -fPIC -O1 -o "$work/faults.so" tests/fixture/faults.c -ldl; mkdir "$f/full"; cp "$v2" "$f/full/x.journal"
LD_PRELOAD=$work/faults.so FAULT=page:1 "$stepbell" resume x --runs "$f/full" >"$work/out" 2>&1; rc=$?
figure "disk full while a run's page is written" "exit $rc, $(ls -A "$f/full" | wc -l) file; $(grep -o '`stepbell page`' "$work/out")" "exit 4, 1 file, advice that exists" $((rc != 4 || $(ls -A "$f/full" | wc -l) != 1 || $(grep -c '`stepbell page`' "$work/out") != 1))

# 20. Messages
touch "$f/afile"
refused "--runs afile" 4 "is a file, not a folder" 600 "$stepbell" rehearse "$facial" --voice off --mic tests/audio/demo.wav --runs "$f/afile"
refused "show prompts" 1 "is a folder, not a file" 100 "$stepbell" show prompts

# 9. Set-up, unsafe code, crates
cp -r --reflink=auto "$(readlink -f models/fetched)" "$work/fetched"; rm models/fetched; mv "$work/fetched" models/fetched
printf '\1' | dd of=models/fetched/english/am/final.mdl bs=1 seek=5000 conv=notrunc status=none
bash models/setup.sh >"$work/out" 2>&1; rc=$?; (cd models/fetched && sha256sum --check --status ../english.sha256); sums=$?
figure "a byte of english/am/final.mdl changed: set-up says so and writes it anew" "exit $rc, $(grep -o 'not as it was written: .*' "$work/out"), sums $sums" "exit 0, sums 0" $((rc != 0 || sums != 0 || $(grep -c 'final.mdl' "$work/out") == 0))
printf x >>models/fetched/vosk/libvosk.so
PIP_NO_INDEX=1 bash models/setup.sh >"$work/out" 2>&1; rc=$?
figure "libvosk.so changed, and no network to fetch it again" "exit $rc, $(grep -o 'not as it was fetched: .*' "$work/out")" "not 0, named" $((rc == 0 || $(grep -c libvosk.so "$work/out") == 0))
rm -r models/fetched; ln -s "$root/models/fetched" models/fetched
figure "unsafe code in the package" "$(grep -c '^unsafe_code = "forbid"' Cargo.toml) rule of Cargo, $(grep -rlE '\bunsafe (fn|impl|\{)' src tests --include=*.rs | wc -l) files" "1 rule, 0 files" $(($(grep -c '^unsafe_code = "forbid"' Cargo.toml) != 1))
cmp -s tests/audit/requirements.txt models/fetched/python/audit.txt || { models/fetched/python/bin/python -m pip install --quiet --no-deps --require-hashes -r tests/audit/requirements.txt && cp tests/audit/requirements.txt models/fetched/python/audit.txt; }
bash tests/audit/audit.sh >"$work/out" 2>&1; rc=$?; [ $rc = 0 ] || tail -5 "$work/out"
figure "crates: known vulnerabilities, licences, sources" "$(tail -1 "$work/out")" "exit 0" $rc
sed '/^name = "bytes"$/{n;s/.*/version = "1.5.0"/}' Cargo.lock >"$work/old.lock"
mkdir -p "$work/db"; tar -C "$work/db" -xf tests/audit/rustsec-*.tar.xz
models/fetched/python/bin/cargo-audit audit --no-fetch --stale --db "$work/db" --file "$work/old.lock" >"$work/out" 2>&1; rc=$?
figure "the same with a crate of an old version that has a hole" "exit $rc, $(grep -o 'RUSTSEC-[0-9-]*' "$work/out" | sort -u | head -2 | tr '\n' ' ')" "not 0" $((rc == 0))
figure "lines outside src/platform that know the system" "$(grep -rnE '\bcfg!?\(|std::os::|rustix' src --include=*.rs | grep -v '^src/platform/' | grep -v 'cfg(test)' | grep -v '^src/audio/kept.rs.*PermissionsExt' | wc -l)" "0" \
  "$(grep -rnE '\bcfg!?\(|std::os::|rustix' src --include=*.rs | grep -v '^src/platform/' | grep -v 'cfg(test)' | grep -vc '^src/audio/kept.rs.*PermissionsExt')"
cd "$here" || exit 1
