"""The server speaks TLS with files of its own, and nothing secret or of a body reaches its log."""

import datetime as dt
import json
import logging
import ssl
import subprocess
import sys
import time

import httpx
import pytest
from brinebook import clock
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from support.live import ROOT, free_port

MASS_KG, WORDS = 66.1373, "zwergspitz canary"


def _self_signed(folder):
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = dt.datetime.fromtimestamp(clock.now_ms() / 1000, dt.UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(1).not_valid_before(now - dt.timedelta(1)).not_valid_after(now + dt.timedelta(1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    (folder / "cert.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    (folder / "key.pem").write_bytes(key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption(),
    ))
    (folder / "key.pem").chmod(0o600)
    return folder / "cert.pem", folder / "key.pem"


def test_serve_speaks_tls_with_the_files_it_is_given(tmp_path):
    cert, key = _self_signed(tmp_path)
    port = free_port()
    command = [sys.executable, "-m", "brinebook", "serve", "--data", str(tmp_path / "data"), "--port", str(port),
               "--tls-cert", str(cert), "--tls-key", str(key)]
    server = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        with httpx.Client(verify=ssl.create_default_context(cafile=str(cert))) as http:
            until = time.monotonic() + 60
            while True:
                try:
                    answer = http.get(f"https://localhost:{port}/api/health")
                    break
                except httpx.TransportError:
                    assert time.monotonic() < until
                    time.sleep(0.1)
        assert answer.json()["status"] == "ok"
        with pytest.raises(httpx.TransportError):
            httpx.get(f"http://localhost:{port}/api/health")
    finally:
        server.terminate()
        server.wait(timeout=20)


def test_no_secret_and_no_health_value_reaches_the_log(world, caplog, monkeypatch, capfd):
    caplog.set_level(logging.DEBUG)
    doctor, rider = world.join("red", "doctor"), world.join("red", "rider", "r1")
    made = world.join("red", "admin").post("/api/invites", {"role": "coach", "name": "C"}).json()
    weighed = {"moment": "before", "mass_kg": MASS_KG}
    facts = [rider.fact("weighed", "r1", weighed), doctor.fact("symptom", "r1", {"symptom": "cramp", "text": WORDS})]
    for phone, fact in zip((rider, doctor), facts, strict=True):
        phone.exchange(fact)
    world.http.post("/api/join", content=json.dumps({"secret": "guessed-secret", "code": "WRNG2345"}).encode())
    world.http.get("/api/me", headers={"Authorization": "Bearer stolen-token"})
    rider.post("/api/exchange", content=f'{{"protocol":2,"mass_kg":{MASS_KG},"x":"{WORDS}"'.encode())

    def broken(*_, **__):
        raise RuntimeError(f"{WORDS} {MASS_KG} {rider.token}")

    monkeypatch.setattr(type(world.repository), "heads", broken)
    assert rider.request(rider.fact("weighed", "r1", weighed)).status_code == 500
    monkeypatch.undo()
    told = caplog.text + "".join(capfd.readouterr())

    assert "RuntimeError" in told, "the failure itself is in the log"
    secrets = (rider.token, doctor.token, made["code"], made["link"].rsplit("/", 1)[1], "guessed-secret", "WRNG2345",
               "stolen-token", WORDS, str(MASS_KG))
    assert [secret for secret in secrets if secret in told] == []
