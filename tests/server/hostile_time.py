"""Requests that take their time, come in crowds or break off, and a server that is told to stop meanwhile.

    hostile_time.py PROGRAM SOURCE_TREE OWN_FOLDER

Deadlines, numbers of clients and what must not be lost are chosen (src/server/API.md, README); 408 and that a server may
hang up: RFC 9110 section 15.5.9, RFC 9112 section 9.5.
"""
import concurrent.futures
import json
import os
import re
import shutil
import signal
import socket
import sys
import threading
import time

from served import Checks, Served, take_answer

HEADERS_S, BODY_S, UPLOAD_S = 10, 20, 20  # the server's deadlines
MARGIN_S = 12                             # for a sanitized program on a busy computer
told = Checks()
check = told.check


def files_below(folder):
    return sorted(os.path.join(where, name) for where, _, names in os.walk(folder) for name in names)


# ---- Slow ones ---------------------------------------------------------------------

def trickle(server, head, piece, every_s, most_s):
    """Sends head, then a piece again and again; (seconds until hung up or answered, answer or None)."""
    begun = time.monotonic()
    data, closed = b"", False
    with server.connect() as line:
        line.sendall(head)
        line.settimeout(every_s)
        while time.monotonic() - begun < most_s and not closed:
            try:
                data += line.recv(65536) or b""
                closed = True
            except socket.timeout:
                try:
                    line.sendall(piece)
                except OSError:
                    closed = True
            except OSError:
                closed = True
    return (time.monotonic() - begun if closed else None), take_answer(data)[0]


def slow(server):
    host = server.host
    post = (f"POST /api/jobs HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n"
            "Content-Type: application/json\r\nContent-Length: 4000\r\n\r\n")
    upload = post.replace("/api/jobs", "/api/uploads?name=a.jpg").replace("json", "octet-stream").replace("4000", "40000000")
    rows = [
        ("headers, a letter a second", b"GET /api/hello HTTP/1.1\r\nX: ", b"a", 1, HEADERS_S),
        ("headers, a line a second", b"GET /api/hello HTTP/1.1\r\n", b"X: a\r\n", 1, HEADERS_S),
        ("nothing at all", b"", b"", 1, HEADERS_S),
        ("half a request line", b"GET /api", b"", 1, HEADERS_S),
        ("JSON, a letter a second", post.encode(), b" ", 1, BODY_S),
        ("JSON that never comes", post.encode(), b"", 1, BODY_S),
        ("upload, 100 bytes a second", upload.encode(), b"a" * 100, 1, UPLOAD_S),
        ("upload that stops", upload.encode() + b"a" * 100000, b"", 1, UPLOAD_S),
    ]
    with concurrent.futures.ThreadPoolExecutor(len(rows)) as pool:
        waiting = [(row[0], row[4], pool.submit(trickle, server, row[1], row[2], row[3], row[4] + MARGIN_S)) for row in rows]
        slowest = 0.0
        while not all(job.done() for _, _, job in waiting):
            begun = time.monotonic()
            check(server.request("GET", "/api/hello").status == 200, "answers others meanwhile")
            slowest = max(slowest, time.monotonic() - begun)
            time.sleep(0.5)
    check(slowest < 2.0, f"others wait {slowest:.1f} s meanwhile")
    for what, deadline, job in waiting:
        seconds, answer = job.result()
        check(seconds is not None, f"{what}: not ended after {deadline + MARGIN_S} s")
        if seconds is not None:
            check(seconds > deadline / 3, f"{what}: ended after {seconds:.1f} s, so soon that an honest phone is too")
        check(answer is None or answer.status == 408, f"{what}: {answer and answer.status}")
    check(not server.request("GET", "/api/uploads").json()["uploads"], "none of them became an upload")


def keep_photo(server, job, photo, marks, entry):
    upload = server.request("POST", f"/api/uploads?name=lid.jpg&job={job}&view=front", photo).json()["upload"]
    kept = server.request("POST", f"/api/uploads/{upload}/keep", {"entry": entry, "marks": marks, "job": job, "view": "front"})
    check(kept.status == 201, f"the photo is kept: {kept.status} {kept.body[:200]}")


# ---- Packs -------------------------------------------------------------------------

def packs_held(server):
    """Packs that the program holds open; their names are gone."""
    held = f"/proc/{server.process.pid}/fd"
    links = []
    for name in os.listdir(held):
        try:
            links.append(os.readlink(os.path.join(held, name)))
        except OSError:
            pass
    return sum("/pack-" in link for link in links)


def ask_pack(server, job, receive=4096):
    """A connection that asked for the pack and has the beginning of it: (the connection, what came)."""
    line = socket.socket()
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive)
    line.settimeout(60)
    line.connect((server.name, server.port))
    line.sendall(f"GET /api/jobs/{job}/pack HTTP/1.1\r\nHost: {server.host}\r\n\r\n".encode())
    return line, line.recv(200)


