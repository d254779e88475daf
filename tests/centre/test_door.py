"""The centre's door in the network: what it takes, what it answers, and what it refuses."""

import io
import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from logbook.centre.door import MOST_BYTES, Door, create_app
from logbook.centre.store import Store
from logbook.proof.receipt import Receipt
from logbook.proof.signing import opened, signer_at
from tests.centre.conftest import Clinic, sql
from tests.centre.test_refused import read, state, write
from tests.conftest import NOW, Ran

Centre = Callable[..., Ran]


@pytest.fixture
def tokens(group: list[Clinic], centre: Centre) -> dict[str, str]:
    """The token of each clinic."""
    return {one.name: centre("site", "token", one.name).out.strip() for one in group}


@pytest.fixture
def told() -> list[str]:
    """What whoever runs the centre reads."""
    return []


@pytest.fixture
def door(store: str, tmp_path: Path, told: list[str]) -> Door:
    """The door of the test's store, at noon of the tests' day."""
    return Door(Store.at(store), signer_at(tmp_path / "door.key"), lambda: NOW, told.append)


@pytest.fixture
def client(door: Door) -> FlaskClient:
    """Asks at the door."""
    return create_app(door).test_client()


def sent(client: FlaskClient, body: bytes | Path, token: str | None) -> TestResponse:
    """What the door answers to a segment."""
    data = body.read_bytes() if isinstance(body, Path) else body
    shown = {"Authorization": f"Bearer {token}"} if token is not None else {}
    with client.post("/segments", data=data, headers=shown) as answer:
        answer.get_data()
        return answer


def refusal(answer: TestResponse, status: int) -> dict[str, Any]:
    """The problem that was told, which has the form of RFC 9457."""
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    told: dict[str, Any] = json.loads(answer.get_data())
    assert (told["type"], told["status"]) == ("about:blank", status)
    assert "\n" not in told["detail"]
    return told


def test_a_segment_is_answered_with_the_receipt_that_the_centre_signed(
    client: FlaskClient, door: Door, group: list[Clinic], tokens: dict[str, str], centre: Centre
) -> None:
    for one in group:
        answer = sent(client, one.segment(), tokens[one.name])
        assert (answer.status_code, answer.mimetype) == (200, "text/plain")
        receipt = Receipt.read(opened(answer.text, door.signer.public))
        head = one("checkpoint --json").json["checkpoint"]
        assert (receipt.ledger, receipt.entries, receipt.head, receipt.at) == (
            one.uuid, head["entries"], head["head"], NOW,
        )  # fmt: skip
    assert centre("verify").code == 0
    assert centre("due", "--json").json["items"] == [
        item | {"site": one.name} for one in group for item in one("due --json").json["items"]
    ]


def test_a_line_that_ends_with_an_error_is_no_mistake_of_the_centres(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], centre: Centre
) -> None:
    class Cut(io.RawIOBase):
        def readable(self) -> bool:
            return True

        def readinto(self, _into: object) -> int:
            raise ConnectionResetError

    before = state(centre)
    with client.post(
        "/segments", headers={"Authorization": f"Bearer {tokens[group[0].name]}"},
        # As cheroot hands it over: the library then takes the stream as it is.
        environ_overrides={"wsgi.input": io.BufferedReader(Cut()), "wsgi.input_terminated": True,
                           "CONTENT_LENGTH": "100"},
    ) as answer:  # fmt: skip
        assert "send it again" in refusal(answer, 400)["detail"]
    assert state(centre) == before


def test_what_is_due_is_read_once_the_receipt_was_answered(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], server: str, store: str
) -> None:
    one = group[0]
    assert sent(client, one.segment(), tokens[one.name]).status_code == 200
    (row,) = sql(store, "SELECT entries FROM logbook.renewal WHERE entries > 0")
    assert row == (one("checkpoint --json").json["checkpoint"]["entries"],)


