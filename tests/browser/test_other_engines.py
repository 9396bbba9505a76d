"""The road, the worker and the store in WebKitGTK, a sibling of the engine in iPhones, and in Firefox, if installed."""

import pytest
from support.engines import ENGINES, lacks
from support.team import rider_link

FIGURE = "return document.querySelector('.main-figure b')?.textContent"
HELD = "return /1 held/.test(document.querySelector('.link-line')?.textContent ?? '')"
LINKED = "return document.querySelector('.link-line')?.textContent === 'Linked'"
CONTROLLED = "return navigator.serviceWorker.controller !== null"
ROAD = "return document.querySelector('.band') !== null"
LAYOUT = """
  const boxes = [...document.querySelectorAll("[data-road]")].map((e) => e.getBoundingClientRect());
  return {
    n: boxes.length, smallest: Math.min(...boxes.flatMap((b) => [b.width, b.height])),
    edge: Math.min(...boxes.flatMap((b) => [b.left, innerWidth - b.right])),
    wide: document.documentElement.scrollWidth - innerWidth, tall: innerHeight,
  };
"""
BAND = "[data-band='down_tube 0.5']"


@pytest.mark.parametrize("name", list(ENGINES))
def test_a_tap_is_kept_through_a_dead_server_and_a_reload(own_team, tmp_path, name):
    if lacks(name):
        pytest.skip(f"not installed: {lacks(name)}")
    server, admin = own_team
    admin.settled()
    known = set(admin.events)
    engine = ENGINES[name](tmp_path / "profile")
    try:
        engine.resize(390, 900)
        engine.open(rider_link(admin, server))
        engine.wait("return document.querySelector('form .button-act') !== null")
        engine.press("form .button-act")
        engine.wait(ROAD)
        engine.wait(CONTROLLED)
        engine.wait(LINKED)
        layout = engine.run(LAYOUT)
        before_l = float(engine.run(FIGURE))

        server.kill()
        engine.press(BAND)
        engine.wait(HELD)
        after_l = float(engine.run(FIGURE))
        engine.refresh()
        engine.wait(ROAD)
        engine.wait(HELD)
        reloaded_l = float(engine.run(FIGURE))
        server.start()
        engine.refresh()
        engine.wait(LINKED)
    finally:
        engine.close()
    admin.settled()

    assert (after_l, reloaded_l) == (pytest.approx(before_l + 0.25), after_l)
    new = [event for id_, event in admin.events.items() if id_ not in known and event["kind"] == "drank"]
    assert [event["body"]["volume_l"] for event in new] == [0.25]
    assert layout["n"] >= 10
    assert layout["wide"] <= 0
    assert layout["edge"] >= 47.5
    assert layout["smallest"] >= (104.5 if layout["tall"] >= 700 else 95.5)
