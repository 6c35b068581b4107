"""A bundle out and in: whole and in parts, the same bytes everywhere; and whatever in it is not as it should be."""

from __future__ import annotations

import io
import json
import os
import stat
import tracemalloc
import zipfile

import pytest

from asfound.errors import AsFoundError, InputError, RecordError, UnknownNameError
from asfound.records import bundle_lines
from asfound.records.bundle import FILES, LINES, MANIFEST, bundle_bytes, write_bundle
from asfound.records.bundle_in import take_in
from asfound.records.entries import canonical, sha256
from asfound.records.seal import seal, verify
from asfound.records.store import Draft

TIME = "2032-07-08T15:00:00Z"


@pytest.fixture
def full(records, begin, reading):
    """Two engines, one with a sealed visit and a photo."""
    _, visit = begin(records)
    begin(records, tag="B1")
    records.append("reading", reading("exhaust_oxygen_dry", 0.09, "9 %", place="stack"), visit=visit)
    digest = records.attach(b"picture", "a.png", "image/png")
    photo = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 7, "time": TIME}
    records.append("photo", photo, visit=visit)
    seal(records, visit)
    return records


def take(records, file: bytes):
    return take_in(records, io.BytesIO(file))


def members(file: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(file)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: dict[str, bytes], **change) -> bytes:
    """Pack members again; ``change`` sets fields of all members."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in parts.items():
            one = zipfile.ZipInfo(name)
            for field, value in change.items():
                setattr(one, field, value)
            archive.writestr(one, content)
    return out.getvalue()


def with_lines(parts: dict[str, bytes], lines: list[bytes]) -> bytes:
    """Pack other entries, with a manifest that agrees with them."""
    data = b"".join(line + b"\n" for line in lines)
    manifest = json.loads(parts[MANIFEST])
    manifest["entries"] = {"number": len(lines), "bytes": len(data), "sha256": sha256(data)}
    return packed({**parts, MANIFEST: canonical(manifest), LINES: data})


def changed(parts: dict[str, bytes], of: str, /, **fields) -> bytes:
    """Pack the bundle with fields of the first entry of a kind changed."""
    lines = parts[LINES].splitlines()
    number = next(n for n, line in enumerate(lines) if json.loads(line)["kind"] == of)
    lines[number] = canonical({**json.loads(lines[number]), **fields})
    return with_lines(parts, lines)


def test_a_home_goes_out_and_comes_in_whole(full, open_home):
    other = open_home("other")
    file = bundle_bytes(full)
    came = take(other, file)
    assert (came.new, came.files, came.seals, came.missing) == (len(full.entries()), 1, 1, ())
    assert other.entries() == full.entries()
    assert verify(other, "A2").holds
    assert bundle_bytes(other) == file == bundle_bytes(full)
    assert take(other, file).new == 0


def test_the_layout_is_the_documented_one(full):
    file = bundle_bytes(full)
    with zipfile.ZipFile(io.BytesIO(file)) as archive:
        listed = archive.infolist()
        names = [one.filename for one in listed]
        assert names == [MANIFEST, LINES, FILES + sha256(b"picture")]
        assert {one.compress_type for one in listed} == {zipfile.ZIP_STORED}
        assert {one.date_time for one in listed} == {(1980, 1, 1, 0, 0, 0)}
        manifest = json.loads(archive.read(MANIFEST))
        lines = archive.read(LINES)
    assert manifest["form"] == "asfound bundle 1"
    assert manifest["entries"]["sha256"] == sha256(lines)
    assert [json.loads(line)["id"] for line in lines.splitlines()] == [one.id for one in full.entries()]
    assert manifest["seals"][0]["digest"] == full.entries(kind="sealed")[0].content["digest"]


@pytest.mark.parametrize("names", [["A2"], ["B1"], ["A2/2032-07-08"], ["A2", "B1"]])
def test_parts_come_in_with_all_that_they_stand_on(full, open_home, names):
    file = bundle_bytes(full, names)
    other = open_home("other")
    take(other, file)
    assert bundle_bytes(other, names) == file
    assert {one.tag for one in other.engines()} == {name[:2] for name in names}


def test_a_site_is_all_its_engines(full, begin, open_home):
    site = full.append("site", {"name": "Ashgrebe"})
    begin(full, tag="C1", site=site.id)
    begin(full, tag="C2", site=site.id)
    other = open_home("other")
    take(other, bundle_bytes(full, ["ashgrebe"]))
    assert {one.tag for one in other.engines()} == {"C1", "C2"}
    with pytest.raises(UnknownNameError, match="Ashgrebe"):
        bundle_bytes(full, ["Ashgrebee"])


def test_a_kind_of_a_newer_program_is_kept_as_it_is(full, open_home):
    parts = members(bundle_bytes(full))
    new = json.loads(parts[LINES].splitlines()[-1])
    new |= {"id": new["id"][:-1] + "f", "kind": "of_tomorrow", "content": {"x": [1, {"y": "z"}]}, "corrects": None}
    lines = sorted([*parts[LINES].splitlines(), canonical(new)], key=lambda line: json.loads(line)["id"])
    other = open_home("other")
    assert take(other, with_lines(parts, lines)).unknown_kinds == ("of_tomorrow",)
    assert other.entries(kind="of_tomorrow")[0].content == new["content"]
    third = open_home("third")
    take(third, bundle_bytes(other))
    assert bundle_bytes(third) == bundle_bytes(other)


def _bomb(parts):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MANIFEST, parts[MANIFEST])
        archive.writestr(LINES, b"\0" * 50_000_000)
    return out.getvalue()


def _overlapping(parts):
    """Let two members of the directory point at the same bytes: a bomb without compression."""
    digest = FILES + "0" * 64
    file = bytearray(packed({**parts, digest: b"x" * 100}))
    directory = file.rindex(b"PK\x01\x02")
    for offset in (20, 24):  # compressed and plain size of the last member
        file[directory + offset : directory + offset + 4] = (60_000_000).to_bytes(4, "little")
    return bytes(file)


PLAIN, ENCRYPTED = (b"PK\x01\x02\x14\x03\x14\x00" + flags for flags in (b"\0\0", b"\1\0"))
HOSTILE = {
    "a compressed bomb": (_bomb, "compressed"),
    "members over each other": (_overlapping, "over each other"),
    "a path that climbs": (lambda p: packed({**p, "../evil": b"x"}), "no place"),
    "an absolute path": (lambda p: packed({**p, "/etc/passwd": b"x"}), "no place"),
    "a path behind a nought": (lambda p: packed({**p, "files/" + "a" * 64 + "/x": b"x"}), "no place"),
    "a link": (lambda p: packed(p, external_attr=(stat.S_IFLNK | 0o777) << 16), "link"),
    "a device": (lambda p: packed(p, external_attr=(stat.S_IFCHR | 0o777) << 16), "link or a device"),
    "an encrypted member": (lambda p: packed(p).replace(PLAIN, ENCRYPTED), "encrypted"),
    "no manifest": (lambda p: packed({LINES: p[LINES]}), "is not in it"),
    "no entries": (lambda p: packed({MANIFEST: p[MANIFEST]}), "is not in it"),
    "another form": (lambda p: packed({**p, MANIFEST: p[MANIFEST].replace(b"bundle 1", b"bundle 9")}), "newer"),
    "a manifest that is a list": (lambda p: packed({**p, MANIFEST: b"[]"}), "cannot be read"),
    "a manifest of deep lists": (lambda p: packed({**p, MANIFEST: b"[" * 100_000}), "cannot be read"),
    "entries of another digest": (lambda p: packed({**p, LINES: p[LINES].replace(b"A2", b"A3")}), "damaged or altered"),
    "a file of another digest": (lambda p: packed({**p, FILES + sha256(b"picture"): b"pixture"}), "damaged or altered"),
    "a file that is not listed": (lambda p: packed({**p, FILES + "0" * 64: b"x"}), "not in both"),
    "a missing file": (lambda p: packed({MANIFEST: p[MANIFEST], LINES: p[LINES]}), "not in both"),
    "a line that is no JSON": (lambda p: with_lines(p, [b"{"]), "no entry"),
    "a line of deep lists": (lambda p: with_lines(p, [b"[" * 100_000]), "no entry"),
    "a line that is not canonical": (lambda p: with_lines(p, [b" " + p[LINES].splitlines()[0]]), "canonical"),
    "a huge entry": (lambda p: with_lines(p, [b'"' + b"x" * (17 << 20) + b'"']), "bytes"),
    "an entry twice": (lambda p: with_lines(p, [p[LINES].splitlines()[0]] * 2), "out of order"),
    "a number without end": (lambda p: with_lines(p, [b'{"id":' + b"9" * 5000 + b"}"]), "no entry"),
    "an identifier that is none": (lambda p: changed(p, "engine", engine="../x"), "identifier"),
    "a name with a nought": (lambda p: changed(p, "photo", who="a\0b"), "no entry"),
    "a kind that is no word": (lambda p: changed(p, "photo", kind="a b"), "kind"),
    "a damaged entry": (lambda p: changed(p, "photo", kind="damaged"), "kind"),
    "a content with a field too many": (lambda p: changed(p, "photo", content={"x": 1}), "no entry"),
    "a time that is none": (lambda p: changed(p, "photo", at="yesterday"), "time"),
    "an entry where no such entry belongs": (
        lambda p: changed(p, "photo", kind="site", content={"name": "x"}), "belongs",
    ),
    "a link to nothing": (lambda p: with_lines(p, p[LINES].splitlines()[1:]), "not whole"),
    "nothing at all": (lambda _: b"", "bundle"),
    "half a file": (lambda p: packed(p)[: len(packed(p)) // 2], "bundle"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_hostile_is_refused_and_changes_nothing(full, open_home, name):
    make, says = HOSTILE[name]
    other = open_home("other")
    other.append("site", {"name": "here before"})
    before, folder = bundle_bytes(other), sorted(other.home.folder.rglob("*"))
    with pytest.raises(AsFoundError, match=says) as refused:
        take(other, make(members(bundle_bytes(full))))
    assert isinstance(refused.value, (InputError, RecordError))
    assert bundle_bytes(other) == before
    assert sorted(other.home.folder.rglob("*")) == folder


def test_any_flipped_byte_is_refused_or_changes_nothing(full, open_home):
    """Of an archive some bytes mean nothing; of what is kept none does."""
    file = bundle_bytes(full)
    whole = {one.id for one in full.entries()}
    for position in range(0, len(file), 301):
        other = open_home(f"other{position}")
        try:
            take(other, file[:position] + bytes([file[position] ^ 0x10]) + file[position + 1 :])
        except AsFoundError:
            assert other.entries() == ()
            assert other.files.digests() == frozenset()
        else:
            assert {one.id for one in other.entries()} == whole
            assert verify(other, "A2").holds
        other.close()


def test_what_was_altered_under_a_seal_is_refused(full, open_home):
    """Though the forger made digests and manifest anew."""
    parts = members(bundle_bytes(full))
    reading = next(one for one in full.entries(kind="reading"))
    other = open_home("other")
    with pytest.raises(RecordError, match="is not what was sealed"):
        take(other, changed(parts, "reading", content={**reading.content, "value": 0.05}))
    lines = [line for line in parts[LINES].splitlines() if json.loads(line)["kind"] != "reading"]
    with pytest.raises(RecordError, match="is missing"):
        take(other, with_lines(parts, lines))
    assert other.entries() == ()


def test_an_entry_that_says_something_else_here_is_refused_before_any_file_is_kept(full, open_home):
    parts = members(bundle_bytes(full, ["B1"]))
    other = open_home("other")
    take(other, changed(parts, "engine", who="somebody else"))
    with pytest.raises(RecordError, match="says something else here"):
        take(other, bundle_bytes(full))
    assert other.files.digests() == frozenset()


def test_a_file_that_the_giver_lacks_is_said(full, open_home):
    os.remove(full.files.path(sha256(b"picture")))
    made = write_bundle(full, io.BytesIO())
    assert made.missing == (sha256(b"picture"),)
    came = take(open_home("other"), bundle_bytes(full))
    assert came.missing == made.missing


def test_a_damaged_record_gives_no_bundle(full):
    full.files.path(sha256(b"picture")).write_bytes(b"pixture")
    with pytest.raises(RecordError, match="damaged"):
        bundle_bytes(full)


def test_what_is_held_while_a_bundle_comes_in_does_not_grow_with_it(records, begin, reading, open_home, monkeypatch):
    monkeypatch.setattr(bundle_lines, "PART", 100)
    _, visit = begin(records)
    peaks = []
    for number in (500, 1500):  # 500, then 2,000 in all
        drafts = [
            Draft(kind="reading", content=reading("exhaust_oxygen_dry", 0.09, "9 %", place="stack"), visit=visit)
            for _ in range(number)
        ]
        records.append_many(drafts)
        file = io.BytesIO(bundle_bytes(records))
        other = open_home(f"empty-{number}")
        tracemalloc.start()
        assert take_in(other, file).new == len(records.rows.identifiers())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 2.0 * peaks[0]  # of four times as many; all held would be four times as much


def test_a_file_that_is_changed_while_it_comes_in_changes_nothing(full, open_home, monkeypatch):
    """Between checking and writing; the writing reckons the digest again and takes all back."""
    file, other = bytearray(bundle_bytes(full)), open_home("late")
    open_file = io.BytesIO(bytes(file))
    checked = bundle_lines.Lines.checked

    def then_changed(self, records):
        seen = checked(self, records)
        at = open_file.getvalue().index(b'"who":"') + 7
        open_file.seek(at)
        open_file.write(b"Q")
        return seen

    monkeypatch.setattr(bundle_lines.Lines, "checked", then_changed)
    with pytest.raises(InputError, match="Nothing was taken in"):
        take_in(other, open_file)
    assert not other.rows.identifiers()


def test_a_link_that_leads_to_a_later_part_is_refused(full, open_home, monkeypatch):
    monkeypatch.setattr(bundle_lines, "PART", 1)
    parts = members(bundle_bytes(full))
    lines = parts[LINES].splitlines()
    first, last = json.loads(lines[0]), json.loads(lines[-1])
    first["corrects"] = last["id"]
    other = open_home("forward")
    with pytest.raises((RecordError, InputError)):
        take(other, with_lines(parts, [canonical(first), *lines[1:]]))
    assert not other.rows.identifiers()
