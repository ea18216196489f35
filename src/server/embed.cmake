# embed.cmake: files become one C table, so that the program holds its page.
#
#   cmake -DOUT=page_files.c -DFILES="ADDRESS=PATH;ADDRESS=PATH..." -P embed.cmake
#
# Makes `const server_file server_files[]` (server_internal.h), ended by an empty one. The mark of a file is its SHA-256.
set(arrays "")
set(rows "")
set(number 0)
foreach(file IN LISTS FILES)
  string(FIND "${file}" "=" at)
  string(SUBSTRING "${file}" 0 ${at} address)
  math(EXPR at "${at} + 1")
  string(SUBSTRING "${file}" ${at} -1 path)
  file(READ "${path}" bytes HEX)
  file(SHA256 "${path}" mark)
  file(SIZE "${path}" size)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${bytes}")
  string(REGEX REPLACE "(................................................................................)" "\\1\n" bytes "${bytes}")
  string(APPEND arrays "static const unsigned char file_${number}[] = {\n${bytes}0};\n")
  string(APPEND rows "    {\"${address}\", file_${number}, ${size}, \"\\\"${mark}\\\"\"},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE "${OUT}" "// Made by embed.cmake.\n#include \"server_internal.h\"\n\n${arrays}\n"
  "const server_file server_files[] = {\n${rows}    {0}};\n")
