"""The page served on this machine: who is answered, with what, and when it is made anew."""

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from windows.errors import SettingsError, SiteError
from windows.serve import serve

PAGE = "<!doctype html><html><head></head>\n<body><h1>{}</h1></body></html>"


class Served:
    """A page that is served from another thread, with its port and all that was told."""

    def __init__(self, make, watched, **given):
        self.told, self._made, self.fault = [], make, None
        self.stop, self._up = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, args=(watched, given), daemon=True)
        self._thread.start()
        assert self._up.wait(10)
        self.port = int(re.search(r":(\d+)/", self.told[0])[1]) if self.told else None

    def _run(self, watched, given):
        try:
            serve(self._made, watched, 0, tell=self._tell, stop=self.stop, poll=0.02, **given)
        except Exception as fault:
            self.fault = fault
        finally:
            self._up.set()

    def _tell(self, line):
        self.told.append(line)
        self._up.set()

    def end(self):
        self.stop.set()
        self._thread.join(10)
        assert not self._thread.is_alive()

    def ask(self, path="/", method="GET", **headers):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.request(method, path, headers=headers)
            answer = connection.getresponse()
            return answer, answer.read()
        finally:
            connection.close()

    def version(self):
        return self.ask("/version")[1]

    def await_change(self, before):
        return until(lambda: self.version() != before and self.version())


def until(true, seconds=10):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = true()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError("it did not come")


@contextmanager
def served(make=lambda: PAGE.format("board"), watched=lambda: [], **given):
    there = Served(make, watched, **given)
    try:
        yield there
    finally:
        there.end()


@pytest.fixture(scope="module")
def there():
    """Return a page that is served for all who only ask: to end the serving takes a while."""
    with served() as one:
        yield one


def test_the_page_and_its_version_are_served_on_a_port_that_is_told():
    with served() as there:
        assert there.told == [f"Serving at http://127.0.0.1:{there.port}/ (Ctrl-C ends)"]
        answer, body = there.ask()
        assert answer.status == 200
        assert answer.getheader("Content-Type") == "text/html; charset=utf-8"
        assert int(answer.getheader("Content-Length")) == len(body)
        assert b"<h1>board</h1>" in body
        answer, version = there.ask("/version")
        assert re.fullmatch(b"[0-9a-f]{16}", version)
        assert body == (
            b'<!doctype html><html><head><meta name="version" content="' + version + b'"></head>\n'
            b"<body><h1>board</h1></body></html>"
        )


def test_head_is_answered_without_a_body(there):
    whole = there.ask()[0].getheader("Content-Length")
    answer, body = there.ask(method="HEAD")
    assert (answer.status, body, answer.getheader("Content-Length")) == (200, b"", whole)


@pytest.mark.parametrize(
    "path",
    ["/index.html", "/../etc/passwd", "/%2e%2e/", "/version/", "/Version", "*", "/board.json"],
)
def test_anything_else_is_not_there(there, path):
    answer, body = there.ask(path)
    assert (answer.status, body) == (404, b"nothing here\n")


def test_what_follows_a_question_mark_is_passed_over(there):
    assert there.ask("/?again=1")[0].status == 200


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "PATCH"])
def test_nothing_can_be_sent_to_it(there, method):
    answer, _ = there.ask(method=method)
    assert (answer.status, answer.getheader("Allow")) == (405, "GET, HEAD")


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:80", "127.0.0.1:9000", "127.0.0.1"])
def test_this_machine_is_asked_for_by_its_names_and_through_a_tunnel(there, host):
    assert there.ask(Host=host)[0].status == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:80", "", "127.0.0.1:x",
     "evil.example:127.0.0.1", "user@127.0.0.1", "0.0.0.0", "127.0.0.1, evil.example"],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/", "/version", "/other"])
def test_who_asks_for_another_name_is_refused(there, host, path):
    answer, body = there.ask(path, Host=host)
    assert answer.status == 403
    assert b"board" not in body


def raw(port, request):
    with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
        line.sendall(request)
        told = b""
        while more := line.recv(65536):
            told += more
    return told


@pytest.mark.parametrize(
    "headers",
    [b"", b"Host: 127.0.0.1\r\nHost: a.example\r\n", b"Host: a\r\nHost: localhost\r\n"],
)
def test_no_host_or_two_of_them_are_refused(there, headers):
    told = raw(there.port, b"GET / HTTP/1.1\r\n" + headers + b"\r\n")
    assert b" 403 " in told.splitlines()[0]


