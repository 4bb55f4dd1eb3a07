# How the library gets into other projects and onto other machines. All use what `install_library` has built.

# $1 add_subdirectory or FetchContent. No build folder of the library's own, its targets by the names of the package.
takes_sources() {
  local program
  rm -rf "$work/sources-$1"
  cmake -S tests/c/consumers/sources -B "$work/sources-$1" -DHOW="$1" -DELBOWROOM="$root" -DELBOWROOM_TARGET_DIR="$root/target"
  cmake --build "$work/sources-$1"
  for program in shared static cpp analysis; do env -u LD_LIBRARY_PATH "$work/sources-$1/$program"; done
  # Installing the project does not install the library.
  DESTDIR=$work/sources-$1/none cmake --install "$work/sources-$1"
  [ ! -e "$work/sources-$1/none" ]
  # Unless it is asked for.
  cmake -S tests/c/consumers/sources -B "$work/sources-$1" -DELBOWROOM_INSTALL=ON
  cmake --install "$work/sources-$1" --prefix "$work/sources-$1/some"
  [ -n "$(find "$work/sources-$1/some" -name libelbowroom.so.0)" ] && [ -e "$work/sources-$1/some/include/elbowroom.hpp" ]
}
check "consumer: add_subdirectory, the package's target names" "cmake gcc g++ make cargo" takes_sources add_subdirectory
check "consumer: FetchContent, the package's target names" "cmake gcc g++ make cargo" takes_sources FetchContent

# The CMake lines of the README, way by way, in a project with a clone inside and one beside.
readme_cmake() {
  local folder=$work/readme-cmake way ways=0
  rm -rf "$folder"
  mkdir -p "$folder/mine"
  ln -s "$root" "$folder/elbowroom"
  ln -s "$root" "$folder/mine/elbowroom"
  cp tests/c/consumers/main.c "$folder/mine/"
  # Ways are separated by empty lines.
  awk -v folder="$folder" '/^```cmake$/ { inside = 1; block++; next } /^```$/ { inside = 0 }
    !inside { next } block == 1 && /^$/ { way++; next } block == 1 { print >(folder "/way" way + 0) } block == 2 { print >(folder "/link") }' \
    bindings/c/README.md
  grep -q 'DCMAKE_PREFIX_PATH=' "$folder/way0"
  for way in "$folder"/way*; do
    { echo 'cmake_minimum_required(VERSION 3.20)'; echo 'project(mine LANGUAGES C)'; cat "$way"; echo 'add_executable(mine main.c)'; cat "$folder/link"; } \
      >"$folder/mine/CMakeLists.txt"
    rm -rf "$folder/build"
    cmake -S "$folder/mine" -B "$folder/build" -DCMAKE_PREFIX_PATH="$prefix" -DELBOWROOM_TARGET_DIR="$root/target"
    ways=$((ways + 1))
  done
  [ "$ways" = 4 ]
  # What the README says of them: a prefix of one's own is not found by itself, a clone beside needs the second argument.
  { echo 'cmake_minimum_required(VERSION 3.20)'; echo 'project(mine LANGUAGES C)'; cat "$folder/way0"; } >"$folder/mine/CMakeLists.txt"
  if cmake -S "$folder/mine" -B "$folder/build-none"; then return 1; fi
  { echo 'cmake_minimum_required(VERSION 3.20)'; echo 'project(mine LANGUAGES C)'; sed 's/ elbowroom)$/)/' "$folder/way2"; } >"$folder/mine/CMakeLists.txt"
  if cmake -S "$folder/mine" -B "$folder/build-none"; then return 1; fi
}
check "consumer: the CMake lines of the README" "cmake gcc make cargo" readme_cmake

