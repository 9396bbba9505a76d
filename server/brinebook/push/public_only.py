"""
Connections that lead to public addresses only, whatever a name resolves to at the moment of connecting.

The list of push services says which names may be asked; this says where they may lead, so that neither a poisoned
resolver nor a name given another address later turns wake-ups against the inside of a network.
"""

import ipaddress
import socket
from typing import Any

import requests
from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPSConnection
from urllib3.connectionpool import HTTPSConnectionPool

from brinebook.push.errors import EndpointRefused

HTTPS_PORT = 443


def is_public(address: str) -> bool:
    """Tell whether an IP address is of the public internet: not private, loopback, link-local, shared or reserved."""
    try:
        found = ipaddress.ip_address(address.split("%", maxsplit=1)[0])
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None) or getattr(found, "sixtofour", None)
    if mapped is not None:
        found = mapped
    return found.is_global and not found.is_multicast


def must_be_public(host: str, port: int = HTTPS_PORT) -> None:
    """Resolve a name and raise ``EndpointRefused`` if any of its addresses is not public."""
    found = {str(one[4][0]) for one in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)}
    if not found or not all(is_public(address) for address in found):
        raise EndpointRefused(limit="an address of the public internet")


class _Connection(HTTPSConnection):
    def _new_conn(self) -> socket.socket:
        must_be_public(self.host, self.port or HTTPS_PORT)
        made = super()._new_conn()
        # The name was resolved once more to connect: nothing is said before it is known who answers.
        if not is_public(str(made.getpeername()[0])):
            made.close()
            raise EndpointRefused(limit="an address of the public internet")
        return made


class _Pool(HTTPSConnectionPool):
    ConnectionCls = _Connection


class PublicOnly(HTTPAdapter):
    """Connects over TLS to public addresses only."""

    def init_poolmanager(self, *given: Any, **named: Any) -> None:
        """Make the pools of connections that look where they lead."""
        super().init_poolmanager(*given, **named)
        self.poolmanager.pool_classes_by_scheme = {"https": _Pool}


def plain_session() -> requests.Session:
    """Make a session that follows no redirect and leads to public addresses over https only."""
    session = requests.Session()
    session.max_redirects = 0
    session.mount("https://", PublicOnly())
    session.mount("http://", PublicOnly())
    return session
