"""What should be true of the kits, kept in plain dictionaries and written without a look at the actions.

It is told which step was taken and says where each kit, stay, lead and spare must be afterwards, and whether a step can
be taken at all: `True` it must be done, `False` it must be refused, `None` it depends on times this oracle leaves alone.
"""

from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

SHOP_ZONE = ZoneInfo("America/New_York")
GONE = {"missing", "retired"}
RUNNING = {"planned", "loaded", "installed", "removed"}


@dataclass
class StayBook:
    """One stay: whose, for which call, how far it got, on which days it holds its kit, what sits where."""

    kit: int
    call: int
    stage: str
    from_day: date
    take_out_by: date
    back_day: date
    sits: dict[int, str] = field(default_factory=dict)  # sensor -> position
    times: dict[str, datetime] = field(default_factory=dict)

    @property
    def is_out(self) -> bool:
        return self.stage in {"loaded", "installed", "removed"}


@dataclass
class KitBook:
    """One kit: where it is, on whose truck, what is wired to which terminal, whether it is fit for work."""

    place: str = "shelf"
    holder: int | None = None
    wired: dict[int, int] = field(default_factory=dict)  # terminal -> sensor
    needs_work: bool = False
    instants: list[datetime] = field(default_factory=list)  # when something was done with it


@dataclass
class Oracle:
    """The whole shop as it should stand."""

    kits: dict[int, KitBook]
    spares: dict[int, tuple[str, int | None]]
    call_days: dict[int, date]
    stays: dict[int, StayBook] = field(default_factory=dict)
    offsets: dict[int, dict[datetime, int]] = field(default_factory=dict)  # sensor -> instant -> millikelvin
    swapped: dict[int, datetime] = field(
        default_factory=dict
    )  # sensor -> when it last came in for a cut lead

    # -- Looking

    def out(self, kit: int) -> tuple[int, StayBook] | None:
        found = [(key, stay) for key, stay in self.stays.items() if stay.kit == kit and stay.is_out]
        assert len(found) <= 1, "out on two stays at once"
        return found[0] if found else None

    def stage(self, kit: int) -> str:
        """The stage of the stay the kit is out on, or "" when it is on none."""
        out = self.out(kit)
        return out[1].stage if out else ""

    def kits_at(self, *stages: str) -> list[int]:
        return [kit for kit in self.kits if self.stage(kit) in stages]

    def kits_in(self, *places: str) -> list[int]:
        return [kit for kit, book in self.kits.items() if book.place in places]

    def plans(self, kit: int) -> dict[int, StayBook]:
        return {key: stay for key, stay in self.stays.items() if stay.kit == kit and stay.stage == "planned"}

    def of_call(self, call: int) -> tuple[int, StayBook] | None:
        found = [(key, row) for key, row in self.stays.items() if row.call == call and row.stage in RUNNING]
        assert len(found) <= 1, "two kits for one call"
        return found[0] if found else None

    def offset_of(self, sensor: int, instant: datetime) -> int | None:
        known = [when for when in self.offsets.get(sensor, {}) if when <= instant]
        return self.offsets[sensor][max(known)] if known else None

    def seen(self, kit: int, instant: datetime) -> tuple[object, ...]:
        """What `kit_as_of` must answer for this kit now."""
        book, out = self.kits[kit], self.out(kit)
        sits = out[1].sits if out else {}
        leads = {
            terminal: (sensor, sits.get(sensor), self.offset_of(sensor, instant))
            for terminal, sensor in book.wired.items()
        }
        return book.place, book.holder, out[0] if out else None, leads

    # -- May it be done?

    def is_in_date(self, sensor: int, now: datetime) -> bool:
        """Given an offset that holds at `now`, and not swapped in since that was given."""
        known = [when for when in self.offsets.get(sensor, {}) if when <= now]
        return bool(known) and not (sensor in self.swapped and self.swapped[sensor] >= max(known))

    def may_plan(
        self, kit: int, call: int, from_day: date, back_day: date, wanted: int, now: datetime
    ) -> bool:
        book = self.kits[kit]
        clash = any(
            stay.kit == kit
            and stay.stage in RUNNING
            and stay.from_day < back_day
            and from_day < stay.back_day
            for stay in self.stays.values()
        )
        fit = book.place not in GONE and not book.needs_work and len(book.wired) >= max(1, wanted)
        fit = fit and all(self.is_in_date(sensor, now) for sensor in book.wired.values())
        return fit and not clash and self.of_call(call) is None

    def may_load(self, kit: int, call: int, technician: int, dated: bool) -> bool:
        book, out, other = self.kits[kit], self.out(kit), self.of_call(call)
        if book.place in GONE or self.stage(kit) in {"installed", "removed"}:
            return False
        if out and out[1].call == call:
            return book.holder != technician
        if other and other[1].kit != kit and other[1].is_out:
            return False
        planned_here = other is not None and other[1].kit == kit
        return planned_here or dated

    def may_take(self, kit: int, technician: int) -> bool:
        book = self.kits[kit]
        here_already = book.place == "truck" and book.holder == technician
        return book.place not in GONE and self.stage(kit) not in {"installed", "removed"} and not here_already

    def may_shelve(self, kit: int) -> bool:
        return self.kits[kit].place not in GONE and self.stage(kit) not in {"installed", "removed"}

    # -- It was done

    def move(self, kit: int, place: str, holder: int | None = None) -> None:
        self.kits[kit].place, self.kits[kit].holder = place, holder

    def let_go(self, keys: list[int], at: datetime) -> None:
        for key in keys:
            self.stays[key].stage = "called_off"
            self.stays[key].times["called_off"] = at

    def let_go_out(self, kit: int, at: datetime) -> None:
        """A kit that was only loaded is not any more."""
        if out := self.out(kit):
            self.let_go([out[0]], at)

    def planned(self, key: int, kit: int, call: int, take_out_by: date, back_day: date) -> None:
        self.stays[key] = StayBook(kit, call, "planned", self.call_days[call], take_out_by, back_day)

    def loaded(
        self, key: int, kit: int, call: int, technician: int, dates: tuple[date, date] | None, at: datetime
    ) -> None:
        out, other = self.out(kit), self.of_call(call)
        self.move(kit, "truck", technician)
        if out and out[1].call == call:
            assert key == out[0], "another stay for a kit that only changed trucks"
            return
        self.let_go_out(kit, at)
        if key not in self.stays:
            assert dates is not None
            if other:
                self.let_go([other[0]], at)
            from_day = self.call_days[call]
            overlapping = [
                plan_key
                for plan_key, plan in self.plans(kit).items()
                if plan.from_day < dates[1] and from_day < plan.back_day
            ]
            self.let_go(overlapping, at)
            self.planned(key, kit, call, *dates)
        elif dates:
            self.stays[key].take_out_by, self.stays[key].back_day = dates
        self.stays[key].stage = "loaded"
        self.stays[key].times["loaded"] = at

    def installed(
        self, key: int, kit: int, sits: dict[int, str], dates: tuple[date, date], at: datetime
    ) -> None:
        stay = self.stays[key]
        stay.times.setdefault("loaded", at)
        stay.stage, stay.sits, (stay.take_out_by, stay.back_day) = "installed", dict(sits), dates
        stay.times["installed"] = at
        self.move(kit, "site")

    def removed(self, kit: int, technician: int, at: datetime) -> None:
        _key, stay = self.out(kit) or self.nothing()
        stay.stage, stay.sits = "removed", {}
        stay.times["removed"] = at
        self.move(kit, "truck", technician)

    def handed_back(
        self, kit: int, lost: list[int], spoiled: bool, on_truck: bool, at: datetime, incomplete: bool = False
    ) -> None:
        _key, stay = self.out(kit) or self.nothing()
        stay.stage, stay.sits = "handed_back", {}
        stay.times["handed_back"] = at
        for sensor in lost:
            self.unwired(kit, sensor, "missing", None)
        self.kits[kit].needs_work |= spoiled
        if not on_truck:
            self.move(kit, "bench" if lost or spoiled or incomplete else "shelf")
        today = at.astimezone(SHOP_ZONE).date()
        self.let_go([key for key, plan in self.plans(kit).items() if plan.from_day < today], at)

    def given_up(self, kit: int, place: str, at: datetime) -> None:
        """Missing or retired: no plan can count on it any more."""
        self.move(kit, place)
        self.let_go(list(self.plans(kit)), at)

    def unwired(self, kit: int, sensor: int, place: str, technician: int | None) -> int:
        terminal = next(number for number, wired in self.kits[kit].wired.items() if wired == sensor)
        del self.kits[kit].wired[terminal]
        self.spares[sensor] = place, technician
        return terminal

    def wired_in(self, kit: int, sensor: int, terminal: int) -> None:
        del self.spares[sensor]
        self.kits[kit].wired[terminal] = sensor

    @staticmethod
    def nothing() -> tuple[int, StayBook]:
        raise AssertionError("a step was done for a kit that is out on no stay")
