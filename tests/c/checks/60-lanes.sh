# What the compiler made of the library as it is installed: see lanes/lanes.py. Other processors have no such classes.
lanes() {
  ! python3 tests/c/lanes/lanes.py <tests/c/lanes/lost.txt
  python3 tests/c/lanes/lanes.py <tests/c/lanes/kept.txt
  [ "$(uname -m)" = x86_64 ] || return 0
  # What a compiler prints is not printed again for a build that is still fresh. One form of the library has it all.
  touch bindings/c/src/lib.rs
  cargo rustc --locked -p elbowroom-c --profile installed --crate-type staticlib --target-dir "$root/target" -- \
    -C llvm-args=-print-after=register-coalescer 2>"$work/coalesced.txt"
  python3 tests/c/lanes/lanes.py <"$work/coalesced.txt"
}
check "lanes: no upper half of a register was lost in compilation" "cargo python3" lanes
