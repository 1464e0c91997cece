#!/usr/bin/env bash
# The released program has what makes a fault harder to use: it lies anywhere, its functions are bound when it starts, the
# table of them is then read-only, no stack is executable, stacks and copies are watched. Depends on the compiler: what it has
# not (indirect calls checked, on a processor that is neither x86-64 nor ARM64) is not asked for.
set -euo pipefail
program=$1
failed=0
want() { # what, and the command that must find it
  local what=$1
  shift
  "$@" >/dev/null || { echo "hardened: not so: $what" >&2; failed=1; }
}
has() { readelf -W "$1" "$program" | grep -E "$2"; }
want "its place in memory is drawn anew (PIE)" has -h 'Type: *DYN'
want "functions are bound at the start (now)" has -d 'FLAGS_1.*NOW'
want "and then read-only (relro)" has -l 'GNU_RELRO'
want "the stack is not executable" has -l 'GNU_STACK .* RW '
want "stacks are watched" has -s '__stack_chk_fail'
want "copies are watched (fortify)" has -s '__(memcpy|snprintf|vsnprintf|strcpy|printf|fprintf)_chk'
case $(uname -m) in
  x86_64) want "calls land where functions begin (CET)" sh -c "objdump -d --no-show-raw-insn '$program' | grep -m 100 endbr64 | sed -n 100p | grep ." ;;
  aarch64) want "calls land where functions begin (BTI)" sh -c "objdump -d --no-show-raw-insn '$program' | grep -m 1 'bti'" ;;
esac
[ "$failed" = 0 ] && echo "1 passed, 0 failed"
exit "$failed"
