# The C and C++ programs against the installed library.

# $1 name, $2 compiler, then flags: builds the suite as C.
build_suite() {
  local name=$1 compiler=$2
  shift 2
  "$compiler" "${warn[@]}" -g "$@" -I"$prefix/include" tests/c/suite/*.c -o "$work/$name" -L"$libdir" -lelbowroom -lm -lpthread
}
suite() {
  build_suite "$@"
  "$work/$1"
  echo "# $("$work/$1" | sed -n 's/.*(\([0-9]*\) checks).*/\1/p' | awk '{ n += $1 } END { print n }') checks"
}
check "suite: gcc C99, shared library" "gcc" suite suite-c99 gcc -std=c99 -O2
check "suite: clang C11, shared library" "clang" suite suite-clang clang -std=c11 -O2

# The shared vectors once more as C++.
vectors_cpp() {
  g++ -x c++ -std=c++17 "${warn[@]}" -g -I"$prefix/include" tests/c/suite/vectors.c tests/c/cpp/vectors_main.cpp \
    -o "$work/vectors-cpp" -L"$libdir" -lelbowroom
  "$work/vectors-cpp"
}
check "suite: g++ C++17, shared vectors" "g++" vectors_cpp

# $1 compiler
wrapper() {
  local standard
  for standard in c++17 c++20; do
    "$1" -std=$standard "${warn[@]}" -g -I"$prefix/include" tests/c/cpp/wrapper.cpp -o "$work/wrapper-$1" -L"$libdir" -lelbowroom
    "$work/wrapper-$1"
  done
}
check "suite: elbowroom.hpp, g++" "g++" wrapper g++
check "suite: elbowroom.hpp, clang++" "clang++" wrapper clang++

# Without exceptions and run-time types; and the usual life cycle of a robot's hardware interface.
hardware() {
  local compiler
  for compiler in g++ clang++; do
    $compiler -std=c++17 -fno-exceptions -fno-rtti "${warn[@]}" -I"$prefix/include" bindings/c/examples/hardware.cpp \
      -o "$work/hardware" -L"$libdir" -lelbowroom
    "$work/hardware" "$ELB_TEST_DATA/heron.toml" | tee "$work/hardware.txt"
    # Held at the end of the travel for two seconds, and on its way back half a second later.
    grep -qx 'wing_left at 56.4 deg' "$work/hardware.txt"
    grep -qx 'wing_left at 26.4 deg' "$work/hardware.txt"
    grep -qx 'started at 9.8 deg' "$work/hardware.txt"
    # While one joint's values are refused the others go on; in the cycle after none makes up for what was not sent.
    grep -qx '50 cycles refused, neck_base kept its position; wing_left at 50.2 deg by steps of at most 1.6 deg' "$work/hardware.txt"
    ! "$work/hardware" "$work/nowhere.toml" 2>"$work/hardware.txt"
    grep -q 'nowhere.toml: the file cannot be read' "$work/hardware.txt"
    # More joints than it has room for: both numbers.
    { cat "$ELB_TEST_DATA/heron.toml"; for i in $(seq 16); do
      printf '[joint.more_%s]\ncommand = [0, 1]\ndrive = [40, 140]\nrest = 0\n' "$i"; done; } >"$work/many.toml"
    ! "$work/hardware" "$work/many.toml" 2>"$work/hardware.txt"
    grep -q 'the robot has 33 joints; this program has room for 32' "$work/hardware.txt"
  done
}
check "example: a hardware interface in C++17 without exceptions" "g++ clang++" hardware

# No call of the two headers is missing in C++; blocks are for microcontrollers.
hpp_is_whole() {
  local call missing=0
  for call in $(header_calls); do
    case $call in elb_block_*) continue ;; esac
    grep -qw "$call" include/elbowroom.hpp || { echo "elbowroom.hpp lacks $call"; missing=1; }
  done
  [ "$missing" = 0 ]
}
check "lists: elbowroom.hpp has every call of the headers" "" hpp_is_whole

# What a control cycle calls takes no memory and no lock: tests/c/quiet.c puts itself before the allocator and the locks.
quiet() {
  gcc -std=c11 -Wall -Wextra -Werror -g -O1 -I"$prefix/include" tests/c/quiet.c -o "$work/quiet" -L"$libdir" -lelbowroom \
    -lm -ldl -lpthread
  "$work/quiet"
}
check "robust: no memory and no lock in conversions, ramps, follow checks and session steps" "gcc" quiet
