"""Kinto, installed from the Python registry into a folder of its own, over a PostgreSQL of its own."""

import base64
import subprocess
import time
import venv
from pathlib import Path
from typing import Any

from support.live import free_port
from support.peers.base import Fact, Line, Peer, Silent, needs
from support.postgres import Cluster

WANTED = "kinto[postgresql]"
RECORDS = "/v1/buckets/team/collections/facts/records"
INI = """[app:main]
use = egg:kinto
kinto.project_name = load
multiauth.policies = basicauth
kinto.userid_hmac_secret = {secret}
kinto.bucket_create_principals = system.Authenticated
kinto.batch_max_requests = 200
kinto.storage_backend = kinto.core.storage.postgresql
kinto.storage_url = {url}
kinto.permission_backend = kinto.core.permission.postgresql
kinto.permission_url = {url}
kinto.cache_backend = kinto.core.cache.memory
[server:main]
use = egg:waitress#main
host = 127.0.0.1
port = {port}
threads = 8
[loggers]
keys = root
[handlers]
keys = console
[formatters]
keys = plain
[logger_root]
level = ERROR
handlers = console
[handler_console]
class = StreamHandler
args = (sys.stderr,)
level = ERROR
formatter = plain
[formatter_plain]
format = %(message)s
"""


def install(folder: Path) -> None:
    """Install once per folder."""
    if not (folder / "bin" / "kinto").exists():
        venv.create(folder, with_pip=True)
        subprocess.run([str(folder / "bin" / "pip"), "install", "-q", WANTED], check=True)


class Kinto(Peer):
    """Batches of PUTs by client-made ids, as its documents tell offline clients to do."""

    name, durability = "Kinto, postgresql", "flush on each commit"

    def __init__(self, folder: Path):
        self.folder = folder
        self.headers = {
            "Content-Type": "application/json",
            "Authorization": "Basic " + base64.b64encode(b"car:secret").decode(),
        }

    def start(self) -> None:
        """Migrate, start, make the collection."""
        self.cluster = Cluster()
        self.cluster.start()
        url = self.cluster.new_database()
        self.port = free_port()
        ini = self.folder / f"load-{self.port}.ini"
        text = INI.format(secret=f"load-{self.port}", url=url.replace("%", "%%"), port=self.port)
        ini.write_text(text, encoding="utf-8")
        program = str(self.folder / "bin" / "kinto")
        subprocess.run([program, "migrate", "--ini", str(ini)], check=True, capture_output=True)
        log = (self.folder / "server.log").open("ab")
        self.process = subprocess.Popen(
            [program, "start", "--ini", str(ini), "--port", str(self.port)], stdout=log, stderr=log,
        )
        log.close()
        line = self.line(self.port, keeps_open=False)
        until = time.monotonic() + 60
        while not self._answers(line):
            needs(time.monotonic() < until, "it does not start")
            time.sleep(0.2)
        for path in ("/v1/buckets/team", "/v1/buckets/team/collections/facts"):
            status, told = line.call("PUT", path)
            needs(status in {200, 201}, told)

    @staticmethod
    def _answers(line: Line) -> bool:
        try:
            return line.call("GET", "/v1/")[0] == 200
        except Silent:
            return False

    def line(self, port: int, *, keeps_open: bool) -> Line:
        """Everybody is the same user."""
        return Line(port, dict(self.headers), keeps_open)

    def write(self, line: Line, facts: list[Fact]) -> set[str]:
        """One batch of PUTs; count each answer by itself."""
        requests = [
            {"method": "PUT", "path": f"{RECORDS}/{fact['id']}", "body": {"data": fact}} for fact in facts
        ]
        status, told = line.call("POST", "/v1/batch", {"requests": requests})
        if status != 200:
            raise Silent
        pairs = zip(facts, told["responses"], strict=True)
        return {fact["id"] for fact, answer in pairs if answer["status"] in {200, 201}}

    def stored(self) -> list[str]:
        """Read all ids from the store itself."""
        import psycopg

        with psycopg.connect(self.cluster.url("book1")) as connection:
            found = connection.execute("SELECT id FROM objects WHERE resource_name = 'record' AND NOT deleted")
            return [str(row[0]) for row in found]

    def follow(self, line: Line, place: Any) -> tuple[list[str], Any]:
        """Poll oldest first from the last timestamp seen."""
        status, told = line.call("GET", f"{RECORDS}?_since={place or 0}&_sort=last_modified&_limit=500")
        if status != 200:
            raise Silent
        records = told["data"]
        return [record["id"] for record in records], (records[-1]["last_modified"] if records else place)

    def stop(self) -> None:
        """Stop the server and its database."""
        super().stop()
        self.cluster.close()


