"""A real server process on a loopback port that a test may kill and start again, and a small client of its API."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
from brinebook import clock

ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    """Ask the system for a free loopback port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class LiveServer:
    """Owns one server process; the data folder and the port outlive it."""

    def __init__(self, data: Path, *, dist: Path | None = None, database_url: str = "", more: tuple[str, ...] = ()):
        self.data = data
        self.environment = {**os.environ, "BRINEBOOK_DATABASE_URL": database_url}
        self.dist, self.more = dist, more
        self.port = free_port()
        self.base_url = f"http://localhost:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start and wait until it answers."""
        command = [sys.executable, "-m", "brinebook", "serve", "--data", str(self.data), "--port", str(self.port)]
        command += self.more
        if self.dist is not None:
            command += ["--dist", str(self.dist)]
        log = (self.data.parent / "server.log").open("ab")
        self.process = subprocess.Popen(command, cwd=ROOT, env=self.environment, stdout=log, stderr=log)
        log.close()
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                if httpx.get(f"{self.base_url}/api/health", timeout=2).status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.1)
        raise TimeoutError(self.base_url)

    def kill(self) -> None:
        """SIGKILL: no goodbye, no flush."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(timeout=20)
        self.process = None

    def stop(self) -> None:
        """End it politely, if it runs."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=20)
            self.process = None

    def invite_admin(self, name: str = "Iris Vantongel") -> str:
        """Make the first admin through the command line; return the join secret."""
        made = subprocess.run(
            [
                sys.executable, "-m", "brinebook", "invite", "--data", str(self.data), "--role", "admin",
                "--name", name, "--team-name", "Halden Vale", "--race-name", "Three Rivers Tour",
            ],
            cwd=ROOT, env=self.environment, capture_output=True, text=True, check=True,
        )
        link = next(word for word in made.stdout.split() if "#/join/" in word)
        return link.rsplit("/", 1)[1]


class Client:
    """One device: joins with a secret, sends facts, reads documents."""

    def __init__(self, base_url: str, secret: str):
        self.http = httpx.Client(base_url=base_url, timeout=60)
        body = {"secret": secret, "device_name": "test", "device_key": secret[:16]}
        joined = self.http.post("/api/join", json=body)
        joined.raise_for_status()
        answer = joined.json()
        self.token, self.member, self.device_id = answer["token"], answer["member"], answer["device_id"]
        self.team_id = answer["team"]["id"]
        self.http.headers["Authorization"] = f"Bearer {self.token}"
        self.n = 0
        self.events: dict[str, dict] = {}
        self.documents: dict[str, dict] = {}
        self.cursor: str | None = None

    def close(self) -> None:
        """Close the connection pool."""
        self.http.close()

    def fact(self, kind: str, subject_id: str, body: dict, *, stage_id: str | None = None) -> dict:
        """Make one fact as a phone would."""
        self.n += 1
        event = {
            "id": clock.new_id(), "kind": kind, "subject_id": subject_id, "by": self.member["id"], "lamport": self.n,
            "device_id": self.device_id, "n": self.n, "at_ms": clock.now_ms(), "body": body,
        }
        return event if stage_id is None else {**event, "stage_id": stage_id}

    def exchange(self, *facts: dict) -> list[dict]:
        """Send facts, follow pages to the end, keep what came; return the verdicts."""
        verdicts: list[dict] = []
        outgoing = list(facts)
        while True:
            request = {"protocol": 1, "device_id": self.device_id, "cursor": self.cursor, "events": outgoing}
            answer = self.http.post("/api/exchange", content=json.dumps(request))
            answer.raise_for_status()
            reply = answer.json()
            if reply.get("reset"):
                self.events, self.documents = {}, {}
            self.events |= {event["id"]: event for _, event in reply["events"]}
            self.documents |= {document["id"]: document for document in reply["documents"]}
            verdicts += reply["verdicts"]
            self.cursor, outgoing = reply["cursor"], []
            if not reply["more"]:
                return verdicts

    def settled(self) -> None:
        """Wait until the server has computed what the last facts changed, then read it."""
        self.http.get("/api/health", params={"wait": "recompute"}).raise_for_status()
        self.exchange()

    def body(self, document_id: str) -> dict:
        """Read one document's body."""
        return self.documents[document_id]["body"]

    def invite(self, **wanted: object) -> str:
        """Invite somebody; return the join secret."""
        answer = self.http.post("/api/invites", json=wanted)
        answer.raise_for_status()
        return answer.json()["link"].rsplit("/", 1)[1]
