"""Devices that are not paired, over an address of this computer that others reach too.

    hostile_lan.py PROGRAM SOURCE_TREE OWN_FOLDER

Cookies are owed by RFC 6265 (5.2 and 5.4: attributes, one Cookie header) and its draft successor 6265bis (SameSite); what a
code must withstand is chosen (src/server/API.md).
"""
import os
import re
import shutil
import socket
import stat
import sys

from served import Checks, Served

told = Checks()
check = told.check


def has_other_address():
    """Whether this computer has an address besides its own loopback (no packet is sent)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
        try:
            line.connect(("192.0.2.1", 9))  # RFC 5737: an address for examples
            return not line.getsockname()[0].startswith("127.")
        except OSError:
            return False


ASKED = (
    ("GET", "/api/jobs", None), ("POST", "/api/jobs", {"title": "Not paired"}), ("GET", "/api/uploads", None),
    ("POST", "/api/uploads?name=a.jpg", b"\xff\xd8\xff"), ("GET", "/api/jobs/lid/pack", None),
    ("DELETE", "/api/shelf/red", None), ("GET", "/api/no-such", None), ("GET", "/api/jobs/%2e%2e", None),
)


def all_refused(server, what, status, code, **headers):
    for method, target, body in ASKED:
        answer = server.request(method, target, body, **headers)
        check(answer.status == status or (answer.status == 400 and "%2e" in target),
                f"{what}: {method} {target}: {answer.status} {answer.body[:100]}")
        check(answer.code() == code or answer.status == 400, f"{what}: {method} {target}: code {answer.code()}")


def pair(server, before=0):
    """(code, cookie as NAME=VALUE, the whole Set-Cookie)."""
    code = server.pairing_code(before)
    answer = server.request("POST", "/api/pair", {"code": code, "device": "bench phone"})
    check(answer.status in (200, 201), f"the code pairs: {answer.status} {answer.body[:160]}")
    whole = answer.headers.get("set-cookie", "")
    return code, whole.split(";")[0], whole


def refusals_without_cookie(server):
    all_refused(server, "no cookie", 403, "not-paired")
    for cookie in ("huewright=", "huewright=" + "0" * 64, "a=b", "=", ";;;", "huewright=%00", "x" * 5000):
        all_refused(server, f"cookie {cookie[:20]}", 403, "not-paired", Cookie=cookie)
    check(server.request("GET", "/").status == 200, "the page itself is shown, to pair by")
    hello = server.request("GET", "/api/hello")
    check(hello.status == 200 and hello.json()["paired"] is False and hello.json()["lan"] is True, f"hello: {hello.body[:120]}")
    for other in (f"evil.example:{server.port}", f"127.0.0.1:{server.port}"):
        answers, _, _ = server.talk(f"GET /api/hello HTTP/1.1\r\nHost: {other}\r\nConnection: close\r\n\r\n".encode())
        check(answers and answers[0].status in (400, 403), f"Host {other} over the network")


def cookies(server, cookie, whole):
    name, _, value = cookie.partition("=")
    attributes = {part.strip().lower() for part in whole.split(";")[1:]}
    check({"httponly", "samesite=strict", "path=/"} <= attributes, f"cookie: {whole}")
    check(any(a.startswith("max-age=") for a in attributes) and not any(a.startswith("domain") for a in attributes), f"cookie: {whole}")
    check(len(value) >= 43, f"256 bits in it: {len(value)} letters")  # 43 letters of base64, 64 of hex
    paired = {"Cookie": cookie}
    check(server.request("GET", "/api/jobs", **paired).status == 200, "a paired device may ask")
    check(server.request("GET", "/api/jobs", Cookie=f"a=b; {cookie}; c=d").status == 200, "among other cookies too")
    check(server.request("GET", "/api/hello", **paired).json()["paired"] is True, "hello says so")
    for wrong in (f"{name}={value[:-1]}", f"{name}={value}0", f"{name}={value.swapcase()}", f"{name}x={value}", f"{name}={value[::-1]}"):
        check(server.request("GET", "/api/jobs", Cookie=wrong).code() == "not-paired", f"cookie {wrong[:30]}…")
    # Two Cookie headers: RFC 6265 section 5.4 has one at most.
    raw = f"GET /api/jobs HTTP/1.1\r\nHost: {server.host}\r\nCookie: {cookie}\r\nCookie: {name}=wrong\r\nConnection: close\r\n\r\n"
    answers, _, _ = server.talk(raw.encode())
    check(answers and answers[0].status in (400, 403), f"two Cookie headers: {answers and answers[0].status}")
    foreign = server.request("POST", "/api/jobs", {"title": "Foreign"}, Origin="http://evil.example", **paired)
    check(foreign.code() == "origin", "a cookie does not help a foreign page")
    made = server.request("POST", "/api/jobs", {"title": "Lid"}, **paired)
    check(made.status == 201, f"a paired device starts a job: {made.status}")
    for place in ("report/shop", "pack", "history"):
        check(server.request("GET", f"/api/jobs/{made.json()['job']['name']}/{place}").code() == "not-paired", f"{place} without a cookie")


def codes(server):
    before = len(server.told)
    code, cookie, whole = pair(server)
    check(re.fullmatch(r"[A-Z2-9]{8,}", code) is not None, f"code {code}: capitals and digits that nobody confuses")
    check(not set(code) & set("O0I1"), f"code {code}: nothing in it looks like another")
    again = server.request("POST", "/api/pair", {"code": code, "device": "a thief"})
    check(again.status == 403 and again.code() == "pair-code", f"a code is good once: {again.status}")
    check("set-cookie" not in again.headers, "and gives no cookie")
    check("".join(server.told[:before]).find(cookie.partition("=")[2]) < 0, "the cookie is not printed")
    second = server.pairing_code(before)
    check(second is not None and second != code, "the next device gets a code of its own")
    cookies(server, cookie, whole)
    return cookie


def guessing(server, cookie):
    locked = 0
    for number in range(25):
        answer = server.request("POST", "/api/pair", {"code": f"AAAAAA{chr(65 + number)}B", "device": "a guesser"})
        check(answer.status in (403, 429), f"wrong code {number}: {answer.status}")
        locked += answer.code() == "pair-locked"
    check(locked >= 4, f"locked after 20: {locked} of 25 were told so")
    answer = server.request("POST", "/api/pair", {"code": server.pairing_code(), "device": "late"})
    check(answer.status == 429 and answer.code() == "pair-locked", f"the right code, too late: {answer.status} {answer.code()}")
    check(server.request("GET", "/api/jobs", Cookie=cookie).status == 200, "paired devices go on")
    for body in ({}, {"code": ""}, {"code": None}, {"code": ["A"]}, {"code": "A" * 100000}, {"device": "x"}, [], "x"):
        answer = server.request("POST", "/api/pair", body if isinstance(body, (dict, list)) else b'"x"', Content_Type="application/json")
        check(answer.status in (400, 403, 413, 415, 422, 429), f"pairing with {str(body)[:30]}: {answer.status}")
    # 4 MiB of numbers are 170 MB as a tree: nobody makes one who is not paired.
    before = server.memory_most_kib()
    for _ in range(3):
        answer = server.request("POST", "/api/pair", b"[" + b"1," * 2000000 + b"1]", Content_Type="application/json")
        check(answer.status == 413, f"pairing with 4 MB of numbers: {answer.status}")
    check(server.memory_most_kib() - before < 20000, f"which took {server.memory_most_kib() - before} KiB")


def main():
    program, _, own = sys.argv[1:]
    if not has_other_address():
        print("skipped: this computer has no address besides loopback")
        return 77
    shutil.rmtree(own, ignore_errors=True)
    os.makedirs(own)
    own = os.path.abspath(own)
    folder, data = os.path.join(own, "jobs"), os.path.join(own, "data")
    server = Served(program, folder, data, "--lan")
    check(not server.name.startswith("127."), f"the address of the network: {server.name}")
    refusals_without_cookie(server)
    cookie = codes(server)
    check(server.stop() == 0, "stops on SIGTERM with 0")
    complaints = server.complaints
    devices = os.path.join(data, "huewright", "devices.json")
    check(os.path.exists(devices) and stat.S_IMODE(os.stat(devices).st_mode) == 0o600, "what it keeps of devices is for its owner alone")
    if os.path.exists(devices):
        with open(devices, encoding="utf-8") as file:
            check(cookie.partition("=")[2] not in file.read(), "and holds no cookie")
    server = Served(program, folder, data, "--lan", "--port", str(server.port))
    check(server.request("GET", "/api/jobs", Cookie=cookie).status == 200, "the cookie is good after a restart")
    guessing(server, cookie)
    check(server.is_alive(), "answers in the end")
    check(server.stop() == 0, "stops")
    complaints += server.complaints
    server = Served(program, folder, data, "--lan")
    pair(server)  # a restart opens pairing again
    check(server.stop() == 0, "stops again")
    complaints += server.complaints
    check(not re.search(r"Sanitizer|runtime error", "".join(complaints)), f"stderr: {''.join(complaints)[:2000]}")
    return told.end()


sys.exit(main())
