#!/bin/sh
# Who may include whom, over src/ and include/: prints each broken rule, exits 1 if any.
#   1 a stage includes public headers of itself and of stages to its left
#   2 X_internal.h is for src/X/ and tests/X/; base_internal.h for all of src/
#   3 public headers include public headers and standard C only
#   4 an outside library is known to the files named here and to no other
#   5 POSIX only in base_disk, base_file, base_stream, base_fault, the decoding child, cli and server
set -u
cd "$1" || exit 2
grep -nE '^[[:space:]]*#[[:space:]]*include' -r include src | awk '
BEGIN {
    n = split("base colour measure photo mark card sample compare tone picture job report steps", line, " ")
    for (i = 1; i <= n; i++) rank[line[i]] = i
    rank["cli"] = rank["server"] = n + 1
    split("stb_image.h photo_stb.c,vl/sift.h mark_features.c,libheif/heif.h photo_heif.c,libraw/libraw.h photo_raw.c,lcms2.h photo_icc.c,lcms2_plugin.h photo_icc.c,cjson/cJSON.h base_json.c,zlib.h base_checksum.c,nettle/sha2.h base_checksum.c,nettle/base64.h base_checksum.c,stb_image_write.h report_jpeg.c,archive.h base_pack.c,archive_entry.h base_pack.c,librsvg/rsvg.h report_png.c,microhttpd.h server_daemon.c,qrencode.h server_qr.c", pairs, ",")
    for (i in pairs) { split(pairs[i], p, " "); home[p[1]] = p[2] }
    home_also["zlib.h"] = "photo_icc.c"
    home_also["lcms2.h"] = home_also["lcms2_plugin.h"] = "base_cgats.c"
    m = split("unistd.h fcntl.h dirent.h sys/stat.h sys/types.h sys/mman.h sys/wait.h sys/resource.h sys/prctl.h sys/socket.h sys/syscall.h sys/file.h sys/ioctl.h sys/random.h signal.h poll.h termios.h arpa/inet.h netinet/in.h net/if.h ifaddrs.h pthread.h", posix_list, " ")
    for (i = 1; i <= m; i++) posix[posix_list[i]] = 1
}
{
    at = index($0, ":"); file = substr($0, 1, at - 1); rest = substr($0, at + 1)
    at = index(rest, ":"); number = substr(rest, 1, at - 1); inc = substr(rest, at + 1)
    sub(/^[ \t]*#[ \t]*include[ \t]*[<"]/, "", inc); sub(/[>"].*/, "", inc)
    k = split(file, part, "/"); base = part[k]
    public = part[1] == "include"
    if (public) { mod = base; sub(/\.h$/, "", mod) } else mod = part[2]
    if (mod == "huewright" || mod == "main.c") mod = "all"
    if (mod != "all" && !(mod in rank)) bad("a folder or header without a place in the line")
    if (inc ~ /\.\./) bad("no way up with ..")
    if (inc in home && home[inc] != base && home_also[inc] != base) bad("only " home[inc] " may use this library")
    if (inc in posix && base !~ /^(base_disk\.h|(base_disk|base_fault|base_file|base_stream|photo_child)\.c)$/ && mod != "cli" && mod != "server" && mod != "all")
        bad("POSIX lives in base_disk.c, base_file.c, base_stream.c, base_fault.c, photo_child.c, cli and server")
    if (inc ~ /_internal\.h$/) {
        to = inc; sub(/_internal\.h$/, "", to); sub(/.*\//, "", to)
        if (public || (to != mod && to != "base")) bad("internal to src/" to)
    } else if (inc ~ /^huewright\//) {
        to = inc; sub(/^huewright\//, "", to); sub(/\.h$/, "", to)
        if (to == "huewright") { if (mod != "cli" && mod != "server" && mod != "all") bad("huewright.h is for front ends") }
        else if (!(to in rank)) bad("no such header in the line")
        else if (mod != "all" && rank[to] > rank[mod]) bad(mod " comes before " to " in the line")
    } else if (public && inc !~ /^(std[a-z]+|math|float|limits|string)\.h$/) bad("public headers include public headers and standard C only")
}
function bad(why) { print file ":" number ": includes " inc ": " why; broken = 1 }
END { if (NR == 0) { print "nothing to check"; exit 1 } exit broken }
'
