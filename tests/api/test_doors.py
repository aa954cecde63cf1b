"""The doors: keys, scopes, limits; no route without them."""

from __future__ import annotations

import datetime as dt
import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import APIRoute
from joserfc import jwt
from joserfc.jwk import ECKey, KeySet, OctKey
from starlette.testclient import TestClient

from api.app import create_app
from api.caller import needs
from api.routes import ROUTERS
from api.tokens import Tokens
from tests.warehouse.cli.running import mcw
from warehouse.access import SCOPES
from warehouse.errors import SettingsError
from warehouse.services.keys import Keyring, Wanted
from warehouse.settings import Settings
from warehouse.store import Store, create_store, open_store


@pytest.fixture(scope="module")
def keyed(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    """A copy of the judged store with a keyring."""
    import shutil

    target = tmp_path_factory.mktemp("keyed") / "store"
    shutil.copytree(home, target)
    return open_store(target, {"key_requests": 4})


@pytest.fixture(scope="module")
def client(keyed: Store) -> Iterator[TestClient]:
    with TestClient(create_app(keyed)) as client:
        yield client


def _bearer(text: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {text}"}


def _key(store: Store, *scopes: str, **more: Any) -> str:
    return Keyring(store).add(Wanted("test", scopes or tuple(SCOPES), **more)).text


def test_a_key_opens_what_its_scopes_name_and_nothing_else(
    client: TestClient, keyed: Store
) -> None:
    reader = _bearer(_key(keyed, "read:condition"))
    assert client.get("/v1/assets", headers=reader).status_code == 200
    refused = client.get("/v1/readings", headers=reader)
    assert (refused.status_code, refused.json()["type"]) == (403, "/problems/not-allowed")
    assert "read:readings" in refused.json()["detail"]


@pytest.mark.parametrize(
    "header",
    [
        None,
        "",
        "Bearer",
        "Bearer ",
        "Bearer mcw_AAAAAAAA_" + "A" * 43,
        "Basic bWN3Om1jdw==",
        "Bearer mcw_short_x",
        "Bearer a.b.c",
        "Bearer \xff\xfe",
    ],
)
def test_whoever_is_not_known_stays_outside(client: TestClient, header: str | None) -> None:
    headers = {} if header is None else {b"Authorization": header.encode("latin-1")}
    answer = client.get("/v1/assets", headers=headers)
    assert (answer.status_code, answer.json()["type"]) == (401, "/problems/not-authenticated")
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_a_key_with_one_letter_changed_opens_nothing(client: TestClient, keyed: Store) -> None:
    text = _key(keyed)
    assert client.get("/v1/assets", headers=_bearer(text)).status_code == 200
    wrong = text[:-2] + ("A" if text[-2] != "A" else "B") + text[-1]
    assert client.get("/v1/assets", headers=_bearer(wrong)).status_code == 401


def test_a_revoked_key_is_refused_by_a_running_server_within_two_seconds(
    client: TestClient, keyed: Store
) -> None:
    made = Keyring(keyed).add(Wanted("test", ("read:condition",)))
    assert client.get("/v1/assets", headers=_bearer(made.text)).status_code == 200
    Keyring(keyed).revoke(made.key.id)
    end = time.monotonic() + 2
    while client.get("/v1/assets", headers=_bearer(made.text)).status_code == 200:
        assert time.monotonic() < end
        time.sleep(0.05)


def test_rotation_overlaps_and_keeps_what_the_key_is_good_for(keyed: Store) -> None:
    ring = Keyring(keyed)
    old = ring.add(Wanted("cmms", ("read:condition",), ("raw-water",), ("a b",)))
    new = ring.rotate(old.key.id, dt.timedelta(hours=1))
    assert ring.check(old.text)
    assert ring.check(new.text)
    assert new.key.scopes == old.key.scopes
    assert (new.key.sites, new.key.sources) == (frozenset({"raw-water"}), frozenset({"a b"}))
    assert ring.key(old.key.id).expires_at < new.key.created_at + dt.timedelta(hours=1, minutes=1)
    ring.rotate(new.key.id, dt.timedelta(0))
    assert ring.check(new.text) is None
    assert ring.key(new.key.id).state(dt.datetime.now(dt.UTC)) == "expired"


def test_no_secret_is_kept_anywhere(keyed: Store) -> None:
    text = _key(keyed)
    secret = text.rpartition("_")[2].encode()
    for file in (keyed.home / "doors").iterdir():
        assert secret not in file.read_bytes()
        assert file.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted("x", ("read:everything",)),
        Wanted("x", ()),
        Wanted(" ", ("read:condition",)),
        Wanted("x", ("read:condition",), days=0),
    ],
)
def test_a_key_that_cannot_be_is_not_made(keyed: Store, wanted: Wanted) -> None:
    before = len(Keyring(keyed).every())
    with pytest.raises(SettingsError):
        Keyring(keyed).add(wanted)
    assert len(Keyring(keyed).every()) == before


