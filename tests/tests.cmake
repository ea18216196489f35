# All tests. tests/<stage>/test_*.c is one program each; tests/cli/*.sh drive the built
# program; scene, accuracy and perf are programs of their own.

add_library(hw_check INTERFACE)
target_include_directories(hw_check INTERFACE tests include src/base)
foreach(library HEIF RAW) # what the photo stage was built with
  if(HW_READS_${library})
    target_compile_definitions(hw_check INTERFACE HW_${library})
  endif()
endforeach()
target_compile_definitions(hw_check INTERFACE HW_TESTDATA="${CMAKE_SOURCE_DIR}/testdata"
  HW_SCRATCH="${CMAKE_BINARY_DIR}/scratch" HW_MALLOC_ALLOWED)
file(MAKE_DIRECTORY ${CMAKE_BINARY_DIR}/scratch)

foreach(stage IN LISTS HW_STAGES)
  file(GLOB programs CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/tests/${stage}/test_*.c)
  foreach(program IN LISTS programs)
    get_filename_component(name ${program} NAME_WE)
    add_executable(${name} ${program})
    target_include_directories(${name} PRIVATE src/${stage} src/card)
    target_link_libraries(${name} PRIVATE hw_check huewright_core)
    add_test(NAME ${stage}/${name} COMMAND ${name})
  endforeach()
endforeach()

# Who may include whom, and that every public header stands alone in C and in C++.
add_test(NAME rules/includes COMMAND sh ${CMAKE_SOURCE_DIR}/tests/check_includes.sh ${CMAKE_SOURCE_DIR})
add_test(NAME rules/includes_are_caught
  COMMAND sh ${CMAKE_SOURCE_DIR}/tests/check_includes_test.sh ${CMAKE_SOURCE_DIR})
file(GLOB headers CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/include/huewright/*.h)
foreach(header IN LISTS headers)
  get_filename_component(name ${header} NAME_WE)
  foreach(language c cpp)
    set(alone ${CMAKE_BINARY_DIR}/headers/${name}.${language})
    file(WRITE ${alone}.new "#include \"huewright/${name}.h\"\n")
    configure_file(${alone}.new ${alone} COPYONLY)
    list(APPEND alone_sources ${alone})
  endforeach()
endforeach()
add_library(hw_headers_alone OBJECT ${alone_sources})
target_include_directories(hw_headers_alone PRIVATE include)
target_link_libraries(hw_headers_alone PRIVATE hw_flags)

# JPEG files for pictures that tests make. stb_image_write shifts into the sign bit: no fault of ours to stop at.
add_library(hw_write_jpeg STATIC tests/write_jpeg.c)
target_include_directories(hw_write_jpeg PUBLIC tests)
target_include_directories(hw_write_jpeg SYSTEM PRIVATE ${STB_INCLUDE})
target_link_libraries(hw_write_jpeg PRIVATE hw_flags)
set_source_files_properties(tests/write_jpeg.c PROPERTIES COMPILE_OPTIONS -fno-sanitize=shift)
target_link_libraries(test_photo_scan PRIVATE hw_write_jpeg)
target_link_libraries(test_mark_find PRIVATE hw_write_jpeg)

# Parts with their own lists.
foreach(part photo picture report server scene tone fuzz cli keep accuracy perf outside page)
  if(EXISTS ${CMAKE_SOURCE_DIR}/tests/${part}/${part}.cmake)
    include(tests/${part}/${part}.cmake)
  endif()
endforeach()

# Memory that runs out, through all stages (build/test_memory_stages all: every allocation, no strides).
add_executable(test_memory_stages tests/memory/test_memory_stages.c)
target_include_directories(test_memory_stages PRIVATE src/photo src/steps)
target_link_libraries(test_memory_stages PRIVATE hw_check huewright_core)
add_test(NAME memory/stages COMMAND test_memory_stages)
