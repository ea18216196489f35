# HEIC and raw files: made, read, and compared in Python with their specifications (standard library only).
add_executable(photo_dump ${CMAKE_SOURCE_DIR}/tests/photo/photo_dump.c)
target_link_libraries(photo_dump PRIVATE hw_flags huewright_core)
# The photo stage once more, built as where neither library is.
file(GLOB photo_sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/src/photo/*.c)
add_executable(photo_without ${CMAKE_SOURCE_DIR}/tests/photo/photo_without.c ${photo_sources})
target_include_directories(photo_without PRIVATE src/photo)
target_include_directories(photo_without SYSTEM PRIVATE ${STB_INCLUDE})
target_link_libraries(photo_without PRIVATE hw_check huewright_core)
target_compile_options(photo_without PRIVATE -UHW_HEIF -UHW_RAW)
add_test(NAME photo/without_libraries COMMAND photo_without)
find_package(Python3 COMPONENTS Interpreter)
if(Python3_FOUND AND HW_READS_RAW)
  add_test(NAME photo/raw COMMAND ${Python3_EXECUTABLE} -B ${CMAKE_SOURCE_DIR}/tests/photo/check_raw.py
    $<TARGET_FILE:photo_dump> ${CMAKE_BINARY_DIR}/scratch/raw)
endif()
find_program(HEIF_ENC heif-enc)
if(Python3_FOUND AND HW_READS_HEIF AND HEIF_ENC)
  add_test(NAME photo/heif COMMAND ${Python3_EXECUTABLE} -B ${CMAKE_SOURCE_DIR}/tests/photo/check_heif.py
    $<TARGET_FILE:photo_dump> ${CMAKE_SOURCE_DIR}/testdata ${CMAKE_BINARY_DIR}/scratch/heif)
endif()
