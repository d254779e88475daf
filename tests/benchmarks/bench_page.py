"""How quick the page is with ten devices at once, beside a floor: one query and a template.

``python tests/benchmarks/bench_page.py LEDGER [SECONDS]``: a ledger that ``make_ledger.py`` wrote;
it is written into, so keep a copy. First the processor's time of each page for one device alone,
which other work on the computer changes little. Then nine devices open one page after another and
one records a reading of oxygen: without a pause, which tells what the page
costs beside the floor, and each every three seconds, as people do. Prints the middle and the 99th
of a hundred times of each page, mistakes, the memory of the server at the begin, in the middle and
at the end, and how large pages are. Where waitress is installed it is measured, too.
"""

import os
import random
import re
import statistics
import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from http.client import HTTPConnection
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlencode

from logbook.answers.people import people
from logbook.ledger.store import new_id
from logbook.office.pins import Pins
from logbook.recording.opening import reading

SECONDS, DEVICES, PAUSE_S, TIMES = 60.0, 10, 3.0, 20
PIN = "402817"
READ = ("/", "/machine/bay1", "/due", "/machine/bay2/check/daily", "/history/bay1", "/wall")
SERVERS = ("cheroot", *(["waitress"] if find_spec("waitress") else []))
TARGETS_MS = {"/": (100, 500), "item": (100, 300), "save": (100, 300)}
"""The middle and the 99th of a hundred that the board, an item and a save may take."""
Took = dict[str, list[float]]


class Client:
    """One device: keeps its connection and its cookies."""

    def __init__(self, port: int) -> None:
        self.connection = HTTPConnection("127.0.0.1", port, timeout=60)
        self.cookies: dict[str, str] = {}

    def ask(self, path: str, fields: dict[str, str] | None = None) -> tuple[int, str, str]:
        """Status, where it leads, and the page."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        body = None
        if fields is not None:
            headers |= {"Sec-Fetch-Site": "same-origin"}
            headers |= {"Content-Type": "application/x-www-form-urlencoded"}
            body = urlencode(fields)
        self.connection.request("POST" if body is not None else "GET", path, body, headers)
        answer = self.connection.getresponse()
        text = answer.read().decode()
        for one in answer.headers.get_all("Set-Cookie") or []:
            name, _, value = one.partition(";")[0].partition("=")
            self.cookies[name] = value
        return answer.status, answer.headers.get("Location", ""), text

    def open(self, path: str) -> tuple[int, int]:
        """Open a page, following where it leads; status and size."""
        status, leads, text = self.ask(path)
        while status == 303:
            status, leads, text = self.ask(leads)
        return status, len(text.encode())


def signed(client: Client, by: str) -> str:
    """Sign at a device; answers the token of its forms."""
    found = re.search(r'name="token" value="([^"]+)"', client.ask("/who")[2])
    assert found
    sign = {"token": found[1], "initials": by, "pin": PIN}
    assert client.ask("/who", sign)[0] == 303
    return found[1]


def read_oxygen(client: Client, token: str) -> int:
    """Record a gauge; answers the status."""
    told = {"token": token, "identity": new_id(), "cylinder_psi": "1500"}
    return client.ask("/machine/bay1/oxygen", told)[0]


def reads(port: int, pause_s: float, until: float, took: Took, seed: int, kind: str) -> None:
    """Open one page after another, drawn by chance."""
    client, chance = Client(port), random.Random(seed)  # noqa: S311
    time.sleep(chance.random() * pause_s)
    while time.monotonic() < until:
        path = chance.choice(READ) if kind == "page" else "/"
        began = time.monotonic()
        status, size = client.open(path)
        took["item" if "/check/" in path else path].append(time.monotonic() - began)
        took["bytes"].append(size)
        if status != 200:
            took["mistakes"].append(status)
        time.sleep(pause_s)


def writes(port: int, until: float, took: Took, by: str) -> None:
    """Record a reading of the gauge every few seconds."""
    client = Client(port)
    token = signed(client, by)
    while time.monotonic() < until:
        began = time.monotonic()
        status = read_oxygen(client, token)
        took["save"].append(time.monotonic() - began)
        if status != 303:
            took["mistakes"].append(status)
        time.sleep(PAUSE_S)


SERVER = """
import sys, time
from datetime import timedelta
from pathlib import Path
from flask import Flask, render_template_string
from logbook.ledger.store import head, last_recorded
from logbook.office.office import Office
from logbook.office.pins import Pins
from logbook.page.app import create_app
from logbook.page.signing import Signing
from logbook.page.world import World
from logbook.proof.seen import Memory
from logbook.recording.opening import reading

kind, server, path, folder = sys.argv[1], sys.argv[2], Path(sys.argv[3]), Path(sys.argv[4])
with reading(path) as book:
    last = last_recorded(book.connection)
begin_s = time.monotonic()
def clock():
    return last + timedelta(seconds=60 + int(time.monotonic() - begin_s))
if kind == "page":
    pins = Pins.beside(path)
    office = Office(path, Memory(folder / "seen"), clock)
    app = create_app(World(office, Signing(pins, time.monotonic), pins.key()))
