"""Requests that nobody means well, byte by byte: each is refused with its reason, and the server answers on.

    hostile.py PROGRAM SOURCE_TREE OWN_FOLDER

What is owed is said by RFC 9110 (HTTP semantics), RFC 9112 (HTTP/1.1), RFC 3986 (addresses), RFC 8259 (JSON), RFC 6454
(origins); what they leave open (limits, codes) by src/server/API.md.
"""
import json
import os
import random
import shutil
import sys

from served import Checks, Served

ANY_REFUSAL = range(400, 600)
told = Checks()
check = told.check


def get(target, host, *lines):
    return f"GET {target} HTTP/1.1\r\nHost: {host}\r\n{''.join(line + chr(13) + chr(10) for line in lines)}\r\n".encode()


def post(target, host, body, *lines, kind="application/json", length=True):
    head = f"POST {target} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n"
    head += f"Content-Type: {kind}\r\n" if kind else ""
    head += f"Content-Length: {len(body)}\r\n" if length else ""
    head += "".join(line + "\r\n" for line in lines)
    return head.encode("latin-1") + b"\r\n" + body


def alive(server, after):
    check(server.process.poll() is None, f"still runs after: {after}")
    if server.process.poll() is not None:
        print("".join(server.complaints))
        sys.exit(1)


def refused(server, what, raw, statuses=ANY_REFUSAL, codes=None, must_say=True):
    """One refusal comes, with one of the statuses and codes; where it may also hang up, must_say is False."""
    answers, rest, closed = server.talk(raw)
    alive(server, what)
    statuses = [statuses] if isinstance(statuses, int) else statuses
    if not answers:
        check(not must_say and closed, f"{what}: no answer, {'closed' if closed else 'left waiting'}, {rest[:80]}")
        return
    answer = answers[0]
    check(answer.status in statuses, f"{what}: {answer.status} {answer.body[:160]}")
    check(b"root:" not in answer.body, f"{what}: tells a file of the computer")
    if codes:
        check(answer.code() in codes, f"{what}: code {answer.code()}, wanted {codes}")
    if answer.code():
        error = answer.json()["error"]
        check(error.get("what") and error.get("next"), f"{what}: says what and what next: {error}")


# ---- Whose page asks ---------------------------------------------------------------

def hosts(server):
    host, port = server.host, server.port
    # RFC 9112 section 3.2: 400 for no Host, more than one, or one that is none.
    refused(server, "no Host", b"GET /api/jobs HTTP/1.1\r\n\r\n", 400)
    refused(server, "no Host, 1.0", b"GET /api/jobs HTTP/1.0\r\n\r\n", 400)
    refused(server, "two Hosts", get("/api/jobs", host, f"Host: {host}"), 400)
    refused(server, "two Hosts, another first", get("/api/jobs", "evil.example", f"Host: {host}"), 400)
    refused(server, "Host with a blank", get("/api/jobs", "a b"), (400, 403))
    refused(server, "empty Host", get("/api/jobs", ""), (400, 403))
    # A name that somebody else's name server points here (RFC 6454 section 8.4 leaves that to the server).
    for other in ("evil.example", f"evil.example:{port}", f"localhost.evil.example:{port}", f"127.0.0.1:{port + 1}", "127.0.0.1",
                  f"127.0.0.1:{port}@evil.example", f"evil@127.0.0.1:{port}", f"127.0.0.1:0{port}", f"127.1:{port}", f"2130706433:{port}",
                  f"0.0.0.0:{port}", f"127.0.0.1:{port}.", f"127.0.0.1:{port},evil.example"):
        refused(server, f"Host {other}", get("/api/jobs", other), (400, 403))
        refused(server, f"Host {other}, the page itself", get("/", other), (400, 403))
    refused(server, "Host of another, code", get("/api/jobs", f"evil.example:{port}"), 403, ("host",))
    # RFC 9112 section 3.2.2: the authority of an absolute address counts, not Host.
    refused(server, "absolute address of another", get("http://evil.example/api/jobs", host), (400, 403, 404))
    refused(server, "absolute address, other scheme", get("file:///etc/passwd", host), (400, 403, 404))


