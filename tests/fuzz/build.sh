#!/usr/bin/env bash
# Builds the five targets, with seeds and dictionaries, into a folder that runs on another computer of the kind:
#
#   tests/fuzz/build.sh FOLDER [MODELS]
#   FOLDER/fuzz.sh SECONDS OUT
#
# MODELS is a folder of models to begin with, beside the project's own. What instruments the code are options of the stable
# compiler; neither nightly nor cargo-fuzz is needed. C++'s library is linked in.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
readonly TARGET=x86_64-unknown-linux-gnu
readonly TARGETS=(reader brief review carried compare)
readonly MOST_BYTES=16384
suite=${2:-${GRIDPROOF_OUTSIDE:-../../../shared}/parser-suite}
[ -d "$suite" ] || suite=../outside/data/parser-suite
bundle=$(mkdir -p "$1" && cd "$1" && pwd)

coverage="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-inline-8bit-counters"
coverage+=" -Cllvm-args=-sanitizer-coverage-pc-table -Cllvm-args=-sanitizer-coverage-trace-compares"
# The compiler at hand, whatever folder of objects it keeps the library in.
libraries=$(dirname "$(g++ -print-file-name=libstdc++.a)")
CXXSTDLIB="static=stdc++" RUSTFLAGS="--cfg fuzzing $coverage -Ccodegen-units=1 -Lnative=$libraries" \
  cargo build --release --target "$TARGET" --target-dir ../../target/fuzz

mkdir -p "$bundle"/{bin,seeds,dictionaries}
for target in "${TARGETS[@]}"; do
  strip -o "$bundle/bin/$target" "../../target/fuzz/$TARGET/release/$target"
  GRIDPROOF_SEEDS="$bundle/seeds" "$bundle/bin/$target" >/dev/null 2>&1
done
if [ -d "$suite" ]; then
  find "$suite" ../../demo -name '*.obj' -size -$((MOST_BYTES / 1024))k -exec cp -t "$bundle/seeds/reader" {} +
fi
cp dictionaries/*.dict "$bundle/dictionaries"
cp fuzz.sh "$bundle"
