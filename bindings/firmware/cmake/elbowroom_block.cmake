# The block library in a CMake project for a microcontroller:
#
#   set(ELBOWROOM_BOARD cortex-m0plus)                    # a name of bindings/firmware/boards.txt
#   set(ELBOWROOM_CURVES ON)                              # only if a joint has a curve or a linkage
#   include(<elbowroom>/bindings/firmware/cmake/elbowroom_block.cmake)
#   target_link_libraries(my_firmware PRIVATE elbowroom::block)
#
# In the sources the library is built by `bindings/firmware/build`; in an unpacked archive it is there already.
if(NOT ELBOWROOM_BOARD)
  message(FATAL_ERROR "elbowroom: set ELBOWROOM_BOARD to a board, such as cortex-m0plus")
endif()

get_filename_component(elbowroom_archive "${CMAKE_CURRENT_LIST_DIR}/.." ABSOLUTE)
if(EXISTS "${elbowroom_archive}/lib/${ELBOWROOM_BOARD}")
  set(elbowroom_library "${elbowroom_archive}/lib/${ELBOWROOM_BOARD}")
  set(elbowroom_include "${elbowroom_archive}/include")
else()
  get_filename_component(elbowroom_sources "${CMAKE_CURRENT_LIST_DIR}/../../.." ABSOLUTE)
  set(elbowroom_library "${elbowroom_sources}/target/firmware/${ELBOWROOM_BOARD}")
  set(elbowroom_include "${elbowroom_sources}/include")
  set(elbowroom_words ${ELBOWROOM_BOARD})
  if(ELBOWROOM_CURVES)
    list(APPEND elbowroom_words curves)
  endif()
  execute_process(COMMAND "${elbowroom_sources}/bindings/firmware/build" ${elbowroom_words} RESULT_VARIABLE elbowroom_result)
  if(NOT elbowroom_result EQUAL 0)
    message(FATAL_ERROR "elbowroom: bindings/firmware/build ${ELBOWROOM_BOARD} came to ${elbowroom_result}")
  endif()
endif()
if(ELBOWROOM_CURVES)
  string(APPEND elbowroom_library "/curves")
endif()

add_library(elbowroom::block STATIC IMPORTED)
set_target_properties(elbowroom::block PROPERTIES
  IMPORTED_LOCATION "${elbowroom_library}/libelbowroom_block.a"
  INTERFACE_INCLUDE_DIRECTORIES "${elbowroom_include}")