def origins(server):
    host = server.host
    body = b'{"title":"Not meant"}'
    for origin in ("http://evil.example", "null", "https://" + host, "http://" + host + "/", "http://" + host + ".evil.example",
                   f"http://{server.name}", "", "http://" + host + " http://" + host):
        raw = post("/api/jobs", host, body).replace(f"Origin: http://{host}".encode(), f"Origin: {origin}".encode())
        refused(server, f"Origin {origin!r}", raw, 403, ("origin",))
    ours = f"Origin: http://{host}\r\n".encode()
    refused(server, "no Origin", post("/api/jobs", host, body).replace(ours, b""), 403, ("origin",))
    refused(server, "two Origins", post("/api/jobs", host, body, f"Origin: http://{host}"), (400, 403), ("origin", "bad-header"))
    refused(server, "two Origins, one foreign", post("/api/jobs", host, body, "Origin: http://evil.example"), (400, 403),
            ("origin", "bad-header"))
    refused(server, "foreign Origin on GET", get("/api/jobs", host, "Origin: http://evil.example"), 403, ("origin",))
    refused(server, "foreign Origin on DELETE", get("/api/shelf/red", host, "Origin: http://evil.example")
            .replace(b"GET", b"DELETE"), 403, ("origin",))
    refused(server, "another site's picture of ours", get("/api/jobs", host, "Sec-Fetch-Site: cross-site"), 403, ("origin",))
    refused(server, "another port's page", get("/api/jobs", host, "Sec-Fetch-Site: same-site"), 403, ("origin",))
    check(server.request("GET", "/api/jobs", Sec_Fetch_Site="same-origin").status == 200, "our own page may")
    check(server.request("GET", "/api/jobs").json()["jobs"] == [], "nothing was made by them")


# ---- Messages that are none --------------------------------------------------------

def framing(server):
    host = server.host
    body = b'{"title":"Smuggled"}'
    hidden = post("/api/jobs", host, body)
    # RFC 9112 section 6.1 and 6.3: both lengths: may be refused, and the connection closed; never a second request.
    # Section 6.3, 5: lengths that differ or are no number: 400 and closed. Section 7.1: chunks.
    rows = [
        ("length and chunks", post("/api/jobs", host, b"0\r\n\r\n" + hidden, "Transfer-Encoding: chunked")),
        ("chunks and a short length", post("/api/jobs", host, b"0\r\n\r\n" + hidden, "Content-Length: 5",
            "Transfer-Encoding: chunked", length=False)),
        ("two lengths", post("/api/jobs", host, hidden, "Content-Length: 0")),
        ("two lengths, short first", post("/api/jobs", host, hidden, "Content-Length: 0", f"Content-Length: {len(hidden)}", length=False)),
        ("two lengths in one", post("/api/jobs", host, hidden, "Content-Length: 0, 7", length=False)),
        ("length -1", post("/api/jobs", host, hidden, "Content-Length: -1", length=False)),
        ("length +5", post("/api/jobs", host, hidden, "Content-Length: +5", length=False)),
        ("length 0x5", post("/api/jobs", host, hidden, "Content-Length: 0x5", length=False)),
        ("length past 64 bits", post("/api/jobs", host, hidden, "Content-Length: 18446744073709551617", length=False)),
        ("length of a word", post("/api/jobs", host, hidden, "Content-Length: five", length=False)),
        ("empty length", post("/api/jobs", host, hidden, "Content-Length: ", length=False)),
        ("unknown coding", post("/api/jobs", host, hidden, "Transfer-Encoding: gzip, chunked", length=False)),
        ("coding said twice", post("/api/jobs", host, b"0\r\n\r\n" + hidden, "Transfer-Encoding: chunked",
            "Transfer-Encoding: identity", length=False)),
        ("chunked, disguised", post("/api/jobs", host, b"0\r\n\r\n" + hidden, "Transfer-Encoding: xchunked", length=False)),
        ("blank before the colon", post("/api/jobs", host, b"0\r\n\r\n" + hidden, "Transfer-Encoding : chunked")),
        ("chunk size no number", post("/api/jobs", host, b"zz\r\nxx\r\n0\r\n\r\n", "Transfer-Encoding: chunked", length=False)),
        ("chunk size past 64 bits", post("/api/jobs", host, b"fffffffffffffffff\r\nx", "Transfer-Encoding: chunked", length=False)),
        ("chunk without end", post("/api/jobs", host, b"2\r\n{}XX0\r\n\r\n", "Transfer-Encoding: chunked", length=False)),
        ("folded header", get("/api/jobs", host, "X-A: b", "\tc", "  Host: evil.example")),
        ("NUL in a header", get("/api/jobs", host, "X-A: a\0b")),
        ("header without a colon", get("/api/jobs", host, "nothing")),
        ("header without a name", get("/api/jobs", host, ": nothing")),
        ("header with a blank in its name", get("/api/jobs", host, "X A: b")),
    ]
    harmless = {"folded header", "NUL in a header", "header without a colon", "header without a name", "header with a blank in its name"}
    for what, raw in rows:
        answers, _, closed = server.talk(raw, linger=0.3)
        alive(server, what)
        # A GET whose odd header is dropped does nothing but what it says; everything with a body must be refused.
        most = 1 if what in harmless else 0
        check(sum(a.status < 400 for a in answers) <= most, f"{what}: {[(a.status, a.body[:60]) for a in answers]}")
        check(len(answers) <= 1, f"{what}: {len(answers)} answers to one request: {[(a.status, a.body[:80]) for a in answers]}")
        check(answers or closed, f"{what}: left waiting")
    check(server.request("GET", "/api/jobs").json()["jobs"] == [], "nothing was smuggled in")
    # Two well-meant requests in one go are answered in turn (RFC 9112 section 9.3.2).
    both = get("/api/hello", host) + get("/api/no-such", host)
    answers, _, _ = server.talk(both, wanted=2)
    check([a.status for a in answers] == [200, 404], f"two in one go: {[a.status for a in answers]}")
    # A body on a GET is read away, not taken for the next request (RFC 9110 section 9.3.1), or the connection ends.
    answers, _, _ = server.talk(get("/api/hello", host, f"Content-Length: {len(hidden)}") + hidden, linger=0.3)
    check(len(answers) <= 1, f"body on a GET: {[(a.status, a.body[:60]) for a in answers]}")
    check(server.request("GET", "/api/jobs").json()["jobs"] == [], "a GET's body is no request")


