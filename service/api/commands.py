"""The operator's commands: ``flask --app service db …`` and ``… keys …``."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import click
from flask import Flask, current_app
from flask.cli import AppGroup
from marshmallow import ValidationError

import rules
from schemas.error_texts import NO_DRIVERS_SEAT
from schemas.outfits import NewOutfitSchema
from service.api import jobs
from service.api.errors import faults
from service.api.stored import backup_folder, the_store
from service.jobs.worker import Worker
from service.outfits import demo, keys, people
from service.outfits.boats import without_drivers_seat
from service.outfits.keys import Scope
from service.storage import Store, StoreError, backup, schema
from service.storage.documents import NotStoredError
from service.storage.tables import Outfit, now

db = AppGroup("db", help="The schema of the store.")
outfits = AppGroup("outfits", help="Who runs the boats.")
boats = AppGroup("boats", help="The boats of all outfits.")
api_keys = AppGroup("keys", help="The API keys of an outfit.")
long_work = AppGroup("jobs", help="Long work, in processes of its own.")


def _store_in_use() -> Store:
    """The store for a command that works in it; those on the store as a whole take it as it is."""
    store = the_store()
    try:
        demo.bring_up(store, backup_folder(current_app))
    except StoreError as error:
        raise click.ClickException(str(error)) from None
    return store


_BACKUP = click.option(
    "--backup/--no-backup", default=True, show_default=True,
    help="Back the store up first, into WAVESETUP_BACKUP_FOLDER.",
)  # fmt: skip


def _migrate(change: Callable[..., None], revision: str, *, backed_up: bool) -> None:
    store = the_store()
    before = backup.before_migration(store, backup_folder(current_app)) if backed_up else None
    try:
        change(store, revision, before)
    except StoreError as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"The schema stands at {schema.current(store)}.")


@db.command()
@click.argument("revision", default="head")
@_BACKUP
def upgrade(revision: str, backup: bool) -> None:
    """Bring the schema up to REVISION (the newest)."""
    _migrate(schema.upgrade, revision, backed_up=backup)


@db.command()
@click.argument("revision")
@_BACKUP
@click.confirmation_option(prompt="What the later revisions hold is lost. Go on?")
def downgrade(revision: str, backup: bool) -> None:
    """Take the schema down to REVISION, "base" for nothing."""
    _migrate(schema.downgrade, revision, backed_up=backup)


@db.command()
def current() -> None:
    """Show where the schema stands."""
    found = schema.current(the_store())
    later = " A later version of this program has migrated it." if schema.later(found) else ""
    click.echo(f"{found}; this program needs {schema.head()}.{later}")


@db.command("backup")
@click.argument("target", type=click.Path(path_type=Path, dir_okay=False))
def back_up(target: Path) -> None:
    """Write the whole store to a new file TARGET, while the service goes on."""
    try:
        backup.backup(the_store(), target)
    except (StoreError, OSError) as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"{target}: {target.stat().st_size} bytes.")


@db.command()
@click.argument("source", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.confirmation_option(prompt="All that is in the store now is lost. Go on?")
def restore(source: Path) -> None:
    """Put a backup in the place of the store; then bring its schema up. Stop the service first."""
    try:
        backup.restore(the_store(), source)
    except StoreError as error:
        raise click.ClickException(str(error)) from None
    schema.upgrade(the_store())
    click.echo(f"Restored from {source}; the schema stands at {schema.current(the_store())}.")


@db.command("demo")
def add_demo() -> None:
    """Add the demo outfit and its invented fleet to a store without any outfit."""
    with _store_in_use().writing() as session:
        demo.add_demo(session)


@outfits.command("create")
@click.argument("outfit_id")
@click.option("--name", required=True)
@click.option("--time-zone", default="UTC", help="IANA name, for the day sheets.")
def create_outfit(outfit_id: str, name: str, time_zone: str) -> None:
    """Add an outfit under OUTFIT_ID."""
    told = {"id": outfit_id, "name": name, "time_zone": time_zone}
    try:
        outfit = NewOutfitSchema().load(told)
    except ValidationError as error:
        found = (f"{at.removeprefix('/')}: {fault}" for at, fault in faults(error.messages))
        raise click.ClickException("\n".join(found)) from None
    with _store_in_use().writing() as session:
        if session.get(Outfit, outfit_id) is not None:
            raise click.ClickException(f"There is an outfit {outfit_id} already.")
        session.add(Outfit(**outfit))


@outfits.command("sweep")
def sweep_outfits() -> None:
    """Erase the riders who were not needed for as long as their outfit keeps them."""
    with _store_in_use().writing() as session:
        erased = people.sweep(session, now())
    click.echo(f"{erased} riders erased.")


@boats.command("check")
@click.pass_context
def check_boats(context: click.Context) -> None:
    """List the boats without a driver's seat: the advice for them is not to go."""
    with _store_in_use().reading() as session:
        found = list(without_drivers_seat(session))
    for outfit_id, boat_id in found:
        click.echo(f"{outfit_id}/{boat_id}: {NO_DRIVERS_SEAT}")
    if found:
        context.exit(1)
    click.echo("Every boat has a driver's seat.")


