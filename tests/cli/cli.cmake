# The built program from outside: each script gets the program, the maker of photos, the source tree
# and a fresh folder of its own.
add_executable(cli_shop ${CMAKE_SOURCE_DIR}/tests/cli/cli_shop.c)
target_include_directories(cli_shop PRIVATE src/card)
target_link_libraries(cli_shop PRIVATE hw_check hw_write_jpeg huewright_core)
file(GLOB scripts CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/tests/cli/cli_*.sh)
foreach(script IN LISTS scripts)
  get_filename_component(name ${script} NAME_WE)
  add_test(NAME cli/${name} COMMAND sh ${script} $<TARGET_FILE:huewright> $<TARGET_FILE:cli_shop>
    ${CMAKE_SOURCE_DIR} ${CMAKE_BINARY_DIR}/scratch/${name})
endforeach()