def garbage(server):
    host = server.host
    rows = [
        ("HTTP/0.9", b"GET /\r\n\r\n"),  # RFC 9112 appendix C.1: nothing to be told
        ("HTTP/2 outright", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"),
        ("HTTP/3.7", get("/api/hello", host).replace(b"HTTP/1.1", b"HTTP/3.7")),  # RFC 9110 15.6.6
        ("HTTP/1.1.1", get("/api/hello", host).replace(b"HTTP/1.1", b"HTTP/1.1.1")),
        ("http/1.1", get("/api/hello", host).replace(b"HTTP/1.1", b"http/1.1")),
        ("a hello of TLS", bytes.fromhex("16030100c8010000c40303") + bytes(range(190)) + b"\r\n\r\n"),
        ("blanks in the address", get("/api/hello x y", host)),
        ("only line ends", b"\r\n" * 3000),
        ("NULs", b"\0" * 4000 + b"\r\n\r\n"),
        ("no method", b" / HTTP/1.1\r\nHost: " + host.encode() + b"\r\n\r\n"),
    ]
    for what, raw in rows:
        with server.connect() as line:
            line.settimeout(3)
            try:
                line.sendall(raw)
                line.shutdown(1)
                said = line.recv(65536)
            except OSError:
                said = b""
        alive(server, what)
        check(not said or said[9:12] >= b"400", f"{what}: {said[:120]}")
    chance = random.Random(1)
    for turn in range(100):
        raw = bytearray(post(chance.choice(["/api/jobs", "/api/pair", "/api/jobs/x/passes"]), host,
                b'{"title":"x","entry":"aaaaaaaaaaaaaaaa"}'))
        for _ in range(chance.randrange(1, 12)):
            raw[chance.randrange(20, len(raw))] = chance.randrange(256)
        with server.connect() as line:
            line.settimeout(0.05)
            try:
                line.sendall(raw)
                line.recv(4096)
            except OSError:
                pass
        if turn % 20 == 0:
            alive(server, f"bytes changed by chance, {turn}")
    check(server.is_alive(), "answers after bytes by chance")


def methods(server):
    host = server.host
    for method in ("PUT", "PATCH", "TRACE", "OPTIONS", "CONNECT", "BREW", "get", "G" * 5000):
        refused(server, f"method {method[:20]}", get("/api/jobs", host, f"Origin: http://{host}").replace(b"GET", method.encode(), 1),
                (400, 405, 414, 431, 501), must_say=len(method) < 100)
    refused(server, "CONNECT elsewhere", f"CONNECT evil.example:443 HTTP/1.1\r\nHost: {host}\r\n\r\n".encode(), (400, 403, 405, 501))
    refused(server, "DELETE of everything", get("/api/jobs", host, f"Origin: http://{host}").replace(b"GET", b"DELETE"), 405)
    refused(server, "POST where there is only GET", post("/api/hello", host, b"{}"), 405)
    refused(server, "GET where there is only POST", get("/api/pair", host), 405)
    # RFC 9110 section 15.5.6: what would do is said.
    allow = server.request("POST", "/api/hello", {}).headers.get("allow", "")
    check("GET" in allow, f"405 says Allow: {allow!r}")
    head = server.request("HEAD", "/api/hello")  # RFC 9110 section 9.3.2
    check(head.status == 200 and not head.body, f"HEAD: {head.status} {head.body[:60]}")


# ---- Addresses ---------------------------------------------------------------------

# Put in the place of the * of each address.
CLIMBS = (
    "..", "../..", "%2e%2e", "%2E%2E/%2e%2e", "..%2f..", "..%2F..%2Fetc%2Fpasswd", "..%5c..", "..\\..", ".%2e/",
    "%2e", ".", "%00", "x%00", "%00x", "x%00.html", "%c0%ae%c0%ae", "%c0%af", "%e0%80%af", "%f8%80%80%80%af", "%ff",
    "%80", "%", "%2", "%zz", "%%", "%u002e", "%2f", "%2fetc%2fpasswd", "a%2fb", "%0d%0aX-Evil:%20yes",
    "....//....//etc/passwd", "..;/", "~root", "//etc/passwd", "secret", "lid/../secret", ".huewright-page", "%7f",
    "%01", "x" * 300, "*", "-rf",
)
PLACES = (
    "/*", "/lib/*", "/screens/*/etc/passwd", "/api/*", "/api/jobs/*", "/api/jobs/*/history", "/api/jobs/lid/*",
    "/api/jobs/lid/photos/*", "/api/jobs/lid/photos/*/picture", "/api/jobs/lid/pictures/*", "/api/jobs/lid/report/*",
    "/api/uploads/*", "/api/uploads/*/picture", "/api/jobs/*/pack",
)
QUERIES = (
    "longest=%00", "longest=-1", "longest=99999999999999999999", "longest=1e9", "longest=", "longest", "=", "&&&",
    "a=b&" * 100, "longest=8&longest=9", "%zz=1", "x=%ff",
)


def addresses(server, secret):
    """None of them gives what lies outside of the folder (RFC 3986 section 7.3), NUL least of all (7.3)."""
    host = server.host
    before = server.request("GET", "/api/jobs").json()
    for climb in CLIMBS:
        for place in (pattern.replace("*", climb) for pattern in PLACES):
            if climb == "*" and place == "/*":
                continue
            answers, _, closed = server.talk(get(place, host, "Connection: close"))
            if not answers:
                check(closed, f"{place}: left waiting")
                continue
            answer = answers[0]
            fine = answer.status in (400, 404, 405, 414, 422)
            # The same address once its dots are resolved (RFC 3986 section 5.2.4 leaves that to the one who asks, but a
            # server may): then it is the page, or a job's own answer.
            check(fine, f"GET {place}: {answer.status} {answer.body[:80]}")
            check(secret not in answer.body and b"root:" not in answer.body, f"GET {place}: tells what lies outside")
            check("x-evil" not in answer.headers, f"GET {place}: sets a header")
        alive(server, climb)
        refused(server, f"POST to {climb}", post(f"/api/jobs/{climb}/notes", host,
                b'{"entry":"aaaaaaaaaaaaaaaa","text":"x"}', "Connection: close"), (400, 404, 405, 422))
        refused(server, f"DELETE {climb}", get(f"/api/uploads/{climb}", host, f"Origin: http://{host}", "Connection: close")
                .replace(b"GET", b"DELETE"), (400, 404, 405, 422))
    check(server.request("GET", "/api/jobs").json() == before, "no job came or went")
    for query in QUERIES:
        answers, _, closed = server.talk(get(f"/api/uploads/0123456789abcdef/picture?{query}", host, "Connection: close"))
        check((answers and answers[0].status in (400, 404)) or closed, f"?{query}: {answers and answers[0].status}")
    # A target that is too long: 414 (RFC 9110 section 15.5.15); headers: 431 (RFC 6585 section 5). The library may hang up.
    refused(server, "address of 100 kB", get("/" + "a" * 100000, host), (400, 404, 414, 431), must_say=False)
    refused(server, "address of 8 kB", get("/api/" + "a" * 8000, host), (400, 404, 414, 431))
    refused(server, "200 segments", get("/api" + "/a" * 200, host), (400, 404, 414))
    refused(server, "header of 100 kB", get("/api/hello", host, "X-Long: " + "a" * 100000), (400, 413, 431), must_say=False)
    refused(server, "2000 headers", get("/api/hello", host, *[f"X-{i}: a" for i in range(2000)]), (400, 413, 431), must_say=False)
    refused(server, "100 headers", get("/api/hello", host, *[f"X-{i}: a" for i in range(100)]), (400, 413, 431))


# ---- Bodies ------------------------------------------------------------------------

# None of them starts a job.
NO_JOBS = (
    b"", b"x", b"{", b"null", b"[]", b'"title"', b"{\"title\":\"\xff\"}", b"{\"title\":\"\xed\xa0\x80\"}",
    b'{"title":"x"} {}', b"{'title':1}", b'{"title":NaN}', b'{"title":1e999}', b'{"title":1}', b'{"title":null}',
    b'{"title":["x"]}', b'{"title":{}}', b"{}", b'{"title":""}', b'{"title":"   "}', b"\xef\xbb\xbf{]",
    b"{\"title\":\"a\0b\"}", b'{"title":"x","from":"../secret"}', b'{"title":"x","from":"/etc"}',
    b'{"title":"x","from":"."}', b'{"title":"x","from":""}', b'{"title":"x","from":5}',
)


def bodies(server):
    host = server.host
    gigabytes = 10 * 1000 * 1000 * 1000
    announced = f"Content-Length: {gigabytes}"
    photo = "application/octet-stream"
    # Refused on the announcement alone; not a byte of it is sent (RFC 9110 section 15.5.14).
    refused(server, "10 GB announced", post("/api/uploads?name=a.jpg", host, b"", announced, kind=photo, length=False), 413)
    refused(server, "10 GB announced, asking first", post("/api/uploads?name=a.jpg", host, b"", announced,
            "Expect: 100-continue", kind=photo, length=False), 413)
    refused(server, "10 GB of JSON announced", post("/api/jobs", host, b"", announced, length=False), 413)
    refused(server, "201 MiB announced", post("/api/uploads?name=a.jpg", host, b"", f"Content-Length: {201 << 20}",
            kind=photo, length=False), 413)
    refused(server, "5 MiB of JSON", post("/api/jobs", host, b'{"title":"' + b"a" * (5 << 20) + b'"}'), 413)
    chunk = b"100000\r\n" + b" " * 0x100000 + b"\r\n"
    refused(server, "5 MiB of JSON in chunks", post("/api/jobs", host, chunk * 5 + b"0\r\n\r\n",
            "Transfer-Encoding: chunked", length=False), (411, 413))
    refused(server, "neither length nor chunks", post("/api/jobs", host, b"", length=False), (400, 411))  # RFC 9110 section 15.5.12
    refused(server, "an upload of nothing", post("/api/uploads?name=a.jpg", host, b"", kind=photo), (400, 411, 422))
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/json",
            "application/jsonx", None):  # RFC 9110 section 15.5.16
        refused(server, f"JSON as {kind}", post("/api/jobs", host, b'{"title":"x"}', kind=kind), 415)
        refused(server, f"photo as {kind}", post("/api/uploads?name=a.jpg", host, b"\xff\xd8\xff", kind=kind), 415)
    deep = [b"[" * 33 + b"]" * 33, b"[" * 200000, b'{"a":' * 50 + b"1" + b"}" * 50, b'{"title":' + b"[" * 100000 + b"]" * 100000 + b"}"]
    for body in deep:  # RFC 8259 section 9: a parser may limit depth
        refused(server, f"{body[:12]} deep", post("/api/jobs", host, body), 400)
    for body in NO_JOBS:
        refused(server, f"body {body[:40]}", post("/api/jobs", host, body), (400, 404, 422))
    check(server.request("GET", "/api/jobs").json()["jobs"] == [], "no job came of it")


