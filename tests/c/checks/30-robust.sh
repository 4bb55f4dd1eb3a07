# The whole suite under the tools that watch memory, with a panic injected, and the lists that must be complete.

# The suite with the static library, so that the library's own allocations are seen by the sanitizers as well.
static_flags=(-lutil -lrt -lpthread -lm -ldl)

sanitized() {
  gcc -std=c99 "${warn[@]}" -g -O1 -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer \
    -I"$prefix/include" tests/c/suite/*.c -o "$work/suite-sanitized" "$libdir/libelbowroom.a" "${static_flags[@]}"
  ASAN_OPTIONS=detect_leaks=1:strict_string_checks=1 UBSAN_OPTIONS=print_stacktrace=1 "$work/suite-sanitized"
}
check "robust: suite under ASan and UBSan, static library" "gcc" sanitized

# The same library fed with changed texts and images; `FUZZ_SECONDS=3600` by hand.
fuzzed() {
  gcc -std=c99 "${warn[@]}" -g -O1 -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer \
    -I"$prefix/include" tests/c/fuzz.c -o "$work/fuzz" "$libdir/libelbowroom.a" "${static_flags[@]}"
  "$work/fuzz" "${FUZZ_SECONDS:-5}" "${FUZZ_SEED:-1}" tests/fuzz/corpus/*.toml
}
check "robust: changed texts under ASan and UBSan" "gcc" fuzzed

# The vectors take valgrind minutes; a part of them is enough, for each line takes the same path.
watched() {
  build_suite suite-valgrind gcc -std=c99 -O1
  ELB_TEST_FEWER=1 valgrind -q --error-exitcode=9 --suppressions=tests/c/valgrind.supp \
    --leak-check=full --show-leak-kinds=all --errors-for-leak-kinds=all "$work/suite-valgrind"
  echo "# no leak, no error"
}
check "robust: suite under valgrind" "valgrind gcc" watched

# A build with `inject-panic`, moved to a folder of its own: never an installed library.
panics() {
  local folder=$work/inject-panic
  # A test beside the library: what only tests need shapes what the core is built with.
  cargo build "${with_tests[@]}" --lib --test header
  mkdir -p "$folder"
  mv "$root/target/debug/libelbowroom.so" "$folder/libelbowroom.so"
  ln -sf libelbowroom.so "$folder/libelbowroom.so.0"
  gcc -std=c99 "${warn[@]}" -g -I"$prefix/include" tests/c/panic.c -o "$work/panic" -L"$folder" -lelbowroom -lm
  LD_LIBRARY_PATH=$folder "$work/panic" 2>"$work/panic.stderr"
  # A library prints nothing.
  [ ! -s "$work/panic.stderr" ]
  ! nm -D "$libdir/libelbowroom.so" | grep -q elb_test_ || return 1
}
check "robust: a panic in any call comes out as a status, silently" "cargo gcc" panics

# Called, not merely mentioned.
calls_tested() {
  local call missing=0
  for call in $(header_calls); do
    grep -qE "\b$call(\(|,)" tests/c/suite/*.c || { echo "no test calls $call"; missing=1; }
    # The NULL tests: every call with pointers is refused somewhere for a NULL.
    case $call in
      elb_status_* | elb_version* | elb_clamped_name | elb_end_name | elb_follow_name | elb_reading_name | elb_reject_name | elb_severity_name | *_free) ;;
      *) grep -qE "(NULL_POINTER, |REFUSED\(|EACH\()$call\b" tests/c/suite/*.c || { echo "no test gives $call a NULL"; missing=1; } ;;
    esac
  done
  [ "$missing" = 0 ]
  echo "# $(header_calls | wc -l) calls"
}
check "lists: every call of the headers is tested, and given NULL" "" calls_tested

# Provoked, and its message read: every number of the header but OK. `refused` and its like end in SAYS.
statuses_tested() {
  local status missing=0 number=0
  for status in $(grep -oE '^ *ELB_STATUS_[A-Z0-9_]+ = ' include/elbowroom.h | grep -oE '[A-Z0-9_]{4,}'); do
    [ "$status" = ELB_STATUS_OK ] && continue
    number=$((number + 1))
    cat tests/c/suite/*.c tests/c/panic.c | tr '\n' ' ' |
      grep -qE "((SAYS|refused|no_plan)\($status, [^;]*\"| $status, [0-9]+, [0-9]+, \")" ||
      { echo "no test provokes $status and reads its message"; missing=1; }
  done
  [ "$missing" = 0 ]
  [ "$number" -ge 49 ]
  echo "# $number statuses"
}
check "lists: every status is provoked and its message read" "" statuses_tested

symbols() {
  diff <(header_calls) <(nm -D --defined-only "$libdir/libelbowroom.so" | awk '{ print $3 }' | sort)
  diff <(header_calls) tests/c/abi/symbols.txt
  echo "# $(wc -l <tests/c/abi/symbols.txt) symbols"
}
check "abi: the shared library exports the headers' calls and nothing else" "nm" symbols
