# Benchmarks, not timed tests: run tests/perf/bench_read.sh BUILD_FOLDER and bench_advise and bench_open by hand.
foreach(program make_photo bare_decode side_by_side bench_advise bench_sheet bench_open bench_carry)
  add_executable(${program} ${CMAKE_SOURCE_DIR}/tests/perf/${program}.c)
  target_link_libraries(${program} PRIVATE hw_check huewright_core)
endforeach()
target_include_directories(bare_decode SYSTEM PRIVATE ${STB_INCLUDE})
target_include_directories(bench_advise PRIVATE ${CMAKE_SOURCE_DIR}/src/base)
target_include_directories(bench_sheet PRIVATE ${CMAKE_SOURCE_DIR}/src/base)
target_include_directories(bench_open PRIVATE ${CMAKE_SOURCE_DIR}/src/base ${CMAKE_SOURCE_DIR}/src/job)
