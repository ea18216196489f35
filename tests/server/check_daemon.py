#!/usr/bin/env python3
"""The built program over a socket: start, ports, deadlines, bodies, end.  check_daemon.py PROGRAM FOLDER

What a client must see is read by Python's http.client or by hand; sections of RFC 9110 and 9112 are named at the checks."""
import http.client
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time

program, own = sys.argv[1], sys.argv[2]
shutil.rmtree(own, ignore_errors=True)
os.makedirs(own + "/jobs")
os.environ["XDG_DATA_HOME"] = own + "/data"
passed = failed = 0


def check(good, what):
    global passed, failed
    passed += bool(good)
    failed += not good
    if not good:
        print("failed:", what)


class Page:
    """The program, serving."""

    def __init__(self, *words):
        self.process = subprocess.Popen([program, "page", *words, own + "/jobs"], stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, text=True, encoding="utf-8")
        self.address = self.process.stdout.readline().rstrip("\n")
        match = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/", self.address)
        check(match, "first line: " + repr(self.address))
        self.port = int(match[1])
        self.host = "127.0.0.1:%d" % self.port

    def connect(self):
        return socket.create_connection(("127.0.0.1", self.port), 30)

    def say(self, text, wait=30):
        """All that comes back until the server closes."""
        with self.connect() as link:
            link.sendall(text.encode("latin-1"))
            return read_all(link, wait)

    def ask(self, method, target, body=None, **headers):
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if method != "GET":
            sent.setdefault("Origin", "http://" + self.host)
        link.request(method, target, body, sent)
        answer = link.getresponse()
        text = answer.read()
        link.close()
        return answer.status, text, answer.headers

    def end(self, how=signal.SIGTERM):
        start = time.monotonic()
        self.process.send_signal(how)
        out, err = self.process.stdout.read(), self.process.stderr.read()  # communicate() would miss what readline() took in
        return self.process.wait(30), time.monotonic() - start, out, err


def read_all(link, wait=30):
    got = b""
    link.settimeout(wait)
    try:
        while piece := link.recv(65536):
            got += piece
    except ConnectionResetError:
        pass
    except TimeoutError:
        got += b"(still open)"
    return got


def code_of(text):
    return json.loads(text)["error"]["code"]


def end_is_clean(page, how=signal.SIGTERM):
    code, took, out, err = page.end(how)
    check(code == 0 and err == "" and took < 3, "end: %d after %.1f s: %s" % (code, took, err))
    return out


# ---- Start: the address first, the next free port, or the refusal
first = Page()
second = Page()
check(first.port >= 8474 and second.port > first.port, "the next free port")
taken = subprocess.run([program, "page", "--port", str(first.port), own], capture_output=True, text=True)
check(taken.returncode == 2 and "another program serves there" in taken.stderr, "a port that is taken")
for words, code, says in ((["--port", "70000"], 2, "no port"), (["--port", "1.5"], 2, "no port"), ([own + "/none"], 3, "no such folder"),
                          (["--page-dir", own + "/none", own], 2, "no such folder"), (["a", "b"], 2, "one too many")):
    refused = subprocess.run([program, "page", *words], capture_output=True, text=True)
    check(refused.returncode == code and says in refused.stderr and "next: " in refused.stderr, "page %s: %s" % (words, refused.stderr))
check(end_is_clean(second, signal.SIGINT).count("Ctrl-C") == 1, "words")
end_is_clean(first, signal.SIGHUP)

