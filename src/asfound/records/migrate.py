"""Schema changes, run from inside the package. Imported only when the schema differs: Alembic takes 0.2 s to load."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.script import ScriptDirectory

from asfound.records.tables import METADATA

if TYPE_CHECKING:
    from sqlalchemy import Connection


def scripts() -> ScriptDirectory:
    """Return the folder of migrations of this package."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return ScriptDirectory.from_config(config)


def known_revisions() -> set[str]:
    """Return every revision that this program can bring up to date."""
    return {script.revision for script in scripts().walk_revisions()}


def upgrade(connection: Connection, to: str = "head") -> None:
    """Bring the schema up to a revision within the caller's transaction."""
    folder = scripts()

    def steps(revision: object, _context: object) -> object:
        return folder._upgrade_revs(to, revision)  # type: ignore[arg-type]

    with EnvironmentContext(Config(), folder, fn=steps, destination_rev=to) as environment:
        environment.configure(
            connection=connection,
            target_metadata=METADATA,
            render_as_batch=True,
            transactional_ddl=False,
        )
        environment.run_migrations()
