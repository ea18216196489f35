# The built server under requests that nobody means well. 77: this computer has only a loopback address.
foreach(name hostile hostile_time hostile_lan)
  add_test(NAME server/${name} COMMAND /usr/bin/python3 -B ${CMAKE_SOURCE_DIR}/tests/server/${name}.py $<TARGET_FILE:huewright>
    ${CMAKE_SOURCE_DIR} ${CMAKE_BINARY_DIR}/scratch/server_${name})
  set_tests_properties(server/${name} PROPERTIES TIMEOUT 300 SKIP_RETURN_CODE 77)
endforeach()
