"""A wake-up reaches its device encrypted, signed, and says one constant sentence."""

import base64
import json
import socket
import stat
from pathlib import Path

import http_ece
import pytest
import requests
from brinebook.push.errors import EndpointRefused
from brinebook.push.public_only import is_public, plain_session
from brinebook.push.sender import Outcome, Sentence, checked_endpoint
from brinebook.push.web_push import KEY_FILE_NAME, WebPushSender, load_key
from brinebook.storage.repository import Subscription
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

ENDPOINT = "https://fcm.googleapis.com/fcm/send/abc"


class Service:
    """A push service that keeps what it is sent."""

    def __init__(self, status: int = 201, error: Exception | None = None):
        self.status, self.error, self.calls = status, error, []

    def post(self, endpoint, data=None, headers=None, timeout=None, **_):
        if self.error is not None:
            raise self.error
        self.calls.append((endpoint, data, headers, timeout))
        answer = requests.Response()
        answer.status_code = self.status
        answer._content = b""
        return answer


def _text(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


class Browser:
    """The receiving end: its own key pair and shared secret."""

    def __init__(self):
        self.key = ec.generate_private_key(ec.SECP256R1())
        self.shared = b"0123456789abcdef"

    def subscription(self, endpoint: str = ENDPOINT) -> Subscription:
        point = self.key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        return Subscription(
            device_id="d", team_id="red", member_id="m", role="rider", rider_id="r1", endpoint=endpoint,
            p256dh=_text(point), auth=_text(self.shared),
        )

    def read(self, data: bytes) -> bytes:
        return http_ece.decrypt(data, private_key=self.key, auth_secret=self.shared, version="aes128gcm")


@pytest.fixture
def key(tmp_path):
    return load_key(tmp_path)


def _sender(key, service):
    return WebPushSender(key, contact="mailto:a@example.org", session=service)


@pytest.mark.parametrize("sentence", list(Sentence))
def test_the_device_decrypts_exactly_the_constant_sentence(key, sentence):
    service, browser = Service(), Browser()

    outcome = _sender(key, service).send(browser.subscription(), sentence)

    endpoint, data, headers, timeout = service.calls[0]
    assert (outcome, endpoint) == (Outcome.SENT, ENDPOINT)
    assert browser.read(data) == sentence.value
    assert headers["content-encoding"] == "aes128gcm"
    assert headers["topic"] == sentence.name.lower()
    assert int(headers["ttl"]) <= 6 * 3600
    assert timeout == 10.0


def test_the_signature_names_the_service_and_our_key(key):
    service = Service()
    sender = _sender(key, service)

    sender.send(Browser().subscription(), Sentence.PLAN)

    scheme, parameters = service.calls[0][2]["authorization"].split(" ", 1)
    parts = dict(part.strip().split("=", 1) for part in parameters.split(","))
    claims = parts["t"].split(".")[1]
    told = json.loads(base64.urlsafe_b64decode(claims + "=" * (-len(claims) % 4)))
    assert (scheme, parts["k"]) == ("vapid", sender.public_key)
    assert (told["aud"], told["sub"]) == ("https://fcm.googleapis.com", "mailto:a@example.org")


@pytest.mark.parametrize("sentence", list(Sentence))
def test_a_wake_up_carries_one_word_for_which_the_phone_has_a_sentence(sentence):
    word = sentence.value.decode()
    worker = (Path(__file__).parents[2] / "pwa" / "src" / "sw" / "sw.ts").read_text(encoding="utf-8")

    assert word.isalpha()
    assert f"  {word}: " in worker


@pytest.mark.parametrize(
    ("status", "outcome"),
    [(201, Outcome.SENT), (404, Outcome.GONE), (410, Outcome.GONE), (429, Outcome.LATER), (503, Outcome.LATER),
     (400, Outcome.REFUSED), (302, Outcome.REFUSED)],
)
def test_what_the_service_answers_is_understood(key, status, outcome):
    assert _sender(key, Service(status)).send(Browser().subscription(), Sentence.PLAN) is outcome


@pytest.mark.parametrize("error", [requests.ConnectTimeout(), requests.TooManyRedirects(), ValueError()])
def test_a_service_that_fails_raises_nothing(key, error):
    assert _sender(key, Service(error=error)).send(Browser().subscription(), Sentence.PLAN) is Outcome.LATER


@pytest.mark.parametrize(
    "endpoint",
    ["http://fcm.googleapis.com/x", "https://localhost/x", "https://127.0.0.1/x", "https://fcm.googleapis.com:8443/x",
     "https://user@fcm.googleapis.com/x", "https://fcm.googleapis.com.evil.example/x", "https://evilfcm.googleapis.com/x",
     "https://push.apple.com.evil.example/", "https://169.254.169.254/latest", "file:///etc/passwd", "", "https://[::1/x",
     "https://fcm.googleapis.com:x/"],
)
def test_a_request_never_goes_where_a_client_points(key, endpoint):
    service = Service()

    with pytest.raises(EndpointRefused):
        checked_endpoint(endpoint)
    assert _sender(key, service).send(Browser().subscription(endpoint), Sentence.PLAN) is Outcome.REFUSED
    assert service.calls == []


@pytest.mark.parametrize(
    "endpoint",
    [ENDPOINT, "https://updates.push.services.mozilla.com/wpush/v2/a", "https://web.push.apple.com/a",
     "https://db5p.notify.windows.com/w/?token=a", "https://FCM.googleapis.com:443/x"],
)
def test_known_push_services_are_let_pass(endpoint):
    assert checked_endpoint(endpoint) == endpoint


INSIDE = ["127.0.0.1", "10.1.2.3", "172.16.0.9", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.0",  # noqa: S104
          "224.0.0.1", "192.0.2.1", "::1", "fe80::1", "fe80::1%eth0", "fd00::1", "::ffff:127.0.0.1", "2002:7f00:1::",
          "::", "ff02::1", "no address"]
"""Special-purpose addresses of RFC 6890 and its registries, mapped (RFC 4291) and 6to4 (RFC 3056) ones among them."""


@pytest.mark.parametrize("address", INSIDE)
def test_addresses_of_the_inside_are_told_apart(address):
    assert not is_public(address)


@pytest.mark.parametrize("address", ["8.8.8.8", "142.250.1.1", "2a00:1450:4001::5f"])
def test_public_addresses_are_let_pass(address):
    assert is_public(address)


@pytest.mark.parametrize("places", [["127.0.0.1"], ["142.250.1.1", "10.0.0.1"], ["::1"], ["169.254.169.254"]])
def test_a_known_name_that_leads_inside_is_not_connected_to(key, monkeypatch, places):
    connected = []
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: [
        (socket.AF_INET, socket.SOCK_STREAM, 6, "", (place, 443)) for place in places
    ])
    monkeypatch.setattr(socket.socket, "connect", lambda _, place: connected.append(place))

    assert _sender(key, plain_session()).send(Browser().subscription(), Sentence.PLAN) is Outcome.REFUSED
    assert connected == []


def test_a_name_that_changes_its_address_while_connecting_is_told_nothing(key, monkeypatch):
    answers, sent = [["142.250.1.1"], ["127.0.0.1"]], []

    def resolved(*_, **__):
        places = answers.pop(0)
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (place, listener.getsockname()[1])) for place in places]

    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(5)
        monkeypatch.setattr(socket, "getaddrinfo", resolved)
        outcome = _sender(key, plain_session()).send(Browser().subscription(), Sentence.PLAN)
        with listener.accept()[0] as accepted:
            accepted.settimeout(5)
            sent.append(accepted.recv(100))

    assert outcome is Outcome.REFUSED
    assert sent == [b""]


def test_no_redirect_is_followed():
    assert plain_session().max_redirects == 0


def test_keys_are_made_once_and_readable_by_their_owner_only(tmp_path):
    first = WebPushSender(load_key(tmp_path), contact="mailto:a@example.org").public_key
    again = WebPushSender(load_key(tmp_path), contact="mailto:a@example.org").public_key

    assert first == again
    assert stat.S_IMODE((tmp_path / KEY_FILE_NAME).stat().st_mode) == 0o600
