# Projects of a user, built from the installed tree alone; and the examples.

cmake_consumer() {
  rm -rf "$work/consumer"
  cmake -S tests/c/consumers -B "$work/consumer" -DCMAKE_PREFIX_PATH="$prefix"
  cmake --build "$work/consumer"
  local program
  for program in shared static cpp; do env -u LD_LIBRARY_PATH "$work/consumer/$program"; done
  ldd "$work/consumer/shared" | grep -q 'libelbowroom.so.0 => '
  ! ldd "$work/consumer/static" | grep -q elbowroom || return 1
}
check "consumer: CMake project, shared, static and C++" "cmake gcc g++ make" cmake_consumer

# A version that this one is not.
cmake_refuses() {
  mkdir -p "$work/refused"
  sed 's/find_package(elbowroom 0.1/find_package(elbowroom 0.9/' tests/c/consumers/CMakeLists.txt >"$work/refused/CMakeLists.txt"
  ! cmake -S "$work/refused" -B "$work/refused/build" -DCMAKE_PREFIX_PATH="$prefix" || return 1
}
check "consumer: find_package refuses a version that is not there" "cmake" cmake_refuses

# And a component: there are none.
cmake_refuses_components() {
  mkdir -p "$work/components"
  sed 's/find_package(elbowroom 0.1 /&COMPONENTS nope /; s/find_package(elbowroom 0.1)/find_package(elbowroom 0.1 REQUIRED COMPONENTS nope)/' \
    tests/c/consumers/CMakeLists.txt >"$work/components/CMakeLists.txt"
  grep -q 'COMPONENTS nope' "$work/components/CMakeLists.txt"
  ! cmake -S "$work/components" -B "$work/components/build" -DCMAKE_PREFIX_PATH="$prefix" 2>"$work/components.txt" || return 1
  tr -s '\n ' ' ' <"$work/components.txt" | grep -q 'elbowroom has no component nope, and no others; leave COMPONENTS out'
}
check "consumer: find_package says that there are no components" "cmake" cmake_refuses_components

pkg_config_consumer() {
  export PKG_CONFIG_PATH=$libdir/pkgconfig
  # shellcheck disable=SC2046 # Words are what pkg-config gives.
  cc tests/c/consumers/main.c -o "$work/pkg-shared" $(pkg-config --cflags --libs elbowroom)
  "$work/pkg-shared"
  cc tests/c/consumers/main.c -o "$work/pkg-static" $(pkg-config --cflags elbowroom) "$libdir/libelbowroom.a" \
    $(pkg-config --static --libs-only-l elbowroom | sed 's/-lelbowroom//')
  env -u LD_LIBRARY_PATH "$work/pkg-static"
  [ "$(pkg-config --modversion elbowroom)" = "$("$work/pkg-shared" | cut -d' ' -f2)" ]
}
check "consumer: pkg-config, shared and static" "pkg-config cc" pkg_config_consumer

# Packagers install into a directory that is not the final one.
destdir() {
  rm -rf "$work/destdir"
  cmake -S bindings/c -B "$work/build-usr" -DCMAKE_INSTALL_PREFIX=/usr -DELBOWROOM_TARGET_DIR="$root/target"
  cmake --build "$work/build-usr"
  DESTDIR=$work/destdir cmake --install "$work/build-usr"
  [ -n "$(find "$work/destdir/usr" -name libelbowroom.so.0)" ]
  ! grep -r "$work" "$work/destdir" --include='*.pc' --include='*.cmake' || return 1
}
check "install: DESTDIR for packagers" "cmake cc" destdir

# The example that opens the header, as it stands there.
manual_example() {
  sed -n '/^\/\/\/ #include <elbowroom.h>/,/^\/\/\/ }$/p' include/elbowroom.h | sed 's#^/// \{0,1\}##' >"$work/manual.c"
  [ "$(wc -l <"$work/manual.c")" -ge 15 ]
  gcc -std=c99 -Wall -Wextra -Wpedantic -Werror -I"$prefix/include" "$work/manual.c" -o "$work/manual" -L"$libdir" -lelbowroom
  [ "$("$work/manual")" = 283 ]
}
check "example: the one in the header" "gcc" manual_example

readme_example() {
  sed -n '/^```c$/,/^```$/p' README.md | sed '/^```/d' >"$work/readme.c"
  [ "$(wc -l <"$work/readme.c")" -ge 15 ]
  gcc -std=c99 -Wall -Wextra -Wpedantic -Werror -I"$prefix/include" "$work/readme.c" -o "$work/readme" -L"$libdir" -lelbowroom
  [ "$("$work/readme")" = 283 ]
}
check "example: the one in the README" "gcc" readme_example

example() {
  gcc -std=c99 "${warn[@]}" -I"$prefix/include" "bindings/c/examples/$1.c" -o "$work/example-$1" -L"$libdir" -lelbowroom -lm
}
loop_example() {
  example loop
  "$work/example-loop" | tee "$work/loop.txt"
  grep -q 'clamped to the command range, clamped to the travel' "$work/loop.txt"
}
check "example: a control loop at 50 Hz" "gcc" loop_example

robot_example() {
  example robot
  cat >"$work/wing.toml" <<'END'
format = 1
[joint.wing]
command = [-40, 60]
drive = [37, 122]
travel = [20, 60]
rest = 0
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }
END
  local status=0
  "$work/example-robot" "$work/wing.toml" 2026-11-25 >"$work/robot.txt" || status=$?
  cat "$work/robot.txt"
  [ "$status" = 1 ]
  grep -q 'rest-outside-travel' "$work/robot.txt"
  grep -q '^wing rests at command 0, count ' "$work/robot.txt"
  sed -i 's/rest = 0/rest = 10/; s/^drive = /drve = /' "$work/wing.toml"
  status=0
  "$work/example-robot" "$work/wing.toml" 2>"$work/robot.txt" || status=$?
  [ "$status" = 2 ]
  grep -q 'wing.toml:4:1: joint wing: unknown key "drve"; write drive' "$work/robot.txt"
}
check "example: a robot file at start" "gcc" robot_example

ring_example() {
  example ring
  "$work/example-ring" | tee "$work/ring.txt"
  grep -q '^upper end: stop found at drive \(69\|70\)\.' "$work/ring.txt"
  grep -q '^lower end: no stop found, clear to drive 20.00' "$work/ring.txt"
}
check "example: a fit from a ring buffer" "gcc" ring_example

bring_up_example() {
  example bring_up
  "$work/example-bring_up" | tee "$work/bring_up.txt"
  grep -q '^keep a hand on the power switch$' "$work/bring_up.txt"
  grep -q '^the joint is ready for software within its travel$' "$work/bring_up.txt"
}
check "example: a bring-up on a simulated joint" "gcc" bring_up_example
