"""The server against nginx on the same bytes in one run: requests a second and the slowest hundredth, for the list of 1000 machines and for a
file of the page; what a first visit transfers; the memory that 10 000 machines take. Everything on this machine, a few seconds each.

usage: web.py WITMARK WEB_FLEET [SECONDS]
"""
import gzip
import json
import pathlib
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request

WITMARK, FLEET = sys.argv[1:3]
SECONDS = int(sys.argv[3]) if len(sys.argv) > 3 else 4
ROOT = pathlib.Path(__file__).resolve().parent.parent
CONNECTIONS = 16


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def fetch(url, packed=False):
    request = urllib.request.Request(url, headers={"Accept-Encoding": "gzip"} if packed else {})
    with urllib.request.urlopen(request, timeout=120) as answer:
        return answer.read()


class Witmark:
    """The program over a depot of so many machines."""

    def __init__(self, folder, machines, readings):
        depot = folder / f"depot-{machines}"
        subprocess.run([FLEET, depot, ROOT / "books/brine6.yaml", str(machines), str(readings)], check=True)
        self.process = subprocess.Popen([WITMARK, "serve", "--port", "0", "--depot", depot], stdout=subprocess.PIPE, text=True)
        self.url = self.process.stdout.readline().strip().rstrip("/")

    def memory_mb(self):
        status = pathlib.Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+) kB", status).group(1)) / 1024

    def stop(self):
        self.process.terminate()
        self.process.wait(20)
        self.process.stdout.close()


class Nginx:
    """nginx over a folder, packed files beside the plain ones as gzip_static wants them, two workers."""

    def __init__(self, folder):
        self.folder = folder / "nginx"
        (self.folder / "root").mkdir(parents=True)
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        conf = self.folder / "nginx.conf"
        conf.write_text(
            f"""pid {self.folder}/pid; error_log {self.folder}/error.log; worker_processes 2; daemon off;
events {{ worker_connections 512; }}
http {{ access_log off; types {{ application/json json; text/css css; }} sendfile on; tcp_nopush on; gzip_static on;
client_body_temp_path {self.folder}/b; proxy_temp_path {self.folder}/p; fastcgi_temp_path {self.folder}/f; uwsgi_temp_path {self.folder}/u;
scgi_temp_path {self.folder}/s; server {{ listen 127.0.0.1:{self.port}; root {self.folder}/root; keepalive_requests 1000000; }} }}
user root;
""")
        self.process = None
        self.conf = conf

    def put(self, name, data):
        (self.folder / "root" / name).write_bytes(data)
        (self.folder / "root" / (name + ".gz")).write_bytes(gzip.compress(data, 6, mtime=0))

    def start(self):
        self.process = subprocess.Popen(["nginx", "-c", self.conf, "-p", self.folder], stderr=subprocess.DEVNULL)
        for _ in range(100):
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            except OSError:
                time.sleep(0.05)
        raise RuntimeError((self.folder / "error.log").read_text())

    def stop(self):
        self.process.terminate()
        self.process.wait(20)


def measure(url, packed):
    """Requests a second, p99 in ms."""
    words = ["wrk", "-t1", f"-c{CONNECTIONS}", f"-d{SECONDS}s", "--latency"]
    if packed:
        words += ["-H", "Accept-Encoding: gzip"]
    said = subprocess.run(words + [url], capture_output=True, text=True, check=True).stdout
    if "Non-2xx" in said:
        raise RuntimeError(said)
    p99, unit = re.search(r"99%\s+([\d.]+)(us|ms|s)\b", said).groups()
    return float(re.search(r"Requests/sec:\s+([\d.]+)", said).group(1)), float(p99) * {"us": 0.001, "ms": 1, "s": 1000}[unit]


def compare(title, ours, theirs, packed):
    """Ours, nginx, ours again: what else the machine does falls on both."""
    first, first99 = measure(ours, packed)
    peer, peer99 = measure(theirs, packed)
    second, second99 = measure(ours, packed)
    rate, p99 = (first + second) / 2, (first99 + second99) / 2
    print(f"{title:44} {rate:9.0f}/s  p99 {p99:6.2f} ms   nginx {peer:9.0f}/s  p99 {peer99:6.2f} ms   rate x{rate / peer:.2f}")


def first_load(url, views):
    """Bytes of the page and all it imports before the first view, packed as they are sent."""
    seen, todo, total = {}, ["/", "/core.wasm"], 0
    while todo:
        path = todo.pop()
        if path in seen:
            continue
        try:
            body = fetch(url + path, packed=True)
        except urllib.error.HTTPError:
            continue
        seen[path] = len(body)
        if path.endswith((".wasm", ".woff2", ".json")):
            continue
        text = (gzip.decompress(body) if body[:2] == b"\x1f\x8b" else body).decode()
        base = path.rsplit("/", 1)[0]
        dynamic = r"|import\(\s*" if views else ""
        for name in re.findall(r"""(?:from\s*|import\s*|src=|href=|url\(""" + dynamic + r""")\s*["']?(\.{0,2}/?[\w./-]+\.(?:js|mjs|css|woff2|svg))""", text):
            parts = []
            for part in (name if name.startswith("/") else f"{base}/{name}").split("/"):
                if part == "..":
                    parts.pop()
                elif part not in ("", "."):
                    parts.append(part)
            todo.append("/" + "/".join(parts))
    wasm = seen.get("/core.wasm", 0)
    total = sum(seen.values()) - wasm
    print(f"first load: {len(seen) - (1 if wasm else 0)} files, {total / 1000:.0f} kB packed{', every view' if views else ''}; the core for use without a network "
          f"{wasm / 1000:.0f} kB more")


def main():
    with tempfile.TemporaryDirectory(prefix="witmark-web-bench-") as held:
        folder = pathlib.Path(held)
        ours = Witmark(folder, 1000, 20)
        nginx = Nginx(folder)
        try:
            started = time.monotonic()
            today = fetch(ours.url + "/api/today?days=60")
            print(f"1000 machines, first question {1000 * (time.monotonic() - started):.0f} ms: {len(json.loads(today)['due'])} lines, {len(today) / 1000:.0f} kB")
            horizon = fetch(ours.url + "/api/horizon?days=60")
            style = fetch(ours.url + "/style.css")
            for name, data in (("today.json", today), ("horizon.json", horizon), ("style.css", style)):
                nginx.put(name, data)
            nginx.start()
            compare("style.css, plain", ours.url + "/style.css", nginx.url + "/style.css", False)
            compare("style.css, packed", ours.url + "/style.css", nginx.url + "/style.css", True)
            compare("today of 1000 machines, packed", ours.url + "/api/today?days=60", nginx.url + "/today.json", True)
            compare("horizon of 1000 machines, packed", ours.url + "/api/horizon?days=60", nginx.url + "/horizon.json", True)
            first_load(ours.url, False)
            first_load(ours.url, True)
        finally:
            ours.stop()
            if nginx.process:
                nginx.stop()
        many = Witmark(folder, 10000, 4)
        try:
            empty = many.memory_mb()
            started = time.monotonic()
            fetch(many.url + "/api/today?days=30", packed=True)
            first = time.monotonic() - started
            fetch(many.url + "/api/horizon?days=30", packed=True)
            fetch(many.url + "/api/machines", packed=True)
            print(f"10000 machines: {many.memory_mb():.0f} MB resident ({empty:.0f} MB before the first question, which took {first:.1f} s)")
        finally:
            many.stop()


if __name__ == "__main__":
    main()
