# accuracy: a table of errors on pictures with known truth; chart_photos: the same on real photos of a colour
# chart; toning: what learning is worth on series of pictures of one job; looks: do their repairs come out as they were
# foreseen. On our own rendered scenes
# everywhere; on further pictures where ../shared/photos lies beside the source tree.
foreach(program accuracy chart_photos toning looks)
  add_executable(${program} ${CMAKE_SOURCE_DIR}/tests/accuracy/${program}.c)
  target_include_directories(${program} PRIVATE src/base)
  target_link_libraries(${program} PRIVATE huewright_core)
endforeach()
foreach(program toning looks)
  target_sources(${program} PRIVATE ${CMAKE_SOURCE_DIR}/tests/accuracy/series.c)
endforeach()
add_library(hw_scene_marks STATIC ${CMAKE_SOURCE_DIR}/tests/accuracy/scene_marks.c
  ${CMAKE_SOURCE_DIR}/tests/accuracy/in_children.c)
target_include_directories(hw_scene_marks PUBLIC ${CMAKE_SOURCE_DIR}/tests/accuracy)
target_compile_definitions(hw_scene_marks PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(hw_scene_marks PUBLIC hw_scene_lib)
add_executable(conditions ${CMAKE_SOURCE_DIR}/tests/accuracy/conditions.c)
target_include_directories(conditions PRIVATE src/base src/steps)
target_compile_definitions(conditions PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(conditions PRIVATE hw_scene_marks)
add_executable(learned ${CMAKE_SOURCE_DIR}/tests/accuracy/learned.c)
target_include_directories(learned PRIVATE src/base src/steps)
target_compile_definitions(learned PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(learned PRIVATE hw_scene_marks)
add_executable(loop ${CMAKE_SOURCE_DIR}/tests/accuracy/loop.c ${CMAKE_SOURCE_DIR}/tests/accuracy/loop_run.c
  ${CMAKE_SOURCE_DIR}/tests/accuracy/loop_numbers.c ${CMAKE_SOURCE_DIR}/tests/accuracy/loop_world.c)
target_include_directories(loop PRIVATE src/base)
target_compile_definitions(loop PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(loop PRIVATE hw_scene_marks)
add_executable(coats ${CMAKE_SOURCE_DIR}/tests/accuracy/coats.c)
target_link_libraries(coats PRIVATE hw_check huewright_core hw_scene_lib)
add_test(NAME accuracy/coats COMMAND coats --check)
add_executable(day ${CMAKE_SOURCE_DIR}/tests/accuracy/day.c ${CMAKE_SOURCE_DIR}/tests/accuracy/loop_run.c
  ${CMAKE_SOURCE_DIR}/tests/accuracy/loop_numbers.c ${CMAKE_SOURCE_DIR}/tests/accuracy/loop_world.c)
target_include_directories(day PRIVATE src/base)
target_link_libraries(day PRIVATE hw_scene_marks)
# Repeat shots, and shots from two sides; the long form takes 120 scenes a condition.
add_executable(repeats ${CMAKE_SOURCE_DIR}/tests/accuracy/repeats.c)
target_include_directories(repeats PRIVATE src/base src/steps)
target_compile_definitions(repeats PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(repeats PRIVATE hw_scene_marks)
add_test(NAME accuracy/repeats COMMAND repeats --scenes 3 --jobs 2 --only good --check)
if(EXISTS ${CMAKE_SOURCE_DIR}/../shared/photos)
  add_test(NAME accuracy/pictures COMMAND accuracy ${CMAKE_SOURCE_DIR}/../shared/photos)
  add_test(NAME accuracy/chart_photos COMMAND chart_photos ${CMAKE_SOURCE_DIR}/../shared/photos/real)
  add_test(NAME accuracy/toning COMMAND toning --check ${CMAKE_SOURCE_DIR}/../shared/photos
    21-walnut-gramophone-cabinet 22-oak-hall-bench 23-cherry-writing-table)
  add_test(NAME accuracy/looks COMMAND looks --check ${CMAKE_SOURCE_DIR}/../shared/photos
    21-walnut-gramophone-cabinet 22-oak-hall-bench 23-cherry-writing-table)
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
add_test(NAME accuracy/demo COMMAND accuracy ${CMAKE_SOURCE_DIR}/demo)
# Made-up scenes of each condition; the long form takes 300 a row.
add_test(NAME accuracy/conditions COMMAND conditions --scenes 12 --jobs 2 --check)
# A camera learned from chart photos; the long form takes 60 a row.
add_test(NAME accuracy/learned COMMAND learned --scenes 4 --only "poor lamp, same" --jobs 2 --check)
# What a pass did, read between two photos of a job; the long form takes 20 pairs a scene.
add_test(NAME accuracy/standing COMMAND python3 ${CMAKE_SOURCE_DIR}/tests/accuracy/standing.py
  $<TARGET_FILE:huewright> $<TARGET_FILE:hw_scene> ${CMAKE_BINARY_DIR}/scratch/standing --pairs 3 --check)
# The whole job in a circle; the long form takes 300 runs a row.
add_test(NAME accuracy/loop COMMAND loop --runs 2 --first 5 --jobs 2 --check)
# The day's sheet on pieces with several repairs; the long form takes 200 pieces.
add_test(NAME accuracy/day COMMAND day --runs 24 --jobs 2 --check)
# Pairs of photos: the index of metamerism, and a repair whose old wood is in another photo.
foreach(program test_scene_lamps test_scene_elsewhere)
  add_executable(${program} ${CMAKE_SOURCE_DIR}/tests/scene/${program}.c)
  target_include_directories(${program} PRIVATE src/base src/job src/steps)
  target_link_libraries(${program} PRIVATE hw_check hw_scene_marks)
  add_test(NAME scene/${program} COMMAND ${program})
endforeach()
# Finding the card in made-up photos; the long form takes 200 scenes. The renderer is optimised in every build, and not
# part of what the sanitizers watch: it is as slow as all else together.
add_library(hw_find_scene STATIC ${CMAKE_SOURCE_DIR}/tests/accuracy/find_scene.c)
target_include_directories(hw_find_scene PUBLIC ${CMAKE_SOURCE_DIR}/tests/accuracy)
target_compile_options(hw_find_scene PRIVATE -O3 -Wall -Wextra -Wconversion -ffp-contract=off)
target_link_libraries(hw_find_scene PRIVATE m)
add_executable(find_card ${CMAKE_SOURCE_DIR}/tests/accuracy/find_card.c)
target_include_directories(find_card PRIVATE src/base)
target_compile_definitions(find_card PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(find_card PRIVATE hw_scene_marks hw_find_scene hw_write_jpeg)
add_test(NAME accuracy/find_card COMMAND find_card --scenes 25 --first 5001 --width 800 --height 600 --jobs 2 --check)
add_test(NAME accuracy/find_card_demo COMMAND find_card --photos ${CMAKE_SOURCE_DIR}/demo --check)
if(EXISTS ${CMAKE_SOURCE_DIR}/../shared/photos)
  add_test(NAME accuracy/find_card_pictures COMMAND find_card --photos ${CMAKE_SOURCE_DIR}/../shared/photos --check)
  add_test(NAME accuracy/find_card_charts COMMAND find_card --photos ${CMAKE_SOURCE_DIR}/../shared/photos/real --check)
endif()
# Marks carried to the next photo of the same piece; the long form takes 200 pairs (carry_marks.c says what is to reach).
add_executable(carry_marks ${CMAKE_SOURCE_DIR}/tests/accuracy/carry_marks.c
  ${CMAKE_SOURCE_DIR}/tests/accuracy/carry_pairs.c)
target_compile_definitions(carry_marks PRIVATE HW_MALLOC_ALLOWED)
target_link_libraries(carry_marks PRIVATE hw_check hw_scene_marks hw_write_jpeg)
# Six pairs of wood with a figure and two of other pieces: too few for shares, so this asks that none of them gets worse.
add_test(NAME accuracy/carry_marks COMMAND carry_marks --first 15 --pairs 6 --others 2 --width 700 --jobs 2 --check)
add_executable(carry_photos ${CMAKE_SOURCE_DIR}/tests/accuracy/carry_photos.c)
target_link_libraries(carry_photos PRIVATE hw_check huewright_core)
if(EXISTS ${CMAKE_SOURCE_DIR}/../shared/photos)
  add_test(NAME accuracy/carry_photos COMMAND carry_photos ${CMAKE_SOURCE_DIR}/../shared/photos)
endif()
