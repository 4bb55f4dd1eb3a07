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