# ---- Names from outside ------------------------------------------------------------

MARKUP = "<img src=x onerror=\"document.title='RAN'\"><script>document.title='RAN'</script>"

# Titles; True: it must be taken, None: it may be refused.
TITLES = (
    ("../../evil", True), ("..", True), ("/etc/passwd", True), (".hidden", True), ("a\0b", None),
    ("a\nb\x1b[31mc", None), ("\u202etfel", None), ("CON", True), ("-rf *", True), ("é" * 60, True),
    ("x" * 5000, None), (MARKUP, None), ("\U0001f4a5", True),
)


def names(server, tree):
    host = server.host
    for title, kept in TITLES:
        answer = server.request("POST", "/api/jobs", {"title": title})
        alive(server, repr(title[:20]))
        check(answer.status in (201, 400, 422), f"title {title[:20]!r}: {answer.status} {answer.body[:120]}")
        check("application/json" in answer.headers.get("content-type", ""), f"title {title[:20]!r}: comes as JSON")
        if kept:
            check(answer.status == 201, f"title {title[:20]!r} is taken: {answer.status} {answer.body[:120]}")
        if answer.status == 201:
            name = answer.json()["job"]["name"]
            check("/" not in name and not name.startswith((".", "-")) and name.isprintable(), f"folder {name!r} of title {title[:20]!r}")
            check(os.path.isdir(os.path.join(server.folder, name)), f"folder {name!r} lies in the folder")
            check(server.request("GET", f"/api/jobs/{quote(name)}").status == 200, f"folder {name!r} opens")
    inside = set(os.listdir(server.folder))
    check(set(os.listdir(os.path.dirname(server.folder))) <= {"jobs", "data", "secret"}, "nothing beside the folder")
    check("evil" in "".join(inside) and not os.path.exists("/evil"), "../../evil became a name")
    # Each name comes back letter by letter, as JSON that no browser takes for a page.
    name = server.request("POST", "/api/jobs", {"title": "Names"}).json()["job"]["name"]
    with open(os.path.join(tree, "demo/cabinet-lid-1.jpg"), "rb") as file:
        photo = file.read()
    with open(os.path.join(tree, "demo/cabinet-lid-1-marks.json"), encoding="utf-8") as file:
        marks = json.load(file)["marks"]
    evil = "<b onclick=alert(1)>x</b>"
    patch = next(mark for mark in marks if mark["role"] == "patch")
    patch["name"] = evil
    file_name = quote("../" + evil.replace("/", "") + ".jpg")
    answer = server.request("POST", f"/api/uploads?name={file_name}&job={quote(name)}&view={quote(evil)}", photo)
    check(answer.status == 201, f"upload with markup in its names: {answer.status} {answer.body[:160]}")
    if answer.status == 201:
        upload = answer.json()["upload"]
        opened = server.request("GET", f"/api/uploads/{upload}")
        check(opened.status == 200 and "<b onclick" in opened.json()["name"] and ".." not in opened.json()["name"],
                f"the photo's name: {opened.body[:120]}")
        keep = {"entry": "k" * 16, "marks": marks, "job": name, "view": evil, "note": MARKUP}
        kept = server.request("POST", f"/api/uploads/{upload}/keep", keep)
        check(kept.status == 201, f"keep with markup in its names: {kept.status} {kept.body[:200]}")
        job = server.request("GET", f"/api/jobs/{quote(name)}")
        check(evil in [part["name"] for part in job.json()["parts"]], "the part's name comes back")
        check(evil in job.json()["views"], "the view's name comes back")
        for place in (f"/api/jobs/{quote(name)}/report/customer", f"/api/jobs/{quote(name)}/report/shop"):
            page = server.request("GET", place)
            check(page.status == 200 and b"<b onclick" not in page.body and b"<script" not in page.body,
                    f"{place}: {page.status}, markup stays text")
            check("default-src 'none'" in page.headers.get("content-security-policy", ""), "a report's own policy")
        for kind in ("path", "swatches", "rulers"):
            picture = server.request("GET", f"/api/jobs/{quote(name)}/pictures/{kind}?patch={quote(evil)}")
            check(b"<b onclick" not in picture.body, f"picture {kind}: markup stays text")
    answer = server.request("POST", f"/api/jobs/{quote(name)}/notes", {"entry": "n" * 16, "text": MARKUP})
    check(answer.status == 201, f"note: {answer.status} {answer.body[:120]}")
    history = server.request("GET", f"/api/jobs/{quote(name)}/history").json()
    check(MARKUP in [event.get("text") for event in history["events"]], "the note comes back letter by letter")
    for entry in ("short", "A" * 16, "a" * 41, "../../../../etc/x", "a" * 15 + "\0", 5, None):
        answer = server.request("POST", f"/api/jobs/{quote(name)}/notes", {"entry": entry, "text": "x"})
        check(answer.status == 400, f"entry {entry!r}: {answer.status} {answer.body[:100]}")
    approval = json.dumps({"entry": "l" * 16, "by": MARKUP, "lamp": MARKUP}).encode()
    refused(server, "lamp with markup", post(f"/api/jobs/{quote(name)}/approvals", host, approval), (201, 400, 422))
    os.symlink(os.path.join(server.folder, "..", "secret"), os.path.join(server.folder, "way-out"))
    check(server.request("GET", "/api/jobs/way-out").status == 404, "a link that leads out is no job")
    check("way-out" not in server.request("GET", "/api/jobs").body.decode(), "nor is it listed")


