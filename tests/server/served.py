"""`huewright page` started on a folder of its own, and requests sent to it byte by byte, as no browser would send them."""
import json
import os
import re
import signal
import socket
import subprocess
import threading
import time

PATIENCE_S = 60  # for a sanitized program on a busy computer


class Answer:
    """One answer, taken apart by RFC 9112: status, headers by their name in lower case, body."""

    def __init__(self, status, headers, body):
        self.status, self.headers, self.body = status, headers, body

    def json(self):
        try:
            return json.loads(self.body)
        except ValueError:
            return None

    def code(self):
        """The code of {"error":{"code",...}}, or None."""
        tree = self.json()
        error = tree.get("error") if isinstance(tree, dict) else None
        return error.get("code") if isinstance(error, dict) else None


def take_answer(data, head_only=False):
    """(the first answer in data or None while it is not whole, what stands behind it)."""
    end = data.find(b"\r\n\r\n")
    if end < 0:
        return None, data
    lines = data[:end].decode("latin-1").split("\r\n")
    match = re.match(r"HTTP/1\.[01] (\d{3})", lines[0])
    if not match:
        return None, data
    headers = {}
    for line in lines[1:]:
        name, _, value = line.partition(":")
        headers.setdefault(name.strip().lower(), value.strip())
    status = int(match.group(1))
    if status == 100:  # go on; the answer itself follows
        return take_answer(data[end + 4:], head_only)
    length = 0 if head_only or status in (204, 304) else int(headers.get("content-length", 0))
    rest = data[end + 4:]
    if len(rest) < length:
        return None, data
    return Answer(status, headers, rest[:length]), rest[length:]


class Served:
    """The program on `folder`, with the user's own data in `own`. Stop it: stop() gives its exit code.

    With --lan it is asked by the address that the network knows it by."""

    def __init__(self, program, folder, own, *words):
        os.makedirs(folder, exist_ok=True)
        self.folder = folder
        self.told, self.complaints = [], []
        environment = dict(os.environ, XDG_DATA_HOME=own)
        self.process = subprocess.Popen([program, "page", *words, folder], stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, env=environment)
        self.readers = [threading.Thread(target=self._read, args=(pipe, lines), daemon=True)
                        for pipe, lines in ((self.process.stdout, self.told), (self.process.stderr, self.complaints))]
        for reader in self.readers:
            reader.start()
        lan = "--lan" in words
        address = self.told_by(r"^In your network: +http://([0-9.]+):(\d+)/#" if lan else r"^http://([0-9.]+):(\d+)/\s*$")
        if not address:
            self.process.kill()
            raise SystemExit(f"the server did not start: {self.told} {self.complaints}")
        self.name, self.port = address.group(1), int(address.group(2))
        self.host = f"{self.name}:{self.port}"

    @staticmethod
    def _read(pipe, lines):
        for line in pipe:
            lines.append(line.decode("utf-8", "replace"))

    def told_by(self, pattern, before=0):
        """The last match in what it printed since line `before`, waited for; or None."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            found = [m for m in (re.search(pattern, line) for line in self.told[before:]) if m]
            if found:
                return found[-1]
            if self.process.poll() is not None:
                return None
            time.sleep(0.02)
        return None

    def connect(self):
        return socket.create_connection((self.name, self.port), timeout=PATIENCE_S)

    def talk(self, raw, wanted=1, linger=0.0, head_only=False):
        """Sends raw; the answers until `wanted` are there, and those of `linger` seconds more, or until it closes.

        (answers, bytes that are no answer, whether it closed)"""
        data, answers, closed = b"", [], False
        with self.connect() as line:
            try:
                line.sendall(raw)
            except OSError:
                pass  # it may refuse and close before all is sent; what it said is read below
            until = time.monotonic() + PATIENCE_S
            while time.monotonic() < until:
                answer, data = take_answer(data, head_only)
                if answer:
                    answers.append(answer)
                    if len(answers) >= wanted:
                        until = time.monotonic() + linger
                    continue
                line.settimeout(max(0.01, until - time.monotonic()))
                try:
                    more = line.recv(65536)
                except socket.timeout:
                    break
                except OSError:
                    closed = True
                    break
                if not more:
                    closed = True
                    break
                data += more
        return answers, data, closed

    def request(self, method, target, body=None, **headers):
        """A well-meant request, as the page sends it; its answer."""
        lines = {"Host": self.host, "Connection": "close"}
        if method in ("POST", "DELETE"):
            lines["Origin"] = f"http://{self.host}"
        if isinstance(body, (dict, list)):
            body = json.dumps(body).encode()
            lines["Content-Type"] = "application/json"
        elif body is not None:
            lines["Content-Type"] = "application/octet-stream"
        if body is not None or method == "POST":
            lines["Content-Length"] = str(len(body or b""))
        lines.update({name.replace("_", "-"): value for name, value in headers.items()})
        head = f"{method} {target} HTTP/1.1\r\n" + "".join(f"{n}: {v}\r\n" for n, v in lines.items()) + "\r\n"
        answers, rest, _ = self.talk(head.encode() + (body or b""), head_only=method == "HEAD")
        return answers[0] if answers else Answer(0, {}, rest)

    def is_alive(self):
        return self.process.poll() is None and self.request("GET", "/api/hello").status == 200

    def stop(self, how=signal.SIGTERM, patience=PATIENCE_S):
        """Exit code, or None when it did not stop."""
        if self.process.poll() is None:
            self.process.send_signal(how)
        try:
            code = self.process.wait(patience)
        except subprocess.TimeoutExpired:
            self.process.kill()
            return None
        for reader in self.readers:
            reader.join(5)
        return code

    def memory_most_kib(self):
        with open(f"/proc/{self.process.pid}/status", encoding="ascii") as file:
            return int(re.search(r"VmHWM:\s+(\d+)", file.read()).group(1))

    def pairing_code(self, before=0):
        """The code in the link that it printed."""
        match = self.told_by(r"#pair=([A-Za-z0-9]+)", before)
        return match.group(1) if match else None


class Checks:
    def __init__(self):
        self.failures, self.count = [], 0

    def check(self, good, what):
        self.count += 1
        if not good:
            self.failures.append(what)
            print("failed:", what, flush=True)
        return good

    def end(self):
        print(f"{self.count - len(self.failures)} passed, {len(self.failures)} failed")
        return 1 if self.failures or not self.count else 0