# The installed tree moved elsewhere, found by both; nothing in it knows where it was, or where it was built.
relocated() {
  rm -rf "$work/moved" "$work/moved-consumer"
  cp -r "$prefix" "$work/moved"
  local lib=$work/moved/${libdir#"$prefix"/}
  [ "$(PKG_CONFIG_PATH=$lib/pkgconfig pkg-config --variable=libdir elbowroom | xargs realpath)" = "$lib" ]
  ! grep -rF "$work" "$work/moved" --include='*.pc' --include='*.cmake' || return 1
  mv "$prefix" "$prefix-away"
  trap 'mv "$prefix-away" "$prefix"' EXIT
  # shellcheck disable=SC2046 # Words are what pkg-config gives.
  cc tests/c/consumers/main.c -o "$work/moved-main" $(PKG_CONFIG_PATH=$lib/pkgconfig pkg-config --cflags --libs elbowroom)
  LD_LIBRARY_PATH=$lib "$work/moved-main"
  cmake -S tests/c/consumers -B "$work/moved-consumer" -DCMAKE_PREFIX_PATH="$work/moved"
  cmake --build "$work/moved-consumer"
  env -u LD_LIBRARY_PATH "$work/moved-consumer/shared"
}
check "consumer: a tree that was moved, pkg-config and CMake" "cmake pkg-config cc" relocated

# Without any shared library at all: the compiler adds the unwinder that fits.
wholly_static() {
  local compiler
  for compiler in gcc clang; do
    # shellcheck disable=SC2046
    $compiler -static tests/c/consumers/main.c -o "$work/wholly-static" \
      $(PKG_CONFIG_PATH=$libdir/pkgconfig pkg-config --static --cflags --libs elbowroom)
    env -u LD_LIBRARY_PATH "$work/wholly-static"
    ! ldd "$work/wholly-static" || return 1
  done
}
check "consumer: pkg-config --static, gcc and clang -static" "pkg-config gcc clang" wholly_static

two_rusts() {
  local system=(-lutil -lrt -lpthread -lm -ldl)
  rustc -O --edition 2024 --crate-type staticlib -o "$work/libother.a" tests/c/consumers/other.rs
  gcc -std=c99 "${warn[@]}" -DPROGRAM -I"$prefix/include" tests/c/consumers/plugin.c -o "$work/two-rusts" \
    "$libdir/libelbowroom.a" "$work/libother.a" "${system[@]}"
  "$work/two-rusts" 2>/dev/null
  gcc -std=c99 -fPIC -shared -I"$prefix/include" tests/c/consumers/plugin.c -o "$work/plugin.so" "$libdir/libelbowroom.a" \
    "${system[@]}"
  [ "$(nm -D --defined-only "$work/plugin.so" | awk '{ print $3 }' | grep -v '^elb_')" = plugin_count ]
}
check "static: beside another library in Rust; a plugin exports elb_ alone" "rustc gcc nm" two_rusts

clean_archive() {
  local archive=$libdir/libelbowroom.a
  diff <(nm -g --defined-only "$archive" | awk 'NF == 3 { print $3 }' | sort) <(header_calls)
  ! readelf -SW "$archive" | grep -E '\.(debug|llvm)' || return 1
  # Where it was built stands nowhere.
  ! strings -a "$archive" "$libdir/libelbowroom.so" | grep -E "$root|${CARGO_HOME:-$HOME/.cargo}|^/rustc/.*\\\$" || return 1
  [ "$(stat -c %s "$archive")" -lt 8000000 ]
  echo "# $(($(stat -c %s "$archive") / 1000)) kB"
}
check "static: one object, the headers' names, no debug information, no paths of the build" "nm readelf strings" clean_archive

licences() {
  local docs file
  docs=$(dirname "$(find "$prefix" -name NOTICES.txt)")
  cmp LICENSE "$docs/LICENSE"
  for file in include/elbowroom.h include/elbowroom_analysis.h include/elbowroom.hpp; do
    head -n 2 "$file" | grep -q 'SPDX-License-Identifier: MIT'
    head -n 2 "$file" | grep -q 'SPDX-FileCopyrightText: '
  done
  bindings/c/notices --check
}
check "install: licence, notices of all linked crates, SPDX in the headers" "python3 cargo" licences

# A machine for which cargo would not build is refused, with what to do.
refuses_machines() {
  rm -rf "$work/refused"
  ! CARGO_BUILD_TARGET=aarch64-unknown-linux-gnu cmake -S bindings/c -B "$work/refused" 2>"$work/refused.txt"
  tr -s '\n ' ' ' <"$work/refused.txt" | grep -q 'builds for x86_64-.* cargo would build for aarch64-unknown-linux-gnu; give -DCMAKE_C_COMPILER=aarch64-linux-gnu-gcc'
  rm -rf "$work/refused"
  ! cmake -S bindings/c -B "$work/refused" -DELBOWROOM_RUST_TARGET=x86_64-unknown-linux-gnux32 2>"$work/refused.txt" || return 1
  tr -s '\n ' ' ' <"$work/refused.txt" | grep -q 'no standard library for x86_64-unknown-linux-gnux32; run: rustup target add x86_64-unknown-linux-gnux32'
}
check "install: a machine that does not fit is refused with the command to run" "cmake cc cargo" refuses_machines

# 64-bit Arm: built by the toolchain's compiler alone, and run in user mode, with the same bits.
arm=aarch64-linux-gnu
aarch64() {
  # The same code in the same bits, but not in one piece and hardly optimised, which takes longer and is checked on this machine.
  export CARGO_PROFILE_INSTALLED_LTO=off CARGO_PROFILE_INSTALLED_CODEGEN_UNITS=16 CARGO_PROFILE_INSTALLED_OPT_LEVEL=1
  rm -rf "$work/prefix-$arm"
  cmake -S bindings/c -B "$work/build-$arm" -DCMAKE_SYSTEM_NAME=Linux -DCMAKE_SYSTEM_PROCESSOR=aarch64 \
    -DCMAKE_C_COMPILER=$arm-gcc -DELBOWROOM_TARGET_DIR="$root/target"
  cmake --build "$work/build-$arm"
  cmake --install "$work/build-$arm" --prefix "$work/prefix-$arm"
  local lib
  lib=$(dirname "$(find "$work/prefix-$arm" -name libelbowroom.a)")
  $arm-objdump -f "$lib/libelbowroom.so" "$lib/libelbowroom.a" | grep -c 'architecture: aarch64' | grep -qx 2
  $arm-gcc -std=c99 "${warn[@]}" -O2 -I"$work/prefix-$arm/include" tests/c/suite/*.c -o "$work/suite-$arm" \
    -L"$lib" -lelbowroom -lm -lpthread
  qemu-aarch64 -L /usr/$arm -E LD_LIBRARY_PATH="$lib" "$work/suite-$arm"
  $arm-g++ -std=c++17 "${warn[@]}" -I"$work/prefix-$arm/include" tests/c/cpp/wrapper.cpp -o "$work/wrapper-$arm" \
    "$lib/libelbowroom.a" -lutil -lrt -lpthread -lm -ldl
  qemu-aarch64 -L /usr/$arm "$work/wrapper-$arm"
}
check "aarch64: the suite and the shared vectors in user-mode QEMU" "cargo cmake aarch64-linux-gnu-gcc aarch64-linux-gnu-g++ qemu-aarch64" aarch64

# The core's own batches there, with and without fused products, and the shared vectors from Rust.
aarch64_batches() {
  export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=$arm-gcc
  export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_RUNNER="qemu-aarch64 -L /usr/$arm"
  # Bits do not depend on how far the compiler optimises.
  export CARGO_PROFILE_DEV_OPT_LEVEL=0
  local test=(cargo --config profile.dev.package.elbowroom.opt-level=0 test -p elbowroom --target aarch64-unknown-linux-gnu)
  "${test[@]}" --lib batch >"$work/batches-$arm.txt"
  "${test[@]}" --test vectors >>"$work/batches-$arm.txt"
  grep -q 'a_line_in_products_has_the_bits_of_the_divided_one_in_f64 ... ok' "$work/batches-$arm.txt"
  echo "# $(grep -c ' ... ok$' "$work/batches-$arm.txt") tests"
}
check "aarch64: batches with fused products, and the shared vectors in Rust" "cargo aarch64-linux-gnu-gcc qemu-aarch64" aarch64_batches

# The archive to hand out, unpacked elsewhere; and the README's lines for it.
packages() {
  bindings/c/package "$(gcc -dumpmachine)" | tee "$work/packages.txt"
  rm -rf "$work/unpacked"
  mkdir -p "$work/unpacked"
  tar -xzf "$(cut -d' ' -f1 "$work/packages.txt")" -C "$work/unpacked" --strip-components=1
  # shellcheck disable=SC2046
  cc tests/c/consumers/main.c -o "$work/unpacked-main" $(PKG_CONFIG_PATH=$work/unpacked/lib/pkgconfig pkg-config --cflags --libs elbowroom)
  LD_LIBRARY_PATH=$work/unpacked/lib "$work/unpacked-main"
  [ -e "$work/unpacked/share/doc/elbowroom/NOTICES.txt" ]
  echo "# $(sed 's/.*(\(.*\))/\1/' "$work/packages.txt")"
}
check "package: one archive by one command, unpacked and linked" "cmake gcc pkg-config cargo" packages

# A plugin may keep even the calls to itself, as the README says.
excluded() {
  gcc -std=c99 -fPIC -shared -I"$prefix/include" tests/c/consumers/plugin.c -o "$work/plugin-alone.so" "$libdir/libelbowroom.a" \
    -Wl,--exclude-libs,libelbowroom.a -lutil -lrt -lpthread -lm -ldl
  [ "$(nm -D --defined-only "$work/plugin-alone.so" | awk '{ print $3 }')" = plugin_count ]
}
check "static: a plugin that keeps the calls to itself" "gcc nm" excluded
