"""Over https a target must show a certificate of its name, by an authority that is trusted."""

from __future__ import annotations

import asyncio
import datetime as dt
import ssl
from pathlib import Path

import pytest

from tests.warehouse.push.authority import Authority
from tests.warehouse.push.target import Receiver, receiving
from warehouse.errors import SettingsError
from warehouse.push.sending import Answer, Sender
from warehouse.settings import Settings

_LOCAL = "https://127.0.0.0/8:*"


@pytest.fixture(scope="module")
def plant() -> Authority:
    return Authority()


@pytest.fixture(scope="module")
def ca_file(plant: Authority, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return plant.file(tmp_path_factory.mktemp("authority"))


def _tell(url: str, ca_file: Path | None) -> Answer:
    given = {"push_targets": _LOCAL, "push_seconds": 5.0}
    if ca_file:
        given["push_ca_file"] = str(ca_file)

    async def tell() -> Answer:
        async with Sender.of(Settings.model_validate(given)) as sender:
            return await sender.send(url, {"webhook-id": "msg_1"}, b"{}")

    return asyncio.run(tell())


def test_a_certificate_of_the_plants_own_authority_is_taken(
    plant: Authority, ca_file: Path
) -> None:
    with receiving(tls=plant.serving("localhost")) as receiver:
        answer = _tell(receiver.url, ca_file)
    assert (answer.tried.status, answer.tried.told) == (204, "answered 204")
    (told,) = receiver.received
    assert (told.body, told.headers["webhook-id"]) == (b"{}", "msg_1")
    assert told.headers["host"] == receiver.url.split("/")[2]


def test_the_name_is_told_and_checked_though_the_address_is_connected_to(
    plant: Authority, ca_file: Path
) -> None:
    asked: list[str | None] = []
    context = plant.serving("localhost")

    def note(_: ssl.SSLObject, name: str | None, __: ssl.SSLContext) -> None:
        asked.append(name)

    context.sni_callback = note
    with receiving(tls=context) as receiver:
        assert _tell(receiver.url, ca_file).tried.status == 204
        by_address = receiver.url.replace("localhost", "127.0.0.1")
        assert "CERTIFICATE_VERIFY_FAILED" in str(_tell(by_address, ca_file).tried.told)
    assert asked[0] == "localhost"
    with receiving(tls=plant.serving("127.0.0.1")) as receiver:
        by_address = receiver.url.replace("localhost", "127.0.0.1")
        assert _tell(by_address, ca_file).tried.status == 204


def _refused(receiver: Receiver, ca_file: Path | None) -> str:
    answer = _tell(receiver.url, ca_file)
    assert answer.tried.status is None
    assert receiver.received == [], "it was told something before its certificate was checked"
    return str(answer.tried.told)


def test_any_other_certificate_is_refused_before_anything_is_told(
    plant: Authority, ca_file: Path
) -> None:
    with receiving(tls=plant.serving("localhost")) as receiver:
        assert "CERTIFICATE_VERIFY_FAILED" in _refused(receiver, None)
    with receiving(tls=Authority().serving("localhost")) as receiver:
        assert "CERTIFICATE_VERIFY_FAILED" in _refused(receiver, ca_file)
    with receiving(tls=plant.serving("other.plant.example")) as receiver:
        assert "localhost" in _refused(receiver, ca_file)
    ended = dt.datetime.now(dt.UTC) - dt.timedelta(days=1)
    with receiving(tls=plant.serving("localhost", ended=ended)) as receiver:
        assert "expired" in _refused(receiver, ca_file)


def test_what_speaks_no_tls_is_told_nothing(ca_file: Path) -> None:
    with receiving() as receiver:
        receiver.url = receiver.url.replace("http://127.0.0.1", "https://localhost")
        assert "SSL" in _refused(receiver, ca_file)


def test_a_file_that_holds_no_certificates_is_a_fault_of_the_settings(tmp_path: Path) -> None:
    empty = tmp_path / "empty.pem"
    empty.write_text("no certificate", encoding="ascii")
    for path in (empty, tmp_path / "missing.pem"):
        with pytest.raises(SettingsError, match="push_ca_file"):
            _tell("https://localhost/", path)
