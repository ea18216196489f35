# Drawings: decoded by stb_image, and held against the W3C's DTD of SVG 1.1 and Python's expat.
target_include_directories(test_report_pictures SYSTEM PRIVATE ${STB_INCLUDE})
if(HW_DRAWS_PNG)
  target_compile_definitions(test_report_pictures PRIVATE HW_PNG)
endif()
# fontconfig and the type libraries below librsvg keep what they know until the program ends; ours stays in sight.
set_tests_properties(report/test_report_pictures PROPERTIES FIXTURES_SETUP drawings
  ENVIRONMENT LSAN_OPTIONS=suppressions=${CMAKE_SOURCE_DIR}/tests/report/drawing_libraries.supp:print_suppressions=0)
add_test(NAME report/drawings_are_svg COMMAND sh ${CMAKE_SOURCE_DIR}/tests/report/check_svg.sh
  ${CMAKE_SOURCE_DIR}/testdata/report ${CMAKE_BINARY_DIR}/scratch/drawings)
set_tests_properties(report/drawings_are_svg PROPERTIES FIXTURES_REQUIRED drawings)