def test_every_route_behind_the_doors_names_a_scope() -> None:
    asked = needs("read:condition").dependency.__qualname__
    behind = 0
    for router in ROUTERS:
        for route in router.routes:
            assert isinstance(route, APIRoute)
            scopes = [
                one.dependency.__dict__["scope"]
                for one in route.dependencies
                if one.dependency and one.dependency.__qualname__ == asked
            ]
            if route.path.startswith("/v1/") or route.path == "/metrics":
                behind += 1
                assert len(scopes) == 1, route.path
                assert scopes[0] in SCOPES
            else:
                assert scopes == []
    assert behind > 20


def test_without_a_key_only_what_tells_nothing_of_the_plant_is_open(client: TestClient) -> None:
    for path in ("/livez", "/readyz", "/docs", "/openapi.json", "/problems"):
        assert client.get(path).status_code == 200, path
    for path in ("/metrics", "/v1/assets", "/v1/nothing", "/nothing"):
        assert client.get(path).status_code == 401, path


def test_without_keys_only_loopback_names_are_answered(store: Store) -> None:
    with TestClient(create_app(store, without_keys=True), base_url="http://plant.example") as other:
        answer = other.get("/v1/assets")
        assert (answer.status_code, answer.json()["type"]) == (403, "/problems/host-refused")
        assert other.get("/v1/assets", headers={"Host": "localhost:1"}).status_code == 200
        assert other.get("/v1/assets", headers={"Host": "[::1]:8765"}).status_code == 200


def test_a_key_that_asks_too_often_waits(home: Path) -> None:
    slow = open_store(home, {"key_rate": 3})
    with TestClient(create_app(slow, without_keys=True), base_url="http://localhost") as client:
        answers = [client.get("/v1/assets?limit=1") for _ in range(4)]
    assert [one.status_code for one in answers] == [200, 200, 200, 429]
    assert answers[3].json()["type"] == "/problems/too-many-requests"
    assert 1 <= int(answers[3].headers["retry-after"]) <= 20


def test_a_body_larger_than_allowed_is_refused(home: Path) -> None:
    small = open_store(home, {"body_mb": 1})
    with TestClient(create_app(small, without_keys=True), base_url="http://localhost") as client:
        for content in (b"x" * 1_000_001, iter([b"x" * 600_000, b"x" * 600_000])):
            answer = client.post("/v1/conditions/lookup", content=content)
            assert answer.status_code == 413
            assert answer.json()["type"] == "/problems/body-too-large"


def test_the_command_makes_lists_rotates_and_revokes(tmp_path: Path) -> None:
    create_store(tmp_path / "store")
    home = ("--home", tmp_path / "store")
    made = mcw("keys", "add", "cmms", "--scope", "read:condition", "--json", *home)
    told = json.loads(made.out)
    assert told["key"].startswith(f"mcw_{told['id']}_")
    rotated = json.loads(mcw("keys", "rotate", told["id"], "--json", *home).out)
    assert rotated["replaces"] == told["id"]
    assert mcw("keys", "revoke", rotated["id"], *home).code == 0
    listed = json.loads(mcw("keys", "list", "--json", *home).out)
    assert [one["state"] for one in listed] == ["valid", "revoked"]
    assert "key" not in listed[0]
    assert mcw("keys", "revoke", "nothing", *home).code == 2
    assert mcw("keys", "add", "x", "--scope", "all", *home).code == 3
    strange = mcw("keys", "add", "x", "--scope", "read:condition", "--site", "nowhere", *home)
    assert (strange.code, "nowhere is not registered" in strange.said) == (3, True)


