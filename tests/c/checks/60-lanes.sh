# What lanes/run looks for in the library, it finds where it is and not where it is not. The library itself takes ten
# minutes, nearly all of them printing: a step of a release (DEVELOPERS.md).
lanes() {
  ! python3 tests/c/lanes/lanes.py <tests/c/lanes/lost.txt || return 1
  python3 tests/c/lanes/lanes.py <tests/c/lanes/kept.txt
}
check "lanes: a lost upper half of a register is found" "python3" lanes
