"""All devices of the team in the play: eight phones, two soigneurs, the car, the physiologist, coach and doctor."""

from collections import Counter
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from seed_demo.devices import Api, Device
from seed_demo.squad import RIDERS, STAFF

SYNC_AT_ONCE = 4


class TeamDevices:
    """Every device by key: a rider's id, or a staff key."""

    def __init__(self, base_url: str, admin: Api, invite: Callable[[Api, str], str]) -> None:
        self._base_url = base_url
        self._admin = admin
        self._invite = invite
        self.by_key: dict[str, Device] = {}

    def join_all(self) -> None:
        """Sign every person in on a device of his own."""
        for key in [rider.id for rider in RIDERS] + [staff.key for staff in STAFF]:
            self.by_key[key] = self.join(key, f"{key}'s phone")

    def join(self, key: str, device_name: str) -> Device:
        """Sign one more device in for a person."""
        secret = self._invite(self._admin, key).rsplit("/", 1)[1]
        guest = Api(self._base_url)
        body = {"secret": secret, "device_name": device_name, "device_key": f"play-{device_name}-{secret[:12]}"}
        joined: dict[str, Any] = guest.call("POST", "/api/join", json=body)
        guest.close()
        return Device(self._base_url, joined, seed=device_name)

    def sync(self, keys: Iterable[str] | None = None) -> None:
        """Let devices reach the network at the same time; all of them unless named."""
        devices = [self.by_key[key] for key in (self.by_key if keys is None else keys)]
        with ThreadPoolExecutor(SYNC_AT_ONCE) as pool:
            for done in [pool.submit(device.exchange) for device in devices]:
                done.result()

    def wait_for_recompute(self) -> None:
        """Wait until the server has computed what the last facts changed."""
        self._admin.call("GET", "/api/health?wait=recompute")

    def totals(self) -> dict[str, Any]:
        """Sum up what the devices made and were told."""
        verdicts: Counter[str] = Counter()
        for device in self.by_key.values():
            verdicts += device.tally.verdicts
        tallies = [device.tally for device in self.by_key.values()]
        return {
            "events_made": sum(tally.n_made for tally in tallies),
            "verdicts": dict(sorted(verdicts.items())),
            "replies_lost_on_purpose": sum(tally.n_lost_replies for tally in tallies),
            "exchanges": sum(tally.n_exchanges for tally in tallies),
            "rejected": [line for tally in tallies for line in tally.rejected][:10],
            "devices": len(tallies),
        }

    def close(self) -> None:
        """Close every connection."""
        for device in self.by_key.values():
            device.api.close()
        self._admin.close()

    def made_ids(self) -> set[str]:
        """List the ids of all facts the devices wrote, acknowledged or not."""
        return {event_id for device in self.by_key.values() for event_id in device.made_ids}
