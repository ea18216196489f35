# accuracy: a table of errors on pictures with known truth. On our own rendered scenes everywhere; on
# further pictures where a folder ../shared/photos lies beside the source tree.
add_executable(accuracy ${CMAKE_SOURCE_DIR}/tests/accuracy/accuracy.c)
target_include_directories(accuracy PRIVATE src/base)
target_link_libraries(accuracy PRIVATE huewright_core)
if(EXISTS ${CMAKE_SOURCE_DIR}/../shared/photos)
  add_test(NAME accuracy/pictures COMMAND accuracy ${CMAKE_SOURCE_DIR}/../shared/photos)
endif()