def take_all(line, size):
    """Seconds until so many bytes came; None: they did not."""
    begun = time.monotonic()
    while size > 0:
        piece = line.recv(65536)
        if not piece:
            return None
        size -= len(piece)
    return time.monotonic() - begun


def slow_packs(server, job, photo, marks):
    """Who lets a pack lie loses it, and its place on the disk with it; others get theirs."""
    large = photo + os.urandom(12 << 20)  # behind its end a JPEG may hold anything; more than the buffers of both ends hold
    keep_photo(server, job, large, marks, "p" * 16)
    lying = [ask_pack(server, job) for _ in range(3)]
    check(all(head.startswith(b"HTTP/1.1 200") for _, head in lying), "the packs begin to come")
    begun = time.monotonic()
    check(packs_held(server) == 3, f"{packs_held(server)} packs lie on the disk then")
    whole, head = ask_pack(server, job, 1 << 20)
    size = int(re.search(rb"Content-Length: (\d+)", head + whole.recv(65536, socket.MSG_PEEK)).group(1))
    check(size > 12 << 20, f"a pack of {size} bytes")
    fourth, head = ask_pack(server, job)
    fifth, head = ask_pack(server, job)
    check(head.startswith(b"HTTP/1.1 503") or packs_held(server) <= 4, "no more than four lie there")
    check(head.startswith(b"HTTP/1.1 503"), f"one more: {head[:40]}")
    fourth.close()
    fifth.close()
    taken = take_all(whole, size)
    whole.close()
    check(taken is not None and taken < 15, f"one that is taken comes whole meanwhile, after {taken} s")
    while packs_held(server) and time.monotonic() - begun < UPLOAD_S + MARGIN_S:
        try:
            lying[0][0].recv(100)  # at a hundred bytes a second, the others not at all
        except OSError:
            pass
        time.sleep(1)
    seconds = time.monotonic() - begun
    check(packs_held(server) == 0, f"{packs_held(server)} packs that are not taken lie on the disk after {seconds:.0f} s")
    check(seconds > UPLOAD_S - 2, f"ended after {seconds:.1f} s, so soon that an honest phone is too")
    for line, _ in lying:
        line.close()


# ---- Crowds ------------------------------------------------------------------------

def crowd(server, count=60):
    idle = []
    for _ in range(count):
        try:
            idle.append(server.connect())
        except OSError:
            break
    begun = time.monotonic()
    served = False
    while not served and time.monotonic() - begun < HEADERS_S + MARGIN_S:
        try:
            served = server.request("GET", "/api/hello").status == 200
        except OSError:
            time.sleep(0.2)
    check(served, f"answers again while {count} connections do nothing")
    for line in idle:
        line.close()
    time.sleep(0.5)

    def ask(_):
        try:
            return server.request("GET", "/api/jobs").status
        except OSError:
            return 0
    with concurrent.futures.ThreadPoolExecutor(count) as pool:
        statuses = list(pool.map(ask, range(count)))
    check(all(status in (0, 200, 503) for status in statuses), f"{count} at once: {sorted(set(statuses))}")
    check(statuses.count(200) >= 8, f"{count} at once: {statuses.count(200)} were answered")
    check(server.is_alive(), "answers after the crowd")
    with concurrent.futures.ThreadPoolExecutor(8) as pool:  # a handful of clients is what it is made for
        statuses = list(pool.map(ask, range(160)))
    check(statuses == [200] * 160, f"8 clients, 160 requests: {statuses.count(200)}")


# ---- Broken off --------------------------------------------------------------------

