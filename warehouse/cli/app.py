"""The commands, assembled."""

from __future__ import annotations

import typer

from warehouse.cli import (
    arrival,
    asking,
    case,
    commission,
    explain,
    fleet,
    housekeeping,
    inbox,
    keys,
    limits,
    meeting,
    push,
    route,
    setup,
    status,
    trust,
    watching,
    withdrawal,
)

app = typer.Typer(
    help="Every condition reading of every machine on every site: taken in, judged, served.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

app.command("init")(setup.init)
app.add_typer(setup.config_app, name="config")
app.add_typer(setup.registry_app, name="registry")
app.command("adapters")(setup.list_adapters)
app.add_typer(arrival.connect_app, name="connect")
app.command("ingest")(arrival.ingest)
app.command("inbox")(inbox.inbox)
app.command("rejects")(inbox.list_rejects)
app.command("replay")(inbox.replay_packages)
app.command("retract")(withdrawal.retract_package)
app.command("limits")(limits.limits)
app.command("judge")(asking.judge)
app.command("worst")(asking.worst)
app.command("fleet")(fleet.fleet)
app.command("explain")(explain.explain)
app.add_typer(case.case_app, name="case")
app.command("sheet")(meeting.sheet)
app.command("outage")(meeting.outage)
app.add_typer(route.route_app, name="route")
app.add_typer(commission.commission_app, name="commission")
app.command("trust")(trust.trust)
app.command("query")(asking.query)
app.command("watch")(watching.watch)
app.command("run")(watching.run)
app.command("deliver")(watching.deliver)
app.add_typer(push.push_app, name="push")
app.command("status")(status.status)
app.add_typer(keys.keys_app, name="keys")
app.command("compact")(housekeeping.compact)
app.command("vacuum")(housekeeping.vacuum)
app.command("check")(housekeeping.check)
app.command("backup")(housekeeping.backup)
app.command("restore")(housekeeping.restore)
app.command("migrate")(housekeeping.migrate)
