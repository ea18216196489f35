# The spectral renderer: a library for tests and the program that makes the demo photos and the pictures of
# the accuracy run.
add_library(hw_scene_lib STATIC tests/scene/scene_spectra.c tests/scene/scene_render.c tests/scene/scene_write.c
  tests/scene/scene_list.c tests/scene/scene_random.c tests/scene/scene_chance.c tests/scene/scene_depth.c)
target_include_directories(hw_scene_lib PUBLIC tests/scene include)
target_link_libraries(hw_scene_lib PUBLIC huewright_core hw_write_jpeg)
add_executable(hw_scene tests/scene/hw_scene.c)
target_link_libraries(hw_scene PRIVATE hw_scene_lib)
add_executable(test_scene tests/scene/test_scene.c)
target_link_libraries(test_scene PRIVATE hw_check hw_scene_lib)
add_test(NAME scene/test_scene COMMAND test_scene)
