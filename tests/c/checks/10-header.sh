# The header and the installed tree that all other checks use.

# A developer's build directory is reused, so that a change costs one compilation.
install_library() {
  rm -rf "$prefix"
  cmake -S bindings/c -B "$work/build" -DELBOWROOM_TARGET_DIR="$root/target"
  cmake --build "$work/build"
  # As under sudo: no Rust within reach; and the folder is named as late as that.
  env -i PATH=/usr/bin:/bin HOME="$work" cmake --install "$work/build" --prefix "$prefix"
  libdir=$(dirname "$(find "$prefix" -name libelbowroom.a)")
  [ -e "$libdir/libelbowroom.so" ] && [ -e "$prefix/include/elbowroom.h" ] && [ -e "$prefix/include/elbowroom_analysis.h" ]
  objdump -p "$libdir/libelbowroom.so" | grep -q 'SONAME *libelbowroom.so.0$'
}
check "install: cmake puts library, headers and package files" "cargo cmake cc" install_library
libdir=$(dirname "$(find "$prefix" -name libelbowroom.a 2>/dev/null)" 2>/dev/null)
export LD_LIBRARY_PATH=$libdir

# Beside the packages of `tests/run`, so that the core is built once; the tests beside the code of the C library run there.
with_tests=(--locked -p elbowroom -p elbowroom-cli -p elbowroom-c --all-features)
drift() {
  cargo test -q "${with_tests[@]}" --test header --test wrapper
}
check "header: the committed ones are the generated ones" "cargo" drift

# $1 compiler, $2 language, $3 standard
compiles_alone() {
  local header
  for header in elbowroom.h elbowroom_analysis.h; do
    echo "#include <$header>" | "$1" -x "$2" -std="$3" "${warn[@]}" -I"$prefix/include" -fsyntax-only -
    [ "$2" != c ] || echo "#include <$header>" | "$1" -x c -std="$3" "${warn[@]}" -ffreestanding -I"$prefix/include" -fsyntax-only -
  done
}
for standard in c99 c11 c2x; do
  for compiler in gcc clang; do
    check "header: $compiler $standard alone, hosted and freestanding" $compiler compiles_alone $compiler c $standard
  done
done
for compiler in g++ clang++; do
  check "header: $compiler c++17 alone" $compiler compiles_alone $compiler c++ c++17
  check "header: $compiler c++20 alone" $compiler compiles_alone $compiler c++ c++20
done

# A call, constant or type that a comment names is there: the table at the top and the references among the calls.
names_exist() {
  local headers="include/elbowroom.h include/elbowroom_analysis.h" code name missing=0
  code=$(sed 's#//.*##' $headers)
  for name in $(sed -n 's#.*//##p' $headers | grep -oE '\b(elb|ELB)_[A-Za-z0-9_]+' | sort -u); do
    case $name in *_) continue ;; esac
    grep -qw "$name" <<<"$code" || { echo "no $name"; missing=1; }
  done
  [ "$missing" = 0 ]
}
check "header: what its comments name is there" "" names_exist

# A C compiler may fuse a * b + c; so the header computes nothing and holds no code.
no_code() {
  ! sed 's#//.*##; s#/\*.*\*/##' include/elbowroom.h include/elbowroom_analysis.h | grep -nE '\b(inline|long)\b|\{[^}]*return|[a-z0-9] [-+*/] [a-z0-9]|: *[0-9]+;' || return 1
}
check "header: no arithmetic, no code, no long, no bit-fields" "" no_code

# The calls of these headers, without those that exist on an AVR only.
calls_of() { sed 's#//.*##' "$@" | grep -oE '\belb_[a-z0-9_]+\(' | tr -d '(' | grep -v '_flash$' | sort -u; }
header_calls() { calls_of include/elbowroom.h include/elbowroom_analysis.h; }
