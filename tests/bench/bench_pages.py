"""Our pages beside a plain Datasette plugin route with one query and one template, and beside Datasette's own table page.

usage: PYTHONPATH=. python tests/bench/bench_pages.py [--shelf FILE] [--rows N] [--seconds 5] [--under-load SECONDS]

Each is served by its own process over the same shelf and asked with `wrk` (Debian's package), 1 and 16 clients, in turn, in
one run. ``--under-load`` instead asks our pages with 16 clients for so long while sheets are loaded onto the same shelf, and
says errors, the 99th percentile and the server's memory.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from lines import Line, faster, hand_on, own_peak_mib, within
from messy import write_messy

ROOT = Path(__file__).parents[2]
OURS = {
    "belts": "/belts?length=73+1%2F8+in&ribs=8", "first page": "/", "find": "/find?q=8+rib+73+1%2F8+in",
    "clamps": "/clamps?around=2+1%2F4+in", "job": "/jobs/N-001",
}  # fmt: skip
PLAIN = """
from datasette import hookimpl
from datasette.utils.asgi import Response

async def page(datasette, request):
    rows = await datasette.get_database("shelf").execute(
        "SELECT part_no, effective_length_mm FROM belt WHERE profile = 'PK' AND ribs = 8 "
        "AND effective_length_mm BETWEEN 1848 AND 1866 ORDER BY effective_length_mm LIMIT 20"
    )
    return Response.html(await datasette.render_template("plain.html", {"rows": rows.rows}, request=request))

@hookimpl
def register_routes():
    return [("^/plain$", page)]
