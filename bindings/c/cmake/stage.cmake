# SPDX-FileCopyrightText: 2026 The elbowroom developers
# SPDX-License-Identifier: MIT
#
# Puts what cargo built into a folder as it is linked and installed. Run by the build, with these set:
#
#   FROM, INTO         cargo's folder and the one to fill
#   VERSION, SOVERSION
#   LINKER, OBJCOPY, AR, NM   of the target
#
# cargo's archive holds Rust's standard library with all its names, so that two such archives do not link into one program,
# and with its debug information. Here it becomes one object in which nothing is global but the calls of the headers.
file(MAKE_DIRECTORY "${INTO}")

set(shared "libelbowroom.so.${VERSION}")
configure_file("${FROM}/libelbowroom.so" "${INTO}/${shared}" COPYONLY)
file(CREATE_LINK "${shared}" "${INTO}/libelbowroom.so.${SOVERSION}" SYMBOLIC)
file(CREATE_LINK "libelbowroom.so.${SOVERSION}" "${INTO}/libelbowroom.so" SYMBOLIC)

set(archive "${INTO}/libelbowroom.a")
if(NOT "${FROM}/libelbowroom.a" IS_NEWER_THAN "${archive}")
  return()
endif()
function(run)
  execute_process(COMMAND ${ARGV} RESULT_VARIABLE result ERROR_VARIABLE error)
  if(NOT result EQUAL 0)
    message(FATAL_ERROR "libelbowroom.a: ${ARGV} failed: ${error}")
  endif()
endfunction()

execute_process(COMMAND "${NM}" -D --defined-only "${INTO}/${shared}" OUTPUT_VARIABLE exported COMMAND_ERROR_IS_FATAL ANY)
string(REGEX MATCHALL "elb_[a-z0-9_]+" calls "${exported}")
list(JOIN calls "\n" names)
file(WRITE "${INTO}/calls.txt" "${names}\n")
list(TRANSFORM calls PREPEND "--undefined=")
# Groups are dissolved: they are how a linker recognises a part that another archive of Rust has too, and drops it.
run("${LINKER}" -r --gc-sections --force-group-allocation ${calls} -o "${INTO}/elbowroom.o" "${FROM}/libelbowroom.a")
# The bitcode is what Rust's standard library carries for link-time optimisation, in pieces that no longer fit together.
run("${OBJCOPY}" --strip-debug --remove-section=.llvmbc --remove-section=.llvmcmd "--keep-global-symbols=${INTO}/calls.txt" "${INTO}/elbowroom.o")
file(REMOVE "${archive}.part")
run("${AR}" crsD "${archive}.part" "${INTO}/elbowroom.o")
file(RENAME "${archive}.part" "${archive}")
file(REMOVE "${INTO}/elbowroom.o" "${INTO}/calls.txt")