def quote(text):
    return "".join(chr(b) if chr(b).isalnum() and b < 128 or chr(b) in "-_." else f"%{b:02X}" for b in text.encode())


def headers(server):
    """What a browser is told beside each answer (W3C Content Security Policy 3, Fetch: nosniff; RFC 9111 no-store)."""
    for place in ("/", "/main.js", "/page.css", "/lib/nothing.js", "/api/hello", "/api/jobs", "/nowhere", "/api/nowhere"):
        answer = server.request("GET", place)
        policy = answer.headers.get("content-security-policy", "")
        strict = all(word in policy for word in ("default-src 'none'", "frame-ancestors"))
        check(strict and "unsafe" not in policy and "*" not in policy, f"{place}: policy {policy!r}")
        check(answer.headers.get("x-content-type-options") == "nosniff", f"{place}: nosniff")
        check(answer.headers.get("referrer-policy") == "no-referrer", f"{place}: no referrer")
        check(answer.headers.get("cross-origin-resource-policy") == "same-origin", f"{place}: not for other sites")
        check("access-control-allow-origin" not in answer.headers, f"{place}: gives nothing to other sites")
        check(answer.headers.get("cache-control"), f"{place}: says how long it holds")
        if place.startswith("/api/"):
            check(answer.headers["cache-control"] == "no-store", f"{place}: is not kept")


def main():
    program, tree, own = sys.argv[1:]
    shutil.rmtree(own, ignore_errors=True)
    os.makedirs(os.path.join(own, "secret"))
    own = os.path.abspath(own)
    secret = b"what nobody may read"
    for place in ("secret/job.json", "secret/log.jsonl"):
        with open(os.path.join(own, place), "wb") as file:
            file.write(b'{"title":"' + secret + b'"}\n')
    server = Served(program, os.path.join(own, "jobs"), os.path.join(own, "data"))
    check(server.name == "127.0.0.1", f"loopback by default: {server.name}")
    hosts(server)
    origins(server)
    framing(server)
    garbage(server)
    methods(server)
    bodies(server)
    headers(server)
    names(server, tree)
    server.request("POST", "/api/jobs", {"title": "lid"})
    addresses(server, secret)
    check(server.is_alive(), "answers in the end")
    check(server.stop() == 0, "stops on SIGTERM with 0")
    check(not "".join(server.complaints).strip(), f"said nothing on stderr: {''.join(server.complaints)[:2000]}")
    return told.end()


sys.exit(main())
