"""${message}"""

import sqlalchemy as sa
from alembic import op

from kitbuilder.store.columns import Moment

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Make the changes."""
    ${upgrades if upgrades else "pass"}
