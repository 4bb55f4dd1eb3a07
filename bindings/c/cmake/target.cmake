# SPDX-FileCopyrightText: 2026 The elbowroom developers
# SPDX-License-Identifier: MIT
#
# For which machine cargo builds: the one that the C compiler builds for. Sets
#
#   elbowroom_target    cargo's option, nothing where it is this machine
#   elbowroom_folder    where below its folder cargo then puts what it built
#   elbowroom_linker    the linker for cargo, as a setting of the environment
execute_process(COMMAND "${RUSTC}" -vV OUTPUT_VARIABLE rustc_says COMMAND_ERROR_IS_FATAL ANY)
string(REGEX MATCH "host: ([^\n]+)" host_line "${rustc_says}")
set(host "${CMAKE_MATCH_1}")
execute_process(COMMAND "${CMAKE_C_COMPILER}" -dumpmachine OUTPUT_VARIABLE machine ERROR_QUIET OUTPUT_STRIP_TRAILING_WHITESPACE)
if(CMAKE_C_COMPILER_TARGET)
  set(machine "${CMAKE_C_COMPILER_TARGET}")
endif()

# "aarch64-linux-gnu" of a C compiler is "aarch64-unknown-linux-gnu" of rustc.
set(wanted "${ELBOWROOM_RUST_TARGET}")
if(wanted STREQUAL "" AND machine MATCHES "^([a-z0-9_]+)-([a-z0-9]+-)?linux-([a-z]+)$")
  set(wanted "${CMAKE_MATCH_1}-unknown-linux-${CMAKE_MATCH_3}")
elseif(wanted STREQUAL "")
  set(wanted "${host}")
endif()
string(REGEX REPLACE "-.*" "" its "${wanted}")
string(REGEX REPLACE "-.*" "" ours "${machine}")
if(NOT machine STREQUAL "" AND NOT its STREQUAL ours)
  message(FATAL_ERROR "the C compiler ${CMAKE_C_COMPILER} builds for ${machine}, cargo would build for ${wanted}; give "
    "-DCMAKE_C_COMPILER=${its}-linux-gnu-gcc, or a toolchain file, in a new build folder")
endif()

set(elbowroom_target "")
set(elbowroom_folder "")
set(elbowroom_linker "")
if(NOT wanted STREQUAL host)
  execute_process(COMMAND "${RUSTC}" --print target-libdir --target "${wanted}" OUTPUT_VARIABLE libdir ERROR_QUIET
    OUTPUT_STRIP_TRAILING_WHITESPACE)
  if(libdir STREQUAL "" OR NOT EXISTS "${libdir}")
    message(FATAL_ERROR "rustc has no standard library for ${wanted}; run: rustup target add ${wanted}")
  endif()
  set(elbowroom_target --target "${wanted}")
  set(elbowroom_folder "${wanted}/")
  string(TOUPPER "${wanted}" name)
  string(REPLACE "-" "_" name "${name}")
  set(elbowroom_linker "CARGO_TARGET_${name}_LINKER=${CMAKE_C_COMPILER}")
endif()
message(STATUS "elbowroom: cargo builds for ${wanted}")