def test_the_same_segment_again_is_held_once_and_answered_with_the_same_receipt(
    client: FlaskClient, door: Door, group: list[Clinic], tokens: dict[str, str], centre: Centre,
    tmp_path: Path,
) -> None:  # fmt: skip
    one = group[0]
    segment = one.segment()
    first = sent(client, segment, tokens[one.name]).text
    before = state(centre)
    later = Door(door.store, door.signer, lambda: NOW + timedelta(hours=1), door.tell)
    assert sent(create_app(later).test_client(), segment, tokens[one.name]).text == first
    assert state(centre) == before
    # An empty segment says that the site is there: that is news, and is answered by the clock.
    lines = read(segment)
    empty = [lines[0] | {"from": len(lines) - 1, "prev": lines[-1]["head"]},
             lines[-1] | {"count": 0}]  # fmt: skip
    answer = sent(create_app(later).test_client(), write(tmp_path / "empty", empty),
                  tokens[one.name])  # fmt: skip
    assert Receipt.read(opened(answer.text, door.signer.public)).at == NOW + timedelta(hours=1)
    # Under another key the receipt of before would not be believed.
    changed = Door(door.store, signer_at(tmp_path / "new.key"), lambda: NOW, door.tell)
    answer = sent(create_app(changed).test_client(), segment, tokens[one.name])
    assert Receipt.read(opened(answer.text, changed.signer.public)).ledger == one.uuid


def test_without_a_token_that_counts_nothing_is_taken(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], centre: Centre
) -> None:
    one = group[0]
    segment, first = one.segment(), tokens[one.name]
    second = centre("site", "token", one.name).out.strip()
    for token in (None, "", "x", first, second + "x", "ü"):
        answer = sent(client, segment, token)
        assert "ask whoever runs the centre" in refusal(answer, 401)["detail"]
        assert answer.headers["WWW-Authenticate"] == "Bearer"
    with client.post("/segments", data=b"x", auth=("KO", second)) as answer:
        refusal(answer, 401)
    assert {entries for _, entries, _ in state(centre)} == {0}
    assert sent(client, segment, second).status_code == 200
    assert "counts no longer" in centre("site", "token", one.name, "--end").out
    refusal(sent(client, segment, second), 401)


def test_a_token_lies_in_the_store_as_a_digest_alone(tokens: dict[str, str], store: str) -> None:
    (kept,) = zip(*sql(store, "SELECT site::text FROM logbook.site"), strict=True)
    assert not any(token in row for token in tokens.values() for row in kept)
    told = sql(store, "SELECT token_digest FROM logbook.site")
    assert len({digest for (digest,) in told}) == len(tokens)


def test_a_site_hands_over_its_own_ledger_alone(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], centre: Centre
) -> None:
    answer = sent(client, group[0].segment(), tokens[group[1].name])
    assert group[1].name in refusal(answer, 403)["detail"]
    assert {entries for _, entries, _ in state(centre)} == {0}


def test_a_segment_that_comes_too_early_is_told_the_number_wanted(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], centre: Centre,
    tmp_path: Path,
) -> None:  # fmt: skip
    one = group[0]
    lines = read(one.segment())
    late = [lines[0] | {"from": 3, "prev": lines[2]["hash"]}, *lines[3:-1],
            lines[-1] | {"count": len(lines) - 4}]  # fmt: skip
    answer = sent(client, write(tmp_path / "late", late), tokens[one.name])
    assert refusal(answer, 409)["wanted"] == 1
    assert {entries for _, entries, _ in state(centre)} == {0}


