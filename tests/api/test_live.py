"""Open screens hear the head, and nothing else."""

import asyncio

from brinebook.api.live import LiveHub


def _hear(hub: LiveHub, team_id: str, first: int, tell) -> list[int | None]:
    async def listen():
        heard = []
        stream = hub.heads(team_id, first)
        heard.append(await anext(stream))
        await asyncio.to_thread(tell)
        heard.append(await asyncio.wait_for(anext(stream), timeout=5))
        await stream.aclose()
        return heard

    return asyncio.run(listen())


def test_a_stream_begins_with_the_present_head_and_goes_on_with_the_newest():
    hub = LiveHub()

    heard = _hear(hub, "red", 3, lambda: [hub.tell("red", head) for head in (4, 5)])

    assert heard[0] == 3
    assert heard[1] in {4, 5}


def test_another_team_is_not_heard():
    hub = LiveHub()

    def tell():
        hub.tell("blue", 9)
        hub.tell("red", 4)

    assert _hear(hub, "red", 3, tell) == [3, 4]


def test_a_closed_stream_is_forgotten():
    hub = LiveHub()
    _hear(hub, "red", 1, lambda: hub.tell("red", 2))

    hub.tell("red", 3)

    assert hub._streams == {"red": set()}
