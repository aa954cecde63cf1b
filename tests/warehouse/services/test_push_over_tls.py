"""Setting `push_ca_file`: what is queued reaches a target that shows the plant's certificate."""

from __future__ import annotations

from pathlib import Path

from standardwebhooks.webhooks import Webhook

from tests.warehouse.push.authority import Authority
from tests.warehouse.push.handling import hurry
from tests.warehouse.push.target import receiving
from warehouse.services.pushing import Pusher, Wanted, ping, subscribe
from warehouse.store import create_store, open_store


def test_a_target_with_a_certificate_of_the_plant_is_told(tmp_path: Path) -> None:
    plant, store = Authority(), create_store(tmp_path / "store", {})
    given = {"push_targets": "https://127.0.0.0/8:*", "push_seconds": 5.0}
    with receiving(tls=plant.serving("localhost")) as receiver:
        _, secret = subscribe(open_store(store.home, given), Wanted("cmms", receiver.url))
        ping(store, "cmms")
        stranger = Pusher(open_store(store.home, given)).once()
        assert "CERTIFICATE_VERIFY_FAILED" in stranger.failed["cmms"]
        hurry(store)
        trusting = open_store(store.home, {**given, "push_ca_file": str(plant.file(tmp_path))})
        assert Pusher(trusting).once().delivered == 1
    (told,) = receiver.received
    Webhook(secret).verify(told.body, told.headers)