def test_every_answer_has_the_headers_that_keep_it_safe(there):
    for answer, _ in (
        there.ask(), there.ask("/version"), there.ask("/no"), there.ask(method="POST"),
        there.ask(Host="evil.example"), there.ask(method="BREW"),
    ):  # fmt: skip
        assert answer.getheader("X-Content-Type-Options") == "nosniff"
        assert answer.getheader("X-Frame-Options") == "DENY"
        assert answer.getheader("Referrer-Policy") == "no-referrer"
        assert answer.getheader("Cross-Origin-Resource-Policy") == "same-origin"
        assert answer.getheader("Cache-Control") == "no-store"
        policy = answer.getheader("Content-Security-Policy")
        assert policy.startswith("default-src 'none'; ")
        assert "connect-src 'self'" in policy
        assert "Python" not in answer.getheader("Server")
        assert answer.getheader("Access-Control-Allow-Origin") is None


def test_the_page_is_made_anew_when_a_file_changes_is_added_or_goes(tmp_path):
    file = tmp_path / "site.toml"
    file.write_text("one")

    def make():
        return PAGE.format(" ".join(path.read_text() for path in sorted(tmp_path.iterdir())))

    with served(make, lambda: sorted(tmp_path.iterdir())) as there:
        assert b"<h1>one</h1>" in there.ask()[1]
        version = there.version()
        file.write_text("three")
        version = there.await_change(version)
        assert b"<h1>three</h1>" in there.ask()[1]
        (tmp_path / "b").write_text("four")
        version = there.await_change(version)
        assert b"<h1>four three</h1>" in there.ask()[1]
        file.unlink()
        there.await_change(version)
        assert b"<h1>four</h1>" in there.ask()[1]


def test_a_change_of_the_same_size_is_seen_by_its_time(tmp_path):
    file = tmp_path / "site.toml"
    file.write_text("one")
    with served(lambda: PAGE.format(file.read_text()), lambda: [file]) as there:
        version = there.version()
        time.sleep(0.02)
        file.write_text("two")
        there.await_change(version)
        assert b"<h1>two</h1>" in there.ask()[1]


def test_the_page_is_made_anew_after_a_while():
    count = iter(range(10_000))
    with served(lambda: PAGE.format(next(count)), every=0.1) as there:
        there.await_change(there.await_change(there.version()))


def test_nothing_is_made_anew_without_a_reason(tmp_path):
    made = []
    with served(lambda: made.append(1) or PAGE, lambda: [tmp_path, tmp_path / "gone"]) as there:
        version = there.version()
        time.sleep(0.2)
        assert there.version() == version
    assert made == [1]


def test_a_page_that_cannot_be_made_anew_stays_with_a_sentence_until_it_can(tmp_path):
    file = tmp_path / "site.toml"
    file.write_text("good")

    def make():
        text = file.read_text()
        if text == "bad":
            raise SiteError("site.toml: <roof> has\nno 'area'; write area")
        if text == "worse":
            raise KeyError("secret")
        return PAGE.format(text)

    with served(make, lambda: [file]) as there:
        version = there.version()
        file.write_text("bad")
        version = there.await_change(version)
        page = there.ask()[1].decode()
        assert "<h1>good</h1>" in page
        assert re.search(
            r'</head>\n<body><p class="stays" role="alert"><mark>This page is of '
            r"\d{4}-\d\d-\d\d \d\d:\d\d UTC and cannot be made anew: site.toml: "
            r"&lt;roof&gt; has no &#x27;area&#x27;; write area</mark></p><h1>good</h1>",
            page,
        )
        file.write_text("worse")
        version = there.await_change(version)
        page = there.ask()[1].decode()
        assert "cannot be made anew: KeyError</mark>" in page
        assert "secret" not in page
        file.write_text("fine")
        there.await_change(version)
        page = there.ask()[1].decode()
        assert "<h1>fine</h1>" in page
        assert "alert" not in page
    assert len(there.told) == 3
    assert all("\n" not in line for line in there.told)


def test_watching_that_fails_does_not_end_the_serving(tmp_path):
    gone = []

    def watched():
        if gone:
            raise FileNotFoundError("the folder is gone")
        return [tmp_path]

    count = iter(range(100))
    with served(lambda: PAGE.format(next(count)), watched) as there:
        version = there.version()
        gone.append(1)
        there.await_change(version)
        assert there.ask()[0].status == 200