@api_keys.command("create")
@click.option("--outfit", "outfit_id", default=demo.DEMO, show_default=True)
@click.option("--name", required=True, help="What it is for.")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    type=click.Choice([scope.value for scope in Scope]),
    default=[Scope.WRITE.value],
    show_default=True,
    help="Levels: "
    + "; ".join(f"{scope.value} {adds}" for scope, adds in keys.SCOPES.items())
    + ".",
)
@click.option("--days", type=click.IntRange(1, 3650), help="It expires after so many days.")
@click.option("--replace", is_flag=True, help="Revoke the others of this name.")
def create_key(
    outfit_id: str, name: str, scopes: tuple[str, ...], days: int | None, replace: bool
) -> None:
    """Make a key and print it. It is shown this once and kept nowhere."""
    expires = None if days is None else now() + timedelta(days=days)
    with _store_in_use().writing() as session:
        if replace:
            for key in keys.every(session, outfit_id):
                if key.name == name:
                    keys.revoke(session, outfit_id, key.id)
        try:
            _, token = keys.issue(session, outfit_id, name, map(Scope, scopes), expires)
        except NotStoredError:
            raise click.ClickException(f"There is no outfit {outfit_id}.") from None
    click.echo(token)


@api_keys.command("list")
@click.option("--outfit", "outfit_id", default=demo.DEMO, show_default=True)
def list_keys(outfit_id: str) -> None:
    """List the keys of an outfit, without the keys themselves."""
    with _store_in_use().reading() as session:
        for key in keys.every(session, outfit_id):
            state = "revoked" if key.revoked else "expires" if key.expires else "good"
            until = f" {key.revoked or key.expires:%Y-%m-%d}" if state != "good" else ""
            used = f"{key.last_used:%Y-%m-%d}" if key.last_used else "never"
            scopes = " ".join(keys.scopes_of(key.scopes))
            click.echo(f"{key.id}  {key.name}  [{scopes}]  {state}{until}  last used {used}")


@api_keys.command("revoke")
@click.option("--outfit", "outfit_id", default=demo.DEMO, show_default=True)
@click.argument("key_id")
def revoke_key(outfit_id: str, key_id: str) -> None:
    """Close KEY_ID for good, from the next request on."""
    with _store_in_use().writing() as session:
        try:
            keys.revoke(session, outfit_id, key_id)
        except NotStoredError:
            raise click.ClickException(f"{outfit_id} has no key {key_id}.") from None


@long_work.command()
@click.option("--processes", type=click.IntRange(1, 64), default=1, show_default=True)
def work(processes: int) -> None:
    """Do jobs until stopped, so many at once as there are PROCESSES."""
    rules.load()  # once, for all that are forked from here
    app = current_app._get_current_object()  # type: ignore[attr-defined]  # noqa: SLF001
    Worker(_store_in_use(), jobs.performer(app), processes).run()


def init_app(app: Flask) -> None:
    for group in (db, outfits, boats, api_keys, long_work):
        app.cli.add_command(group)
