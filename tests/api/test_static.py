"""The built app, its headers, and nothing outside its folder."""

import pytest
from support.world import open_world


@pytest.fixture
def served(tmp_path):
    dist = tmp_path / "dist"
    (dist / "assets").mkdir(parents=True)
    (dist / "index.html").write_text("<!doctype html><p>app</p>")
    (dist / "sw.js").write_text("self")
    (dist / "manifest.webmanifest").write_text("{}")
    (dist / ".stamp").write_text("hidden")
    (dist / "assets" / "main-1a2b.js").write_text("main")
    (tmp_path / "secret.txt").write_text("secret")
    for world in open_world(tmp_path, dist=dist):
        yield world.http


@pytest.mark.parametrize("path", ["/", "/index.html", "/road", "/a/b/c", "/.stamp", "/assets"])
def test_an_unknown_path_is_the_apps_own_page(served, path):
    answer = served.get(path)

    assert (answer.status_code, answer.text) == (200, "<!doctype html><p>app</p>")
    assert answer.headers["content-type"].startswith("text/html")
    assert answer.headers["cache-control"] == "no-cache"


OUTSIDE = ["/../secret.txt", "/%2e%2e/secret.txt", "/assets/..%2f..%2fsecret.txt", "//etc/passwd"]


@pytest.mark.parametrize("path", OUTSIDE)
def test_nothing_outside_the_folder_is_served(served, path):
    answer = served.get(path)

    assert "secret" not in answer.text
    assert "root:" not in answer.text


@pytest.mark.parametrize(
    ("path", "media_type", "cache"),
    [("/sw.js", "text/javascript; charset=utf-8", "no-cache"),
     ("/manifest.webmanifest", "application/manifest+json", "no-cache"),
     ("/assets/main-1a2b.js", "text/javascript; charset=utf-8", "public, max-age=31536000, immutable")],
)
def test_a_file_has_its_type_and_its_cache_rule(served, path, media_type, cache):
    answer = served.get(path)

    assert (answer.headers["content-type"], answer.headers["cache-control"]) == (media_type, cache)


@pytest.mark.parametrize("path", ["/", "/sw.js", "/api/health", "/api/none", "/api/me"])
def test_every_answer_carries_the_security_headers(served, path):
    headers = served.get(path).headers

    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self'")
    assert policy.endswith("require-trusted-types-for 'script'; trusted-types road-worker")
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert "max-age" in headers["strict-transport-security"]
    assert "geolocation=(self)" in headers["permissions-policy"]


@pytest.mark.parametrize("path", ["/api/health", "/api/none", "/api/me"])
def test_what_the_api_says_is_kept_in_no_cache(served, path):
    assert served.get(path).headers["cache-control"] == "no-store"


def test_an_unknown_api_path_is_never_the_apps_page(served):
    assert served.get("/api/none").status_code == 404