else:
    app = Flask("floor")
    @app.get("/")
    def floor():
        with reading(path) as book:
            return render_template_string("<h1>{{ n }}</h1>", n=head(book.connection)[0])
if server == "cheroot":
    from logbook.page.server import address, serve
    serve(app, address("127.0.0.1:0"), None, lambda url: print(url, flush=True))
else:
    import waitress
    waiting = waitress.create_server(app, host="127.0.0.1", port=0, threads=10)
    print(f"http://127.0.0.1:{waiting.effective_port}/", flush=True)
    waiting.run()
"""
"""The demo's clock begins a minute after the ledger's last entry, whatever day that was."""


@contextmanager
def served(kind: str, server: str, ledger: Path, folder: Path) -> Iterator[tuple[int, int]]:
    """A process that serves; answers its number and its port."""
    words = [sys.executable, "-c", SERVER, kind, server, str(ledger), str(folder)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        url = process.stdout.readline()
        try:
            yield process.pid, int(url.strip().rstrip("/").rpartition(":")[2])
        finally:
            process.kill()


def of_process(pid: int) -> tuple[float, float]:
    """Memory in use, in MB, and processor time, in seconds; Linux alone tells them so."""
    kept = re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    ticks = int(fields[11]) + int(fields[12])
    return int(kept[1]) / 1024 if kept else 0.0, ticks / os.sysconf("SC_CLK_TCK")


def loaded(
    kind: str, server: str, ledger: Path, folder: Path, seconds: float, pause_s: float, by: str
) -> Took:
    """Ten devices for a while; prints what was measured."""
    took: Took = defaultdict(list)
    with served(kind, server, ledger, folder) as (pid, port):
        Client(port).ask("/")
        seen = [of_process(pid)]
        until = time.monotonic() + seconds
        threads = [
            threading.Thread(target=reads, args=(port, pause_s, until, took, n, kind))
            for n in range(DEVICES - 1)
        ]
        if kind == "page":
            threads.append(threading.Thread(target=writes, args=(port, until, took, by)))
        for one in threads:
            one.start()
        time.sleep(seconds / 2)
        seen.append(of_process(pid))
        for one in threads:
            one.join()
        seen.append(of_process(pid))
    sizes, mistakes = took.pop("bytes"), took.pop("mistakes", [])
    count = sum(map(len, took.values()))
    first_s, last_s = seen[0][1], seen[-1][1]
    print(
        f"{kind} on {server}, pause {pause_s:.0f} s: {count} answers of "
        f"{(last_s - first_s) / count * 1000:.1f} ms of processor, the start and the first page "
        f"{first_s:.2f} s; memory {', '.join(f'{one[0]:.0f}' for one in seen)} MB; pages up to "
        f"{max(sizes) / 1000:.0f} KB; {len(mistakes)} mistakes"
    )
    for name, times in sorted(took.items()):
        p50, p99 = (sorted(times)[int(len(times) * part)] * 1000 for part in (0.5, 0.99))
        aim = f" (targets {TARGETS_MS[name]})" if name in TARGETS_MS else ""
        print(f"  {name:<15}{len(times):6} times: p50 {p50:5.0f} ms, p99 {p99:5.0f} ms{aim}")
    return took


def costs(ledger: Path, folder: Path, by: str) -> None:
    """Processor's time of each page for one device: as it is kept, and worked out after a save."""
    with served("page", SERVERS[0], ledger, folder) as (pid, port):
        client = Client(port)
        token = signed(client, by)

        def each_ms(times: int, *acts: Callable[[], object]) -> float:
            before_s = of_process(pid)[1]
            for _ in range(times):
                for act in acts:
                    act()
            return (of_process(pid)[1] - before_s) / times * 1000

        def save() -> None:
            assert read_oxygen(client, token) == 303

        save_ms = each_ms(TIMES, save)
        print(f"a save takes {save_ms:.0f} ms of processor")
        for path in READ:
            ask = partial(client.open, path)
            ask()
            kept_ms = each_ms(TIMES, ask)
            anew_ms = each_ms(TIMES, save, ask) - save_ms
            print(f"  {path:<28} kept {kept_ms:4.0f} ms, after a save {anew_ms:4.0f} ms")


def main() -> None:
    """Measure what the command line names."""
    ledger = Path(sys.argv[1])
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else SECONDS
    with reading(ledger) as book:
        by = people(book.connection)[0].initials
    Pins.beside(ledger).make(by, "sign", PIN)
    with TemporaryDirectory() as name:
        folder = Path(name)
        costs(ledger, folder, by)
        for server in SERVERS:
            floor = loaded("floor", server, ledger, folder, seconds / 4, 0, by)
            took = loaded("page", server, ledger, folder, seconds / 4, 0, by)
            ratio = statistics.median(took["/"]) / statistics.median(floor["/"])
            print(f"board on {server}: {ratio:.2f} times the floor (target 2)", flush=True)
        loaded("page", SERVERS[0], ledger, folder, seconds, PAUSE_S, by)


if __name__ == "__main__":
    main()