"""
TEMPLATE = (
    "<!doctype html><title>Belts</title><ul>{% for row in rows %}"
    '<li>{{ row["part_no"] }} {{ row["effective_length_mm"] }}</li>{% endfor %}</ul>'
)


def serve_ours(shelf: Path) -> tuple[subprocess.Popen[str], str]:
    """Start ``serve`` and return it with its address."""
    code = f"from kb.cli import main; main(['--shelf', {str(shelf)!r}, 'serve', '--port', '0'])"
    process = subprocess.Popen([sys.executable, "-u", "-c", code], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    found = re.search(r"http://\S+:\d+", process.stdout.readline())
    assert found is not None
    return process, found[0]


def serve_plain(shelf: Path, folder: Path) -> tuple[subprocess.Popen[str], str]:
    """Start a plain Datasette with a plugin of one route, on the same file."""
    (folder / "plugins").mkdir()
    (folder / "templates").mkdir()
    (folder / "plugins" / "plain.py").write_text(PLAIN, encoding="utf-8")
    (folder / "templates" / "plain.html").write_text(TEMPLATE, encoding="utf-8")
    port = 8391
    process = subprocess.Popen(
        [sys.executable, "-m", "datasette", str(shelf), "--port", str(port), "--plugins-dir", str(folder / "plugins"),
         "--template-dir", str(folder / "templates"), "--setting", "suggest_facets", "off"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    time.sleep(4.0)
    return process, f"http://127.0.0.1:{port}"


def wrk(address: str, clients: int, seconds: float) -> tuple[float, float, int]:
    """Return the median and the 99th percentile in ms, and how many requests failed."""
    done = subprocess.run(
        ["wrk", "-t1", f"-c{clients}", f"-d{seconds:g}s", "--latency", address],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    marks = {int(share): value for share, value in re.findall(r"(\d+)%\s+([\d.]+\w+)", done)}
    failed = sum(int(count) for count in re.findall(r"(?:connect|read|write|timeout) (\d+)", done))
    failed += sum(int(count) for count in re.findall(r"Non-2xx or 3xx responses: (\d+)", done))
    return _ms(marks[50]), _ms(marks[99]), failed


def _ms(text: str) -> float:
    number, unit = re.fullmatch(r"([\d.]+)(\w+)", text).groups()  # type: ignore[union-attr] # wrk's own form
    return float(number) * {"us": 0.001, "ms": 1.0, "s": 1000.0}[unit]


def compare(shelf: Path, seconds: float) -> list[Line]:
    """Print medians and the ratio to the plain route, and return them as lines."""
    connection = sqlite3.connect(shelf)
    rows = connection.execute("SELECT count(*) FROM belt").fetchone()[0]
    connection.close()
    lines = []
    with tempfile.TemporaryDirectory() as folder:
        ours, address = serve_ours(shelf)
        plain, other = serve_plain(shelf, Path(folder))
        try:
            for clients in (1, 16):
                base, _, failed = wrk(f"{other}/plain", clients, seconds)
                print(f"{clients:2} clients: plain plugin route {base:.2f} ms ({failed} failed)")
                table = wrk(f"{other}/{shelf.stem}/belt?ribs=8", clients, seconds)
                print(
                    f"            Datasette's table page {table[0]:.2f} ms: {table[0] / base:.1f}x ({table[2]} failed)"
                )
                for name, path in OURS.items():
                    median, _, failed = wrk(address + path, clients, seconds)
                    print(f"            {name:12}{median:8.2f} ms: {median / base:.2f}x ({failed} failed)")
                    of = f"page: {name}, {clients} client{'s' if clients > 1 else ''}"
                    lines.append(within(of, rows, median, "ms", "plugin route, query, template", base, 2.0))
                    if name == "belts":
                        lines.append(faster(of, rows, median, "ms", "Datasette's table page", table[0], 1.0))
            size_mib = shelf.stat().st_size / 2**20
            lines[0] = replace(lines[0], peak_mib=own_peak_mib(ours.pid), file_mib=size_mib, note="memory: the server")
        finally:
            for process in (ours, plain):
                process.terminate()
                process.wait()
    return lines


def under_load(shelf: Path, seconds: float) -> None:
    """Print what 16 clients see while sheets are loaded."""
    ours, address = serve_ours(shelf)
    try:
        with tempfile.TemporaryDirectory() as folder:
            loader = subprocess.Popen([sys.executable, "-c", LOADER, str(shelf), folder, str(seconds)], cwd=ROOT)
            median, worst, failed = wrk(address + OURS["belts"], 16, seconds)
            loader.wait()
        memory = re.search(r"VmHWM:\s+(\d+)", Path(f"/proc/{ours.pid}/status").read_text(encoding="utf-8"))
        assert memory is not None
        print(f"16 clients, {seconds:g} s, loading meanwhile: median {median:.1f} ms, 99th percentile {worst:.1f} ms, "
              f"{failed} failed, at most {int(memory[1]) / 1024:.0f} MiB")  # fmt: skip
    finally:
        ours.terminate()
        ours.wait()


LOADER = """
import sys, time
from pathlib import Path
from click.testing import CliRunner
from kb.cli import cli
shelf, folder, seconds = sys.argv[1], Path(sys.argv[2]), float(sys.argv[3])
until, count = time.monotonic() + seconds, 0
while time.monotonic() < until:
    count += 1
    sheet = folder / f"more{count}.csv"
    rows = "\\n".join(f"L{count}-{n},8,{1000 + n % 2000}" for n in range(2000))
    sheet.write_text(f"Part no,Ribs,Eff. length (mm)\\n{rows}\\n", encoding="utf-8")
    done = CliRunner().invoke(cli, ["--shelf", shelf, "load", str(sheet), "--supplier", "Load"])
    assert done.exit_code == 0, done.output
print(f"{count} sheets of 2,000 belts were loaded meanwhile")
"""


def main() -> None:
    """Run the comparison, or the load."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shelf", type=Path, help="The shelf to serve; else a fresh demo.")
    parser.add_argument("--seconds", type=float, default=5.0)
    parser.add_argument("--rows", type=int, help="Serve the demo with so many messy belts more.")
    parser.add_argument("--lines", action="store_true", help="Print lines for table.py as well.")
    parser.add_argument("--under-load", type=float, metavar="SECONDS")
    arguments = parser.parse_args()
    if shutil.which("wrk") is None:
        sys.exit("wrk is needed: apt-get install wrk")
    with tempfile.TemporaryDirectory() as folder:
        shelf = arguments.shelf
        if shelf is None:
            from click.testing import CliRunner

            from kb.cli import cli

            shelf = Path(folder) / "shelf.db"
            assert CliRunner().invoke(cli, ["--shelf", str(shelf), "demo"]).exit_code == 0
            if arguments.rows:
                sheet = Path(folder) / "belts.csv"
                write_messy(sheet, arguments.rows)
                command = ["--shelf", str(shelf), "load", str(sheet), "--supplier", "Anyone"]
                assert CliRunner().invoke(cli, command).exit_code == 0
        if arguments.under_load:
            under_load(shelf, arguments.under_load)
        else:
            lines = compare(shelf, arguments.seconds)
            if arguments.lines:
                hand_on(lines)


if __name__ == "__main__":
    main()