@pytest.mark.parametrize("named", [False, True])
def test_a_key_of_a_site_that_opens_no_source_says_so(
    home: Path, tmp_path: Path, named: bool
) -> None:
    shutil.copytree(home, tmp_path / "store")
    words = ["keys", "add", "rw", "--site", "raw-water", "--scope", "read:sources"]
    words += ["--source", "rw-gateway"] if named else []
    ended = mcw(*words, "--home", tmp_path / "store")
    assert ended.code == 0
    assert ("It sees and feeds no source" in ended.said) is not named


def test_the_server_does_not_start_without_keys_unless_asked(tmp_path: Path) -> None:
    create_store(tmp_path / "store")
    ended = mcw("serve", "--home", tmp_path / "store", "--port", "0")
    assert ended.code == 3
    assert "mcw keys add" in ended.said
    assert "--without-keys" in ended.said


_ISSUER = {"oidc_issuer": "https://id.example", "oidc_audience": "mcw"}


@pytest.fixture
def signer(tmp_path: Path) -> ECKey:
    key = ECKey.generate_key("P-256", {"kid": "one"})
    (tmp_path / "keys.json").write_text(json.dumps(KeySet([key]).as_dict(private=False)))
    return key


def _claims(**more: Any) -> dict[str, Any]:
    now = int(time.time())
    return {
        "iss": "https://id.example",
        "aud": "mcw",
        "sub": "somebody",
        "exp": now + 600,
        "scope": "openid read:condition",
        "mcw_sites": ["board-mill"],
        **more,
    }


def _token(key: Any, algorithm: str = "ES256", **more: Any) -> str:
    header = {"alg": algorithm, "kid": "one"}
    return jwt.encode(header, _claims(**more), key, algorithms=[algorithm])


def test_a_token_of_the_identity_provider_opens_its_sites(
    home: Path, tmp_path: Path, signer: ECKey
) -> None:
    store = open_store(home, {**_ISSUER, "oidc_keys": str(tmp_path / "keys.json")})
    with TestClient(create_app(store)) as client:
        page = client.get("/v1/assets?limit=1000", headers=_bearer(_token(signer))).json()
        assert {item["site"] for item in page["items"]} == {"board-mill"}
        everywhere = client.get(
            "/v1/assets?limit=1000", headers=_bearer(_token(signer, mcw_sites=["*"]))
        ).json()
        assert {item["site"] for item in everywhere["items"]} > {"board-mill"}


def test_a_token_that_is_not_right_in_every_point_opens_nothing(
    tmp_path: Path, signer: ECKey
) -> None:
    tokens = Tokens.of(Settings(**_ISSUER, oidc_keys=str(tmp_path / "keys.json")))  # type: ignore[arg-type]
    assert tokens is not None
    assert tokens.check(_token(signer)) is not None
    other = ECKey.generate_key("P-256", {"kid": "one"})
    public = OctKey.import_key(json.dumps(signer.as_dict(private=False)))
    wrong = [
        _token(other),
        _token(public, "HS256"),
        _token(signer, iss="https://other.example"),
        _token(signer, aud="other"),
        _token(signer, exp=int(time.time()) - 3600),
        _token(signer, nbf=int(time.time()) + 3600),
        _token(signer)[:-4] + "AAAA",
        "e30.e30.",
        "a.b.c",
    ]
    assert [tokens.check(text) for text in wrong] == [None] * len(wrong)
    without = _claims()
    del without["exp"]
    text = jwt.encode({"alg": "ES256", "kid": "one"}, without, signer)
    assert tokens.check(text) is None
    no_sites = tokens.check(_token(signer, mcw_sites=None))
    assert no_sites is not None
    assert no_sites.sites == frozenset()


def test_half_of_the_settings_for_tokens_is_refused() -> None:
    with pytest.raises(SettingsError, match="belong together"):
        Tokens.of(Settings(**_ISSUER))  # type: ignore[arg-type]
    with pytest.raises(SettingsError, match="https"):
        Tokens.of(Settings(**_ISSUER, oidc_keys="http://id.example/keys"))  # type: ignore[arg-type]
    assert Tokens.of(Settings()) is None  # type: ignore[call-arg]
