"""A reading is judged false on a page, shown so, and counted again."""

from __future__ import annotations

A2 = "/engines/A2/2032-07-08"
POWER = "as_found/engine/engine_power"


def test_it_is_shown_with_why_and_counted_again(client):
    said = client.post(f"{A2}/judged", data={"false": POWER, "why": "<b>wrong</b> table", "back": f"{A2}/load"})
    assert said.headers["location"] == f"{A2}/load"
    html = client.get(f"{A2}/load").text
    assert "Judged false, as found" in html
    assert "&lt;b&gt;wrong&lt;/b&gt; table" in html
    assert client.post(f"{A2}/judged?back={A2}/load", data={"sound": POWER}).headers["location"] == f"{A2}/load"
    assert "Judged false" not in client.get(f"{A2}/load").text


def test_what_was_not_read_cannot_be_judged(client):
    assert client.post(f"{A2}/judged", data={"false": "as_found/engine/nothing"}).status_code == 404
