"""Which lead is which, between the pages and the pure rule: what is read from the database, what is judged, what is shown."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from functools import cached_property

from django.http import QueryDict

from kits import live
from kits.live import Newest
from kits.models import Kit, Sensor, Wiring
from kits.units import Unit
from kits.which_lead import Judgement, Shown, judge
from kits.which_lead.series import median

BEFORE_S = 75.0  # the quiet minute before the hold, and a little more
OLDEST_S = live.KEPT.total_seconds() - BEFORE_S


@dataclass(frozen=True)
class Hold:
    """One lead held: since when, let go when, and whether in a hand or at something cold. All in Unix seconds."""

    began_s: float | None = None
    released_s: float | None = None
    cold: bool = False

    @classmethod
    def of(cls, sent: QueryDict | Mapping[str, str], now_s: float) -> "Hold":
        """As the page's address or its form tells; what cannot be, or is too long ago, was never begun."""
        began_s, released_s = seconds_of(sent.get("began")), seconds_of(sent.get("released"))
        if began_s is None or not now_s - OLDEST_S < began_s <= now_s + 1:
            return cls(cold=sent.get("with") == "cold")
        if released_s is not None and not began_s <= released_s <= now_s + 1:
            released_s = None
        return cls(began_s, released_s, sent.get("with") == "cold")

    def fields(self) -> dict[str, str]:
        """The same as fields of an address or a form."""
        told = {"began": self.began_s, "released": self.released_s}
        found = {name: f"{value:.2f}" for name, value in told.items() if value is not None}
        return {**found, **({"with": "cold"} if self.cold else {})}

    @property
    def way(self) -> str:
        return "cold" if self.cold else "hand"


def seconds_of(text: str | None) -> float | None:
    """A number of seconds, if it is one."""
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if math.isfinite(value) else None


@dataclass(frozen=True)
class LeadRow:
    """One lead of the kit on the page: what it reads now and how far it moved since the hold began."""

    sensor: Sensor
    terminal: int
    newest: Newest | None
    change_text: str = ""
    is_leader: bool = False


@dataclass
class Telling:
    """A kit whose leads are being told apart, at an instant."""

    kit: Kit
    hold: Hold
    now_s: float
    unit: Unit
    moves: dict[str, float] = field(default_factory=dict)

    @property
    def now(self) -> datetime:
        return datetime.fromtimestamp(self.now_s, UTC)

    @cached_property
    def wirings(self) -> list[Wiring]:
        return live.wired(self.kit)

    @cached_property
    def unnamed(self) -> list[Sensor]:
        return [row.sensor for row in self.wirings if not row.sensor.tag]

    @property
    def taken_tags(self) -> set[str]:
        """What stands on the tapes of this kit's leads."""
        return {row.sensor.tag for row in self.wirings if row.sensor.tag}

    @property
    def shown(self) -> Shown:
        return Shown.in_unit(self.unit, [row.sensor.rom for row in self.wirings])

    @cached_property
    def judgement(self) -> Judgement:
        """What can be said now."""
        start_s = self.now_s if self.hold.began_s is None else self.hold.began_s
        since = datetime.fromtimestamp(start_s - BEFORE_S, UTC)
        series = live.series_of(self.kit, [row.sensor.rom for row in self.wirings], since, self.now)
        if self.hold.began_s is not None:
            for rom, one in series.items():
                before = [sample.celsius for sample in one.samples if sample.at_s <= self.hold.began_s]
                after = [sample.celsius for sample in one.samples if sample.at_s > self.hold.began_s]
                if before and after:
                    self.moves[rom] = median(after[-3:]) - median(before)
        return judge(
            series,
            self.hold.began_s,
            self.now_s,
            unnamed=[one.rom for one in self.unnamed],
            warm_or_cold=self.hold.way,
            released_at_s=self.hold.released_s,
            shown=self.shown,
        )

    @cached_property
    def newest(self) -> list[Newest]:
        return live.newest_readings(self.kit, self.now)

    @property
    def strangers(self) -> list[Newest]:
        """Sensors heard just now that are not in this kit."""
        ours = {row.sensor.rom for row in self.wirings}
        return [one for one in self.newest if one.rom not in ours and not one.is_silent]

    @property
    def is_sending(self) -> bool:
        return any(not one.is_silent for one in self.newest)

    @property
    def rows(self) -> list[LeadRow]:
        """The leads without a name, as they read now."""
        newest = {one.rom: one for one in self.newest}
        leader = self.judgement.leader if self.hold.began_s is not None else None
        return [
            LeadRow(
                row.sensor,
                row.terminal,
                newest.get(row.sensor.rom),
                self.shown.difference(self.moves[row.sensor.rom]) if row.sensor.rom in self.moves else "",
                row.sensor.rom == leader,
            )
            for row in self.wirings
            if not row.sensor.tag
        ]

    @property
    def held_s(self) -> int | None:
        """How long it has been held."""
        if self.hold.began_s is None:
            return None
        return max(0, round((self.hold.released_s or self.now_s) - self.hold.began_s))

    @property
    def change_text(self) -> str:
        """How far the lead that moved most did."""
        change = self.judgement.change_kelvin
        return "" if change is None else self.shown.difference(change)

    @property
    def margin_text(self) -> str:
        """How many times farther the lead that moved most did than the next, as a large figure."""
        margin = self.judgement.margin
        if margin is None:
            return ""
        return (
            "over 20 ×" if margin > 20 else f"{Decimal(margin):.1f} ×" if margin < 10 else f"{margin:.0f} ×"
        )
