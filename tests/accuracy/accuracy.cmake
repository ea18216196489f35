# accuracy: a table of errors on pictures with known truth. On our own rendered scenes everywhere; on
# further pictures where a folder ../shared/photos lies beside the source tree.
add_executable(accuracy ${CMAKE_SOURCE_DIR}/tests/accuracy/accuracy.c)
target_include_directories(accuracy PRIVATE src/base)
target_link_libraries(accuracy PRIVATE huewright_core)
if(EXISTS ${CMAKE_SOURCE_DIR}/../shared/photos)
  add_test(NAME accuracy/pictures COMMAND accuracy ${CMAKE_SOURCE_DIR}/../shared/photos)
endif()
# Our own scenes, rendered into the build folder.
set(HW_ACCURACY_SCENES ${CMAKE_BINARY_DIR}/accuracy-scenes)
file(MAKE_DIRECTORY ${HW_ACCURACY_SCENES})
foreach(scene plain cast poor-lamp falling-light tone-curve lamp-a control)
  add_test(NAME accuracy/render-${scene} COMMAND hw_scene ${scene} ${HW_ACCURACY_SCENES} --quality 92)
  set_tests_properties(accuracy/render-${scene} PROPERTIES FIXTURES_SETUP accuracy_scenes)
endforeach()
add_test(NAME accuracy/scenes COMMAND accuracy ${HW_ACCURACY_SCENES})
set_tests_properties(accuracy/scenes PROPERTIES FIXTURES_REQUIRED accuracy_scenes)
