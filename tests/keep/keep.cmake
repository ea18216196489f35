# keep: is anything ever lost that was said to be saved? The long form (no argument) tries every point.
add_executable(keep ${CMAKE_SOURCE_DIR}/tests/keep/keep.c ${CMAKE_SOURCE_DIR}/tests/keep/keep_play.c
  ${CMAKE_SOURCE_DIR}/tests/keep/keep_model.c ${CMAKE_SOURCE_DIR}/tests/keep/keep_faults.c
  ${CMAKE_SOURCE_DIR}/tests/keep/keep_power.c ${CMAKE_SOURCE_DIR}/tests/keep/keep_damage.c
  ${CMAKE_SOURCE_DIR}/tests/keep/keep_moved.c ${CMAKE_SOURCE_DIR}/tests/keep/keep_again.c)
target_include_directories(keep PRIVATE tests/keep src/job)
target_link_libraries(keep PRIVATE hw_check huewright_core)
add_test(NAME keep/keep COMMAND keep --short)
