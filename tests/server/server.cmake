# The front end for a browser: tests/server/test_*.c is one program each, with all of the server but no network.
file(GLOB programs CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/tests/server/test_*.c)
foreach(program IN LISTS programs)
  get_filename_component(name ${program} NAME_WE)
  add_executable(${name} ${program})
  target_include_directories(${name} PRIVATE src/server src/card)
  target_link_libraries(${name} PRIVATE hw_serve hw_check hw_write_jpeg huewright_core)
  if(NOT name STREQUAL test_qr)
    add_test(NAME server/${name} COMMAND ${name})
  endif()
endforeach()
# The QR code is read by ZBar.
add_test(NAME server/qr COMMAND /usr/bin/python3 ${CMAKE_SOURCE_DIR}/tests/server/check_qr.py $<TARGET_FILE:test_qr>)
# The built program over a socket.
add_test(NAME server/daemon COMMAND /usr/bin/python3 ${CMAKE_SOURCE_DIR}/tests/server/check_daemon.py
  $<TARGET_FILE:huewright> ${CMAKE_BINARY_DIR}/scratch/daemon)
# The built server under requests that nobody means well. 77: this computer has only a loopback address.
foreach(name hostile hostile_time hostile_lan)
  add_test(NAME server/${name} COMMAND /usr/bin/python3 -B ${CMAKE_SOURCE_DIR}/tests/server/${name}.py $<TARGET_FILE:huewright>
    ${CMAKE_SOURCE_DIR} ${CMAKE_BINARY_DIR}/scratch/server_${name})
  set_tests_properties(server/${name} PROPERTIES TIMEOUT 300 SKIP_RETURN_CODE 77)
endforeach()
# Which sentences name the command line, and what a page says in their place.
add_test(NAME server/words COMMAND /usr/bin/python3 ${CMAKE_SOURCE_DIR}/tests/server/check_words.py ${CMAKE_SOURCE_DIR})
# API.md tells just the addresses that are answered.
add_test(NAME server/told COMMAND /usr/bin/python3 ${CMAKE_SOURCE_DIR}/tests/server/check_told.py ${CMAKE_SOURCE_DIR})
