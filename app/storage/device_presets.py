"""Which reports tell what a device holds, beside `device_now` and as often.

Apart from it, since what holds a whole fleet against a policy, or counts it on its wall, walks
every row of that table and needs nothing of this.
"""

from sqlmodel import Field, Text

from app.storage.base import Row, filled


class DevicePresetsRow(Row, table=True):
    """`presets`: the latest report of each preset and state, in short, as JSON."""

    __tablename__ = "device_presets"
    __table_args__ = (filled("presets"),)

    device_id: int = Field(foreign_key="device_now.device_id", primary_key=True)
    presets: str = Field(sa_type=Text)