# ---- What is served: GET, HEAD (RFC 9110, 9.3.2), a kept connection
page = Page("--port", "0", "--quiet")
status, body, headers = page.ask("GET", "/")
check(status == 200 and b"<html" in body, "the page")
status, body, head = page.ask("HEAD", "/")
check(status == 200 and body == b"" and head["Content-Length"] == headers["Content-Length"], "HEAD")
status, body, headers = page.ask("GET", "/lib/d3-zoom.min.js")
check(status == 200 and b"zoom" in body and headers["Content-Type"].startswith("text/javascript"), "a library's file")
status, body, _ = page.ask("GET", "/lib/d3-zoom.licence.txt")
check(status == 200 and b"BSD" in body, "its licence")
status, body, headers = page.ask("GET", "/api/hello")
check(status == 200 and json.loads(body)["program"] == "huewright" and headers["Cache-Control"] == "no-store", "hello")
for target in ("/../index.html", "/%2e%2e/index.html", "/..%2findex.html", "/index.html%00.js", "//etc/passwd", "/./index.html"):
    status, body, _ = page.ask("GET", target)
    check(status == 400 and code_of(body) == "bad-address", "refused: " + target)
two = page.say("GET /api/hello HTTP/1.1\r\nHost: %s\r\n\r\n" % page.host * 2, 1)
check(two.count(b"HTTP/1.1 200") == 2 and two.endswith(b"(still open)"), "two in one piece")  # RFC 9112, 9.3.2
check(b" 400 " in page.say("GET / HTTP/1.1\r\n\r\n", 1)[:20], "no Host")  # RFC 9112, 3.2
check(b"HTTP/1.1 403" in page.say("GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n", 1), "another Host")

# ---- Bodies: what is refused is refused before it comes; half of it never reaches a handler
post = "POST /api/pair HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nContent-Type: application/json\r\n" % (page.host, page.host)
answer = page.say(post + "Content-Length: 10737418240\r\n\r\n")
check(b"HTTP/1.1 413" in answer and b"body-large" in answer and b"close" in answer.lower(), "10 GiB are announced")
answer = page.say(post + "Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n")
check(b"HTTP/1.1 400" in answer and answer.count(b"HTTP/1.1") == 1, "two lengths")  # RFC 9112, 6.3, rule 3
answer = page.say(post + "Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}x")
check(b"HTTP/1.1 400" in answer and answer.count(b"HTTP/1.1") == 1, "two Content-Lengths")  # rule 5
answer = page.say(post + "Transfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n", 1)
check(b"pair-unasked" in answer, "chunked")
with page.connect() as link:  # more than 1 KiB in chunks: refused in the middle
    link.sendall((post + "Transfer-Encoding: chunked\r\n\r\n").encode())
    piece = b"10000\r\n" + b" " * 65536 + b"\r\n"
    try:
        for _ in range(80):
            link.sendall(piece)
    except OSError:
        pass
    answer = read_all(link)
    check(b"HTTP/1.1 413" in answer or answer == b"", "5 MiB in chunks")
answer = page.say(post.replace("Origin: http", "Origin: https") + "Content-Length: 2\r\n\r\n{}" + "GET /api/hello HTTP/1.1\r\nHost: %s\r\n\r\n" % page.host, 1)
check(b"HTTP/1.1 403" in answer and b"HTTP/1.1 200" in answer, "a small refused body is read over")

# ---- Many at once: eight browsers with six connections each, and the rest of what there is
links = [page.connect() for _ in range(60)]
for link in links:
    link.sendall(b"GET /api/hello HTTP/1.1\r\nHost: %s\r\n\r\n" % page.host.encode())
check(all(link.recv(12) == b"HTTP/1.1 200" for link in links), "60 connections")
for link in links:
    link.close()

# ---- Deadlines. A slow client is told so (RFC 9110, 15.5.9); whoever says nothing is not
results = {}


def slow(name, text, drip, wait):
    start = time.monotonic()
    with page.connect() as link:
        link.sendall(text.encode())
        link.settimeout(0.3)
        got = b""
        while time.monotonic() - start < wait:
            try:
                if drip:
                    link.sendall(drip)
                piece = link.recv(65536)
                if not piece:
                    break
                got += piece
            except TimeoutError:
                pass
            except OSError:
                break
    results[name] = (time.monotonic() - start, got)