def broken_off(server, photo, job):
    host = server.host
    before = files_below(server.folder)
    head = (f"POST /api/uploads?name=a.jpg&job={job} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n"
            f"Content-Type: application/octet-stream\r\nContent-Length: {len(photo)}\r\n\r\n").encode()
    for cut in (0, 1, 5000, len(photo) // 2, len(photo) - 1):
        for reset in (False, True):
            with server.connect() as line:
                line.sendall(head + photo[:cut])
                time.sleep(0.05)
                if reset:  # RST in the place of FIN: what a phone that lost its power looks like behind a router
                    line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
    until = time.monotonic() + 10
    while files_below(server.folder) != before and time.monotonic() < until:
        time.sleep(0.1)
    check(files_below(server.folder) == before, f"uploads that broke off leave nothing: {set(files_below(server.folder)) ^ set(before)}")
    check(not server.request("GET", "/api/uploads").json()["uploads"], "nor are they listed")
    for raw in (b"G", b"GET /api/jobs HTTP/1.1\r\nHos", b"GET /api/jobs HTTP/1.1\r\nHost: " + host.encode() + b"\r\n", head, b"\r\n"):
        with server.connect() as line:
            line.sendall(raw)
    # Asked, and gone before the answer.
    for _ in range(20):
        with server.connect() as line:
            line.sendall(f"GET /api/jobs/{job} HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
    check(server.is_alive(), "answers after all that broke off")


def killed(program, folder, own, photo):
    """The program dies in the middle of an upload: the next start has the folder as it was."""
    server = Served(program, folder, own)
    whole = server.request("POST", "/api/uploads?name=whole.jpg", photo).json()["upload"]
    before = files_below(folder)
    line = server.connect()
    host = server.host
    line.sendall((f"POST /api/uploads?name=half.jpg HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n"
                  "Content-Type: application/octet-stream\r\n"
                  f"Content-Length: {len(photo)}\r\n\r\n").encode() + photo[:len(photo) // 2])
    time.sleep(0.5)
    check(len(files_below(folder)) > len(before), "the half of it is on the disk then")
    server.stop(signal.SIGKILL)
    line.close()
    server = Served(program, folder, own)
    check(files_below(folder) == before, f"swept: {set(files_below(folder)) ^ set(before)}")
    listed = [one["upload"] for one in server.request("GET", "/api/uploads").json()["uploads"]]
    check(listed == [whole], f"a whole one stays: {listed}")
    check(server.request("DELETE", f"/api/uploads/{whole}").status == 200, "and can be dropped")
    check(server.stop() == 0, "stops")


# ---- Told to stop ------------------------------------------------------------------

def stopped_meanwhile(program, folder, own, job):
    """SIGTERM while passes are logged: every one that was answered is in the log, every line of the log is whole."""
    for turn in range(3):
        server = Served(program, folder, own)
        done, stop = [], threading.Event()

        def log(who, server=server, done=done, stop=stop, turn=turn):
            number = 0
            while not stop.is_set():
                entry = f"turn-{turn}-client-{who}-{number:06d}"
                number += 1
                try:
                    answer = server.request("POST", f"/api/jobs/{job}/passes",
                            {"entry": entry, "patches": ["lid strip"], "liquid": [{"dye": "red", "strength": 0.25}], "passes": 1})
                except OSError:
                    return
                if answer.status == 201:
                    done.append(entry)
                elif answer.status == 0:
                    return
                else:
                    check(answer.status in (409, 503), f"a pass: {answer.status} {answer.body[:160]}")
        clients = [threading.Thread(target=log, args=(who,)) for who in range(4)]
        for client in clients:
            client.start()
        until = time.monotonic() + 20
        while len(done) < 12 and time.monotonic() < until:
            time.sleep(0.01)
        time.sleep(0.01 * turn)
        begun = time.monotonic()
        code = server.stop()
        stop.set()
        for client in clients:
            client.join()
        check(code == 0, f"SIGTERM meanwhile: exit {code}")
        check(time.monotonic() - begun < 10, "stops in a few seconds")
        check(not "".join(server.complaints).strip(), f"stderr: {''.join(server.complaints)[:2000]}")
        with open(os.path.join(folder, job, "log.jsonl"), encoding="utf-8") as file:
            logged = [json.loads(line).get("entry") for line in file]
        check(len(done) >= 12, f"{len(done)} passes were logged")
        check(set(done) <= set(logged), f"answered and not in the log: {set(done) - set(logged)}")
        passes = [entry for entry in logged if entry and entry.startswith(f"turn-{turn}")]
        check(len(passes) == len(set(passes)), "none twice")


def main():
    program, tree, own = sys.argv[1:]
    shutil.rmtree(own, ignore_errors=True)
    os.makedirs(own)
    own = os.path.abspath(own)
    folder, data = os.path.join(own, "jobs"), os.path.join(own, "data")
    with open(os.path.join(tree, "demo/cabinet-lid-1.jpg"), "rb") as file:
        photo = file.read()
    with open(os.path.join(tree, "demo/cabinet-lid-1-marks.json"), encoding="utf-8") as file:
        marks = json.load(file)["marks"]
    server = Served(program, folder, data)
    job = server.request("POST", "/api/jobs", {"title": "Lid"}).json()["job"]["name"]
    keep_photo(server, job, photo, marks, "k" * 16)
    broken_off(server, photo, job)
    crowd(server)
    slow(server)
    slow_packs(server, job, photo, marks)
    check(server.is_alive(), "answers in the end")
    check(server.stop() == 0, "stops on SIGTERM with 0")
    check(not "".join(server.complaints).strip(), f"said nothing on stderr: {''.join(server.complaints)[:2000]}")
    killed(program, folder, data, photo)
    stopped_meanwhile(program, folder, data, job)
    return told.end()


sys.exit(main())