def test_a_segment_that_contradicts_what_is_held_is_told_the_entry_and_the_site_is_flagged(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], centre: Centre,
    tmp_path: Path, told: list[str],
) -> None:  # fmt: skip
    from tests.centre.test_refused import past_rewritten

    one = group[0]
    assert sent(client, one.segment(), tokens[one.name]).status_code == 200
    before = state(centre)
    lines, entry = past_rewritten(read(one.segment()))
    answer = refusal(sent(client, write(tmp_path / "forged", lines), tokens[one.name]), 422)
    assert answer["entry"] == entry
    assert told == [f"Not taken: {answer['detail']}."]
    assert state(centre) == before
    (row,) = [row for row in centre("sites", "--json").json["sites"] if row["flags"]]
    assert row["site"] == one.name


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda _: b"\n",
        lambda _: b"\xff\xfe\x00",
        lambda body: body[: len(body) // 2],
        lambda body: body.replace(b'"by":"KO"', b'"by":"ZZ"', 1),
        lambda _: b"[" * 100_000,
        lambda body: body.replace(b'{"segment":1', b'{"segment":2'),
    ],
)
def test_what_is_no_whole_segment_is_refused_in_one_sentence(
    client: FlaskClient, group: list[Clinic], tokens: dict[str, str], centre: Centre,
    spoilt: Callable[[bytes], bytes],
) -> None:  # fmt: skip
    one = group[0]
    body = spoilt(one.segment().read_bytes())
    assert set(refusal(sent(client, body, tokens[one.name]), 422)) == {
        "type", "title", "status", "detail",
    }  # fmt: skip
    assert {entries for _, entries, _ in state(centre)} == {0}


def test_what_is_too_long_is_refused_before_it_is_read(
    client: FlaskClient, tokens: dict[str, str]
) -> None:
    class Unread(io.BytesIO):
        def read(self, *_: object) -> bytes:
            raise AssertionError("it was read")

    environ = {"CONTENT_LENGTH": str(MOST_BYTES + 1), "wsgi.input": Unread()}
    with client.post("/segments", environ_overrides=environ) as answer:
        assert str(MOST_BYTES) in refusal(answer, 413)["detail"]
    token = {"Authorization": f"Bearer {next(iter(tokens.values()))}"}
    environ = {"HTTP_TRANSFER_ENCODING": "chunked", "wsgi.input": Unread()}
    with client.post("/segments", headers=token, environ_overrides=environ) as answer:
        refusal(answer, 411)


def test_the_door_has_two_routes(client: FlaskClient) -> None:
    with client.get("/health") as answer:
        assert answer.json == {"status": "ok"}
    for method, path, status in (("GET", "/segments", 405), ("GET", "/", 404), ("POST", "/x", 404)):
        with client.open(path, method=method) as answer:
            refusal(answer, status)


def test_a_store_that_does_not_answer_is_told_to_try_again_without_its_name(
    tmp_path: Path, told: list[str]
) -> None:
    nowhere = Store.at("postgresql://nobody@127.0.0.1:1/group")
    app = create_app(Door(nowhere, signer_at(tmp_path / "key"), lambda: NOW, told.append))
    answer = sent(app.test_client(), b"x", "token")
    assert "127.0.0.1" not in refusal(answer, 503)["detail"]
    assert int(answer.headers["Retry-After"]) > 0
    assert "127.0.0.1" in told[0]


@pytest.mark.parametrize("words", [["token", "nowhere"], ["token", "nowhere", "--end"]])
def test_a_token_of_no_site_is_refused(centre: Centre, words: list[str]) -> None:
    said = centre("site", *words)
    assert (said.code, said.out) == (2, "")
    assert said.err == "Not done, nothing saved: there is no site nowhere; see: centre sites.\n"


def test_a_store_from_before_tokens_is_brought_to_this_version_with_all_it_holds(
    group: list[Clinic], centre: Centre, store: str
) -> None:
    assert centre("take", str(group[0].segment())).code == 0
    before = state(centre)
    for statement in (
        "ALTER TABLE logbook.site DROP COLUMN token_digest",
        "DROP TABLE logbook.reader",
        "UPDATE logbook.alembic_version SET version_num = '0001'",
        "COMMENT ON SCHEMA logbook IS '0004'",
    ):
        sql(store, statement)
    refused = centre("sites")
    assert (refused.code, "run centre new with the newer program" in refused.err) == (1, True)
    assert centre("new").code == 0
    assert state(centre) == before
    assert centre("verify").code == 0
    assert centre("site", "token", group[0].name).code == 0
