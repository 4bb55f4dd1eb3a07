# The ABI of elbowroom.h as C sees it, compared with the committed snapshot. elbowroom_analysis.h promises none.
#
# abidw reads debug information. That of the library itself describes Rust's private types as well, so the snapshot is
# taken of a library of empty bodies, one for each declaration of the header, compiled with the header. That the real
# library has these symbols, no others, and structs of these sizes, is checked apart (symbols; layouts).
#
#   WRITE_ABI=1 tests/c/run abi    takes a new snapshot: for additions only, as the header's VERSIONS say

mirror() {
  # Each declaration ends with ELB_NOEXCEPT; on some line.
  {
    echo '#include <elbowroom.h>'
    sed 's#//.*##; /^#/d' include/elbowroom.h | tr '\n' ' ' | sed 's/extern "C" {//; s/ELB_NOEXCEPT *;/;\n/g' |
      grep -oE '(ELB_MUST_USE +)?(elb_status|void|uint32_t|const char \*) *elb_[a-z0-9_]+ *\([^()]*\) *;$' | grep -v '_flash' |
      sed -E 's/^ELB_MUST_USE +//' | sed -E 's/^void (.*);$/void \1 {}/; t; s/;$/ { return 0; }/'
  } >"$work/mirror.c"
  gcc -std=c99 -g -O0 -shared -fPIC -w -fdebug-prefix-map="$root=." -I"$prefix/include" "$work/mirror.c" -o "$work/libelbowroom-mirror.so" \
    -Wl,-soname,libelbowroom.so.0
  diff <(nm -D --defined-only "$work/libelbowroom-mirror.so" | awk '{ print $3 }' | sort) <(calls_of include/elbowroom.h)
}
abi_snapshot() {
  mirror
  if [ -n "${WRITE_ABI:-}" ]; then
    abidw --no-corpus-path --no-comp-dir-path --no-show-locs "$work/libelbowroom-mirror.so" |
      sed "s#path='$root/#path='./#" >tests/c/abi/elbowroom.abi
  fi
  abidiff --no-show-locs tests/c/abi/elbowroom.abi "$work/libelbowroom-mirror.so"
  echo "# no difference"
}
check "abi: abidiff with the committed snapshot" "gcc abidiff abidw" abi_snapshot

# The comparison can fail: a struct that grows in its middle, a number that moves.
abi_notices() {
  mirror
  mkdir -p "$work/changed"
  sed 's/^    double max_rate_per_s;/    double max_rate_per_s, more;/; s/ELB_STATUS_NOT_FINITE = 10/ELB_STATUS_NOT_FINITE = 210/' \
    include/elbowroom.h >"$work/changed/elbowroom.h"
  gcc -std=c99 -g -O0 -shared -fPIC -w -I"$work/changed" "$work/mirror.c" -o "$work/libelbowroom-changed.so" \
    -Wl,-soname,libelbowroom.so.0
  ! abidiff --no-show-locs tests/c/abi/elbowroom.abi "$work/libelbowroom-changed.so" || return 1
}
check "abi: abidiff notices a changed struct" "gcc abidiff" abi_notices

# Sizes and offsets in C against those of the library that is installed: config structs say their size on init, and
# the Rust side asserts its own when it is compiled. tests/c/abi/layouts.txt becomes a program of assertions.
layouts() {
  local compiler program=$work/layouts.c
  awk '
    BEGIN {
      print "#include <elbowroom_analysis.h>\n#ifndef __cplusplus\n#define static_assert _Static_assert\n#endif"
    }
    function is(what, number) { printf "static_assert(%s == %s%s, \"%s\");\n", what, number, (length(number) > 18 ? "ull" : ""), what }
    /^#/ || /^$/ { next }
    /^elb_/ { head = $1; size = $2; sub(":", "", size); is("sizeof(" head ")", size); sub("^[^:]*:", "") }
    /^ELB_/ { head = $1; sub(":", "", head); sub("^[^:]*:", "") }
    {
      n = split($0, pairs, ",")
      for (i = 1; i <= n; i++) if (split(pairs[i], pair, " ") == 2) {
        is(head ~ /^ELB_/ ? head pair[1] : "offsetof(" head ", " pair[1] ")", pair[2])
      }
    }' tests/c/abi/layouts.txt >"$program"
  for compiler in gcc clang; do
    $compiler -std=c11 "${warn[@]}" -I"$prefix/include" -fsyntax-only "$program"
  done
  g++ -x c++ -std=c++17 "${warn[@]}" -I"$prefix/include" -fsyntax-only "$program"
  echo "# $(grep -c static_assert\( "$program") assertions"
}
check "abi: numbers and layouts are the promised ones" "gcc g++ clang" layouts
