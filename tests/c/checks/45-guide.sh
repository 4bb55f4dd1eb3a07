# The C and C++ programs of the guide, as they stand there, with the output that it shows.

guide_programs() {
  local folder=$work/guide name programs=0
  rm -rf "$folder"
  mkdir -p "$folder"
  cp tests/data/heron.toml "$folder/"
  # A build for tests, which the tests of the shell tool need as well.
  cargo test -q -p elbowroom -p elbowroom-cli --all-features --test width --no-run
  (cd "$folder" && "$root/target/debug/elbowroom" firmware heron.toml --board breast)
  for name in $(python3 tests/c/guide.py "$folder"); do
    case $name in
      *.c) gcc -std=c99 "${warn[@]}" -I"$prefix/include" -I"$folder" "$folder/$name" -o "$folder/$name.run" -L"$libdir" -lelbowroom ;;
      *.cpp) g++ -std=c++17 -Wall -Wextra -Werror -I"$prefix/include" "$folder/$name" -o "$folder/$name.run" -L"$libdir" -lelbowroom ;;
    esac
    (cd "$folder" && "./$name.run") | tee "$folder/$name.out"
    # A program may print without a line end.
    [ ! -e "$folder/$name.expected" ] || diff <(tr -s ' \n' ' ' <"$folder/$name.expected" | sed 's/ $//') <(tr -s ' \n' ' ' <"$folder/$name.out" | sed 's/ $//')
    programs=$((programs + 1))
  done
  [ "$programs" -ge 3 ]
  echo "# $programs programs"
}
check "guide: its C and C++ programs" "cargo gcc g++ python3" guide_programs

# The header as a manual: its pages are made without a warning.

# The headers as pages of a manual, without a warning.
header_pages() {
  rm -rf "$work/doxygen"
  mkdir -p "$work/doxygen"
  cat >"$work/doxygen/Doxyfile" <<END
PROJECT_NAME = elbowroom
INPUT = include/elbowroom.h include/elbowroom_analysis.h
OUTPUT_DIRECTORY = $work/doxygen
GENERATE_LATEX = NO
HAVE_DOT = NO
OPTIMIZE_OUTPUT_FOR_C = YES
JAVADOC_AUTOBRIEF = YES
TOC_INCLUDE_HEADINGS = 0
MACRO_EXPANSION = YES
EXPAND_ONLY_PREDEF = YES
PREDEFINED = ELB_NOEXCEPT= ELB_MUST_USE=
WARN_IF_UNDOCUMENTED = YES
WARN_AS_ERROR = FAIL_ON_WARNINGS
QUIET = YES
END
  doxygen "$work/doxygen/Doxyfile"
  local page=$work/doxygen/html/elbowroom_8h.html
  grep -q 'I want to' "$page"
  grep -q 'One value towards the motor' "$page"
  echo "# $(grep -c 'class="memitem"' "$page") items, no warnings"
}
check "manual: pages of the headers by doxygen, without a warning" "doxygen" header_pages
