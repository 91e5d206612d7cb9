# What was computed or told wrongly of a run. Sourced by 06-mend.sh, in the fresh clone.
equal() { # name, value, what it must be
  [ "$2" = "$3" ]; figure "$1" "$2" "$3" $?
}

# A journal of the state before: gloves off, a dropped item, hands; and the contact time, which has no minutes, called twice.
run=tests/data/journals/dropped-item.journal
shown=$("$stepbell" recap "$run")
equal "gloves off, dropped item, sanitize: cleanings told as not called" "$(grep -c 'Not called' <<<"$shown")" 0
equal "and the planned cleaning is in the table" "$(grep -c 'sanitise hands after gloves$' <<<"$shown")" 1
equal "the item is answered by it" "$(grep -c 'Dropped item called at 34 seconds, and hands 3 seconds later' <<<"$shown")" 1
equal "callouts said twice that are a finding" "$(grep -c 'Called once more' <<<"$shown")" 0
equal "the contact time called at 0:19 and 0:22, gloves off at 0:24: took" "$(awk '/contact time/ { print $2 }' <<<"$shown")" 0:06
equal "its plan in the recap" "$(awk '/contact time/ { print $3 }' <<<"$shown")" contact
"$stepbell" export "$run" --format json --out "$work/run.json" >/dev/null
plan=$(python3 -c 'import json, sys; print([s["plan_s"] for s in json.load(open(sys.argv[1]))["steps"] if s["id"] == "contact-time"][0])' "$work/run.json")
equal "its plan in the data" "$plan" None
"$stepbell" page "$run" --out "$work/run.html" >/dev/null
equal "its bars on the page that are drawn as more than twice the plan" "$(grep -o 'class="bar late"[^>]*><title>contact time' "$work/run.html" | wc -l)" 0
phrase="scratch"" that"
equal "files of the tree that hold the old phrase for taking back" "$(git grep -il "$phrase" | wc -l)" 0

tests "steps told apart, repeats and dropped items" --test suite -- --nocapture review::
tests "one clock; no minutes, no plan" --test suite -- --nocapture clock::
tests "names that are taken for one another are answered together" --test suite -- --nocapture questions::names questions::when
tests "Ctrl-C, steps not reached, a recording that waits" --test suite -- --nocapture held::
tests "old journals, and the number of the state" --test suite -- --nocapture journals::
