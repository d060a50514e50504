#!/usr/bin/env bash
# Runs all five targets at once, three processes each, beside the folders that build.sh made:
#
#   fuzz.sh SECONDS OUT [PROCESSES]
#
# OUT gets one folder for each target: what crashed, hung or took too much memory, the log, and `last`, the last lines of each
# process. Ends with how many faults there are.
set -uo pipefail
seconds=$1
mkdir -p "$2"
out=$(cd "$2" && pwd)
processes=${3:-3}
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)

# fuzz TARGET PROCESS
fuzz() {
  local folder="$out/$1" work dictionary
  mkdir -p "$folder"
  # Each finds what the others of its target found in the folder that they share.
  work="$out/.corpus/$1"
  mkdir -p "$work"
  case $1 in
    reader | compare) dictionary=obj ;;
    carried) dictionary= ;;
    *) dictionary=$1 ;;
  esac
  local log="$folder/log-$2" found=0 left begun=$SECONDS
  # A fault ends a process; the rest of the time goes to another, while there are not too many faults to look at.
  while left=$((seconds - (SECONDS - begun))) && [ "$left" -gt 0 ] && [ "$found" -lt 20 ]; do
    "$here/bin/$1" "$work" "$here/seeds/$1" ${dictionary:+-dict="$here/dictionaries/$dictionary.dict"} \
      -max_total_time="$left" -timeout=10 -rss_limit_mb=4096 -max_len=16384 -reload=10 -print_final_stats=1 \
      -artifact_prefix="$folder/" >>"$log" 2>&1 && break
    found=$((found + 1))
  done
  tail -n 12 "$log" >"$folder/last-$2"
}

for target in reader brief review carried compare; do
  for ((process = 1; process <= processes; process++)); do
    fuzz "$target" "$process" &
  done
done
wait
rm -r "$out/.corpus"
faults=$(find "$out" -type f \( -name 'crash-*' -o -name 'timeout-*' -o -name 'oom-*' -o -name 'leak-*' \) | wc -l)
find "$out" -name 'log-*' -size +1M -exec sh -c 'tail -c 1000000 "$1" >"$1.end" && mv "$1.end" "$1"' _ {} \;
grep -h 'number_of_executed_units' "$out"/*/last-* | awk '{ sum += $2 } END { print sum + 0, "inputs" }'
echo "$faults faults"
