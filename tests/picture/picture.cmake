# What the eye sees from a distance, computed once more by numpy and scipy (python3-scipy); skipped where they are missing.
add_executable(sight_dump ${CMAKE_SOURCE_DIR}/tests/picture/sight_dump.c)
target_link_libraries(sight_dump PRIVATE hw_check huewright_core)
find_program(HW_SYSTEM_PYTHON NAMES python3 PATHS /usr/bin NO_DEFAULT_PATH) # Debian's own, which has Debian's packages
if(NOT HW_SYSTEM_PYTHON)
  find_program(HW_SYSTEM_PYTHON NAMES python3)
endif()
if(HW_SYSTEM_PYTHON)
  add_test(NAME picture/sight COMMAND ${HW_SYSTEM_PYTHON} -B ${CMAKE_SOURCE_DIR}/tests/picture/check_sight.py
    $<TARGET_FILE:sight_dump>)
  set_tests_properties(picture/sight PROPERTIES SKIP_RETURN_CODE 77)
endif()