jobs = [("silent", "", b"", 20), ("half", "GET / HTTP/1.1\r\nHo", b"", 20), ("trickle", "GET / HTTP/1.1\r\nX: ", b"x", 20),
        ("body", post + "Content-Length: 4000\r\n\r\n", b" ", 30)]
threads = [threading.Thread(target=slow, args=job) for job in jobs]
for thread in threads:
    thread.start()
status, body, _ = page.ask("GET", "/api/hello")
check(status == 200, "others go on")
for thread in threads:
    thread.join()
for name, least, most in (("silent", 9, 13), ("half", 9, 13), ("trickle", 9, 13), ("body", 19, 23)):
    took, got = results[name]
    check(least < took < most, "%s ended after %.1f s" % (name, took))
check(results["silent"][1] == b"", "silent is told nothing")
for name in ("trickle", "body"):
    check(results[name][1].startswith(b"HTTP/1.1 408") and b"body-slow" in results[name][1], name + " is told: " + repr(results[name][1][:40]))

# ---- The end, with connections that are idle and half a request
idle, half = page.connect(), page.connect()
half.sendall(b"POST /api/pair HTTP/1.1\r\nHost")
check(end_is_clean(page) == "", "--quiet prints the address alone")

# ---- The page from a folder: what is there now, and nothing beside it
site = own + "/site"
os.makedirs(site + "/screens")
for name, text in (("index.html", "<p>one"), ("screens/a.js", "a"), (".hidden", "x")):
    with open(site + "/" + name, "w", encoding="utf-8") as file:
        file.write(text)
with open(own + "/secret.txt", "w", encoding="utf-8") as file:
    file.write("not for you")
os.symlink(own + "/secret.txt", site + "/link.txt")
os.symlink(own, site + "/up")
os.mkfifo(site + "/pipe")
page = Page("--port", "0", "--page-dir", site)
check(page.ask("GET", "/")[1] == b"<p>one", "index.html")
check(page.ask("GET", "/screens/a.js")[1] == b"a", "a file in a folder")
with open(site + "/index.html", "w", encoding="utf-8") as file:
    file.write("<p>two")
check(page.ask("GET", "/")[1] == b"<p>two", "read anew")
check(b"zoom" in page.ask("GET", "/lib/d3-zoom.min.js")[1], "libraries stay built in")
for target in ("/link.txt", "/up/secret.txt", "/.hidden", "/screens", "/pipe", "/main.js", "/screens/../.hidden"):
    status, body, _ = page.ask("GET", target)
    check(status in (400, 404) and b"not for you" not in body, "not served: " + target)
end_is_clean(page)

# ---- Pairing: the code of the terminal, once; the cookie survives a restart
page = Page("--port", "0", "--lan")
lines = []
while not lines or not lines[-1].startswith("Code"):
    lines.append(page.process.stdout.readline())
code = lines[-1].split(":")[1].replace(" ", "").strip()
check("not encrypted" in "".join(lines), "plain words of the risk")
check(page.ask("GET", "/api/jobs")[0] == 403, "no cookie")
said = json.dumps({"code": code, "device": "phone"})
status, body, headers = page.ask("POST", "/api/pair", said, Content_Type="application/json")
cookie = headers["Set-Cookie"].split(";")[0]
check(status == 201, "paired")
check(page.ask("POST", "/api/pair", said, Content_Type="application/json")[0] == 403, "a code serves once")
check(page.ask("GET", "/api/nothing", Cookie=cookie)[0] == 404, "the cookie is taken")
check("Code for the next device" in end_is_clean(page), "the next code was shown")
page = Page("--port", "0", "--lan", "--quiet")
check(page.ask("GET", "/api/nothing", Cookie=cookie)[0] == 404, "also after a restart")
check(page.ask("GET", "/api/nothing", Cookie=cookie[:-1])[0] == 403, "no part of it")
end_is_clean(page)

print(passed, "passed,", failed, "failed")
sys.exit(failed != 0 or passed < 50)
