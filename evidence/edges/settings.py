"""``settings.toml`` of a workspace: who records, in which zone, and in which database."""

from __future__ import annotations

import tomllib
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError, field_validator

from evidence.edges.durable import alone_in, flush_folder, put_file
from evidence.errors import Mistake, MistakesFound, WorkspaceUnusable
from evidence.model.base import Line
from evidence.model.mistakes import mistakes_of
from evidence.model.when import known_zone

FILE = "settings.toml"
_TEMPLATE = """\
# Settings of this workspace. Lines that begin with # are notes.

format = 1

# Who records what is entered by command. A dossier folder may name its own recorder.
recorder = {recorder}
{firm}
# Times without a zone, entered by command, were read here (IANA name).
zone = {zone}

# The record is kept in record.sqlite beside this file. To keep it in PostgreSQL instead, name it in one line:
{database}

# The address of a time-stamp authority (RFC 3161) for 'evidence timestamp'. Only hashes are sent there.
# authority = "https://authority.example/"
"""


class Settings(BaseModel):
    """What the file may say. Nothing else is accepted, so that a misspelt line is seen."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: int
    recorder: Line
    firm: Line | None = None
    qualification: Line | None = None
    zone: str = "UTC"
    database: str | None = None
    authority: str | None = None  # of time-stamps

    @field_validator("zone")
    @classmethod
    def _zone(cls, value: str) -> str:
        return known_zone(value)

    @field_validator("authority")
    @classmethod
    def _authority(cls, value: str | None) -> str | None:
        if value and not value.startswith(("http://", "https://")):
            raise ValueError("is not the address of an authority; it begins with http:// or https://")
        return value

    @field_validator("database")
    @classmethod
    def _database(cls, value: str | None) -> str | None:
        if value and not value.startswith("postgresql"):
            raise ValueError("is not a PostgreSQL address; write postgresql+psycopg://user@host/name")
        return value.replace("postgresql://", "postgresql+psycopg://", 1) if value else value


def write_settings(folder: Path, *, recorder: str, firm: str, zone: str, database: str) -> None:
    """Write the file, whole or not at all; refused if it is there already."""
    text = _TEMPLATE.format(
        recorder=_quoted(recorder),
        firm=f"firm = {_quoted(firm)}\n" if firm else "",
        zone=_quoted(zone),
        database=f"database = {_quoted(database)}"
        if database
        else '# database = "postgresql+psycopg://user@host/name"',
    )
    if (folder / FILE).exists():
        raise WorkspaceUnusable("this folder is a workspace already", item=str(folder))
    with alone_in(folder):
        put_file(folder / FILE, text.encode(), 0o644)
        flush_folder(folder)


def read_settings(folder: Path) -> Settings:
    """Read the file; every mistake is named."""
    file = folder / FILE
    try:
        raw = tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise WorkspaceUnusable(
            "this folder is not a workspace (it has no settings.toml)", item=str(folder),
            advice="Make one with 'evidence workspace DIR', or name another with --workspace.",
        ) from None  # fmt: skip
    except OSError as err:
        raise WorkspaceUnusable(f"the settings cannot be read: {err.strerror}", item=str(file)) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise MistakesFound([Mistake(str(file), 0, 0, "", f"cannot be read as TOML: {err}")]) from None
    if isinstance(raw.get("format"), int) and raw["format"] > 1:
        raise WorkspaceUnusable(
            f"the workspace is of a newer version (format {raw['format']}, this program knows 1)", item=str(folder),
            advice="Use the newer program. Nothing was changed.",
        )  # fmt: skip
    try:
        return Settings.model_validate(raw)
    except ValidationError as err:
        raise MistakesFound(mistakes_of(err, Settings, file=str(file), item="settings")) from None


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
