# The page in a real browser: Debian's Chromium by playwright-core, WCAG by axe-core (npm ci in this folder, as tests/run.sh
# does). One program a way. A missing tool is a failure.
file(GLOB ways CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/tests/page/way_*.mjs)
foreach(file IN LISTS ways)
  get_filename_component(name ${file} NAME_WE)
  add_test(NAME page/${name} COMMAND node ${file} $<TARGET_FILE:huewright> ${CMAKE_SOURCE_DIR} ${CMAKE_BINARY_DIR}/scratch/page_${name})
  set_tests_properties(page/${name} PROPERTIES TIMEOUT 300 SKIP_RETURN_CODE 77)
endforeach()
