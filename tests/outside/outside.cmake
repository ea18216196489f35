# Checks against other people's work: culori and axe-core (npm ci in this folder, as tests/run.sh does), GNU units, LittleCMS'
# transicc, html5lib and Chromium. A missing tool is a failure.
foreach(program srgb_to_lab photo_to_lab make_profiles measure_to_lab quantity_sizes)
  add_executable(${program} ${CMAKE_SOURCE_DIR}/tests/outside/${program}.c)
  target_link_libraries(${program} PRIVATE hw_check huewright_core)
endforeach()
target_include_directories(quantity_sizes PRIVATE ${CMAKE_SOURCE_DIR}/src/tone)
add_test(NAME outside/culori COMMAND node ${CMAKE_SOURCE_DIR}/tests/outside/check_culori.mjs $<TARGET_FILE:srgb_to_lab>)
add_test(NAME outside/culori_measure COMMAND node ${CMAKE_SOURCE_DIR}/tests/outside/check_culori_measure.mjs $<TARGET_FILE:measure_to_lab>)
add_test(NAME outside/transicc COMMAND sh ${CMAKE_SOURCE_DIR}/tests/outside/check_transicc.sh
  $<TARGET_FILE:photo_to_lab> $<TARGET_FILE:srgb_to_lab> ${CMAKE_SOURCE_DIR}/testdata/outside/matrix-profile.png
  ${CMAKE_SOURCE_DIR}/testdata/outside/table-profile.png ${CMAKE_SOURCE_DIR}/testdata/photo/profile-three-parts.jpg)
add_test(NAME outside/units COMMAND sh ${CMAKE_SOURCE_DIR}/tests/outside/check_units.sh $<TARGET_FILE:quantity_sizes>)
# Pages of test_report_html under html5lib, axe-core and Chromium.
add_test(NAME outside/html COMMAND /usr/bin/python3 ${CMAKE_SOURCE_DIR}/tests/outside/check_html.py
  $<TARGET_FILE:test_report_html> ${CMAKE_SOURCE_DIR}/tests/outside/node_modules/axe-core/axe.min.js ${CMAKE_BINARY_DIR}/scratch/html)
set_tests_properties(outside/html PROPERTIES TIMEOUT 600)
