# The front end for a browser: hw_serve is all of it, with the page built in and the libraries that it needs.

# The page's own files, and those of Debian's node-d3-zoom, which the photo screen pans and zooms with: `ADDRESS=PATH`.
set(page_dir ${CMAKE_SOURCE_DIR}/src/server/page)
file(GLOB_RECURSE page_files CONFIGURE_DEPENDS RELATIVE ${page_dir} ${page_dir}/*)
foreach(file IN LISTS page_files)
  list(APPEND page_entries "${file}=${page_dir}/${file}")
  list(APPEND page_paths ${page_dir}/${file})
endforeach()
foreach(part dispatch drag interpolate selection transition timer ease color zoom)
  find_file(D3_${part} d3-${part}.min.js PATHS /usr/share/nodejs/d3-${part}/dist NO_DEFAULT_PATH REQUIRED)
  list(APPEND page_entries "lib/d3-${part}.min.js=${D3_${part}}")
  list(APPEND page_paths ${D3_${part}})
  set(licence /usr/share/doc/node-d3-${part}/copyright) # BSD-3-Clause asks for it beside the program
  if(EXISTS ${licence})
    list(APPEND page_entries "lib/d3-${part}.licence.txt=${licence}")
    list(APPEND page_paths ${licence})
  endif()
endforeach()
add_custom_command(OUTPUT page_files.c
  COMMAND ${CMAKE_COMMAND} "-DOUT=page_files.c" "-DFILES=${page_entries}" -P ${CMAKE_SOURCE_DIR}/src/server/embed.cmake
  DEPENDS ${page_paths} ${CMAKE_SOURCE_DIR}/src/server/embed.cmake
  COMMENT "Building the page in" VERBATIM)

file(GLOB server_sources CONFIGURE_DEPENDS src/server/*.c)
add_library(hw_server OBJECT ${server_sources} ${CMAKE_CURRENT_BINARY_DIR}/page_files.c)
target_include_directories(hw_server PRIVATE include src/base src/server)
target_link_libraries(hw_server PRIVATE hw_flags PkgConfig::MICROHTTPD PkgConfig::QRENCODE Threads::Threads)

add_library(hw_serve INTERFACE)
target_sources(hw_serve INTERFACE $<TARGET_OBJECTS:hw_server>)
target_link_libraries(hw_serve INTERFACE PkgConfig::MICROHTTPD PkgConfig::QRENCODE Threads::Threads)
