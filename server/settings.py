"""What the person running the app may choose, read once at the start and handed down as a value.

Each setting is also an environment variable with the prefix TRAINWRIGHT_ (TRAINWRIGHT_DATA, TRAINWRIGHT_PORT
...); an option of the command line outweighs it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import platformdirs
from pydantic import Field, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

DEFAULT_PORT = 8321
DEFAULT_LAN_PORT = 8322
DEFAULT_HOSTED_PORT = 8330


def default_data_folder() -> Path:
    """The folder that this system keeps a program's own data in for this user; it need not exist yet."""
    return platformdirs.user_data_path("trainwright", appauthor=False)


class Settings(BaseSettings):
    """One run's settings. Frozen: to change one for a run, make a copy with `model_copy(update=...)`."""

    model_config = SettingsConfigDict(
        env_prefix="TRAINWRIGHT_", env_ignore_empty=True, frozen=True, extra="ignore"
    )

    data: Path = Field(default_factory=default_data_folder)
    """The folder of the database and of the copies set aside."""

    frames: Path | None = None
    """A folder on this machine whose frames may be named on the page; None: frames come by upload alone."""

    frame_megabytes: int = Field(default=300, ge=1, le=4000)
    """How large one frame's file may be, in millions of bytes."""

    port: int = Field(default=DEFAULT_PORT, ge=0, le=65535)
    """The port of the app itself; 0 asks the system for a free one. While serving: the one that was got."""

    browser: bool = True
    """Whether `serve` opens the browser."""

    lan: bool = False
    """Whether `serve` also opens share pages, and nothing else, to the local network."""

    lan_address: str | None = None
    """This machine's address or name on the local network. While serving: the one in use, or None."""

    lan_port: int = Field(default=DEFAULT_LAN_PORT, ge=0, le=65535)
    """The port of the share pages. While serving: the one that was got."""

    @field_validator("data", "frames")
    @classmethod
    def _absolute(cls, folder: Path | None) -> Path | None:
        return None if folder is None else folder.expanduser().absolute()

    @property
    def host(self) -> Literal["127.0.0.1"]:
        """The address the app listens on. Not a choice: without passwords it must not leave this machine."""
        return "127.0.0.1"

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.data / "trainwright.sqlite3"

    @property
    def address(self) -> str:
        """The app's own address, as a browser on this machine opens it; no slash at its end."""
        return f"http://{self.host}:{self.port}"

    @property
    def links_lead_here(self) -> bool:
        """Whether a share link leads here from another machine."""
        return self.lan

    @property
    def share_address(self) -> str:
        """What a share link begins with: the address on the local network if there is one, else the app's."""
        if not (self.lan and self.lan_address):
            return self.address
        host = f"[{self.lan_address}]" if ":" in self.lan_address else self.lan_address
        # Browsers leave out the usual port, and what they send is compared with this.
        return f"http://{host}" if self.lan_port == 80 else f"http://{host}:{self.lan_port}"


class HostedSettings(Settings):
    """One run's settings of the hosted form. Its variables begin as the local form's do."""

    place: str = ""
    """The database: a file, or the address of a PostgreSQL one."""

    public: str = ""
    """What people type to get here: "https://rigs.example", without a slash at its end."""

    bind: str = "127.0.0.1"
    """The address that is listened on; the proxy stands before it."""

    port: int = Field(default=DEFAULT_HOSTED_PORT, ge=0, le=65535)
    """The port that is listened on."""

    trust: tuple[str, ...] = ()
    """Whose word is taken for where a request came from: the proxy's address."""

    log: Literal["lines", "json"] = "lines"
    """How the log is written."""

    metrics: int | None = Field(default=None, ge=1, le=65535)
    """The port of this machine that says what is counted; None: nothing is."""

    log_days: int = Field(default=90, ge=1, le=3650)
    """For how many days sign-ins and stewards' acts are kept."""

    sockets: tuple[str, ...] = ()
    """Where the processes are asked that work out what takes long; none: each process does so itself."""

    mail: str = ""
    """The server that takes mail, like smtp://user@mail.example:587; "": none is sent. Its password is read
    where it is used, so that it stands in no settings.
    """

    mail_from: str = ""
    """Whom mail comes from."""

    door: Literal["open", "closed"] = "closed"
    """Whether a stranger may ask to be let in."""

    @property
    def address(self) -> str:
        """The app's own address, as everybody opens it."""
        return self.public

    @property
    def links_lead_here(self) -> bool:
        """Always: there is one address."""
        return True

    @property
    def share_address(self) -> str:
        """What a share link begins with."""
        return self.public