def test_a_first_page_that_cannot_be_made_is_a_fault():
    def make():
        raise SiteError("no sites here; name another folder")

    there = Served(make, lambda: [])
    there.end()
    assert str(there.fault) == "no sites here; name another folder"
    assert there.told == []


def test_two_ask_at_once_and_while_a_page_is_made(tmp_path):
    file, begun, go = tmp_path / "site.toml", threading.Event(), threading.Event()
    file.write_text("1")
    big = "x" * 3_000_000

    def make():
        text = file.read_text()
        if text == "22":
            begun.set()
            assert go.wait(10)
        return f"<html><body>{text}{big}{text}</body></html>"

    with served(make, lambda: [file]) as there:
        version = there.version()
        silent = socket.create_connection(("127.0.0.1", there.port))  # asks for nothing
        slow = socket.create_connection(("127.0.0.1", there.port))
        slow.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        first = slow.recv(1000)  # has begun to read the first page
        file.write_text("22")
        assert begun.wait(10)
        assert there.ask()[1].startswith(b"<html><body>1x")
        assert there.version() == version
        go.set()
        there.await_change(version)
        assert there.ask()[1].startswith(b"<html><body>22x")
        while more := slow.recv(1 << 20):
            first += more
        body = first.partition(b"\r\n\r\n")[2]
        assert body.startswith(b"<html><body>1x")
        assert body.endswith(b"x1</body></html>")
        slow.close()
        silent.close()


def test_no_page_is_ever_half_a_page():
    count = iter(range(1, 1_000_000))

    def make():
        n = next(count)
        return f"<html><body>{n} {'x' * 100_000} {n}</body></html>"

    faults = []

    def ask(there):
        for _ in range(40):
            answer, body = there.ask()
            found = re.fullmatch(rb"<html><body>(\d+) x+ (\d+)</body></html>", body)
            if answer.status != 200 or not found or found[1] != found[2]:
                faults.append(body[:100])

    with served(make, every=0.0) as there:
        threads = [threading.Thread(target=ask, args=(there,)) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert faults == []
    assert next(count) > 3


def test_a_client_that_goes_away_is_no_matter(capfd):
    with served(lambda: PAGE.format("x" * 5_000_000)) as there:
        for _ in range(3):
            line = socket.create_connection(("127.0.0.1", there.port))
            line.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
            line.close()
        raw(there.port, b"\x16\x03\x01\x00nonsense\r\n\r\n")
        assert there.ask()[0].status == 200
    assert capfd.readouterr() == ("", "")


def test_a_page_without_an_end_and_with_any_signs_is_served():
    with served(lambda: "no end \ud800 é 🏠") as there:
        assert there.ask()[1].decode() == "no end \\ud800 é 🏠"


def test_a_port_in_use_is_one_sentence():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(SettingsError) as caught:
            serve(lambda: PAGE, lambda: [], port, tell=print)
    assert str(caught.value) == (
        f"port {port}: is in use; give another, or 0 for any that is free"
    )


@pytest.mark.parametrize("port", [70_000, -1])
def test_a_port_that_is_none_is_one_sentence(port):
    with pytest.raises(SettingsError, match=r"0 to 65535"):
        serve(lambda: PAGE, lambda: [], port, tell=print)


@pytest.mark.parametrize("host", ["0.0.0.0", "", "192.168.1.5", "example.com", "::"])
def test_it_listens_on_this_machine_only(host):
    with pytest.raises(SettingsError, match="this machine alone"):
        serve(lambda: PAGE, lambda: [], 0, host, tell=print)


SCRIPT = """
import sys, time
from windows.serve import serve
def make():
    if {slow} and len(sys.argv) > 1: print("making", flush=True); time.sleep(60)
    sys.argv.append("made")
    return "<body>x</body>"
serve(make, lambda: [], 0, every={every}, tell=lambda text: print(text, flush=True), poll=0.05)
print("ended", flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="sends a signal")
@pytest.mark.parametrize(("slow", "every"), [(False, 900.0), (True, 0.0)])
def test_ctrl_c_ends_it_cleanly_also_while_a_page_is_made(slow, every):
    root = Path(__file__).parents[2]
    process = subprocess.Popen(
        [sys.executable, "-c", SCRIPT.format(slow=slow, every=every)], cwd=root,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout.readline().startswith("Serving at ")
    if slow:
        assert process.stdout.readline() == "making\n"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert (process.returncode, out, err) == (0, "ended\n", "")
