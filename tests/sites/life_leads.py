"""The steps of a random life that are about single leads: moved, taken off, swapped, wired, given offsets."""

from datetime import timedelta
from decimal import Decimal

from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from kits.actions import sensors as sensor_actions
from kits.models import KeptAt
from sites.actions import placements
from sites.models import Position
from tests import make
from tests.sites import life_world as world_of
from tests.sites.life_machine import HOW, NUMBER, LifeBase, pick

PLACES = (KeptAt.TRUCK, KeptAt.BENCH, KeptAt.SHELF)


class Leads(LifeBase):
    """Sensors on their leads."""

    def lead_of(self, kit: int, number: int) -> int:
        """Mostly a sensor wired into the kit, sometimes any."""
        return pick(number, list(self.oracle.kits[kit].wired.values()), self.world.sensors)

    @precondition(lambda self: self.oracle.kits_at("installed"))
    @rule(number=NUMBER, lead=NUMBER, where=st.integers(-1, 4), exchange=st.booleans(), how=HOW)
    def move_sensor(self, number: int, lead: int, where: int, exchange: bool, how: tuple[int, int]) -> None:
        """To a position, in exchange with the one there, or (-1) off."""
        kit = pick(number, self.oracle.kits_at("installed"), self.world.kits)
        sensor = self.lead_of(kit, lead)
        act = self.based(self.act(how, self.world.technicians[0]), kit, number)
        code = make.POSITIONS[where] if where >= 0 else None
        out = self.oracle.out(kit)
        sits = out[1].sits if out else {}
        there = next((other for other, position in sits.items() if position == code), None)
        here = sits.get(sensor)
        possible = out is not None and out[1].stage == "installed" and here != code
        possible = possible and sensor in self.oracle.kits[kit].wired.values()
        may = possible and (there is None or (exchange and here is not None))
        done = self.take(
            placements.move_sensor,
            act,
            may=may,
            kit=world_of.kit(kit),
            sensor=world_of.sensor(sensor),
            position=Position.objects.get(code=code) if code else None,
            exchange=exchange,
        )
        if done:
            sits.pop(sensor, None)
            if code:
                sits[sensor] = code
            if there is not None and here is not None:
                sits[there] = here

    @rule(
        kind=st.sampled_from(["swap", "swap", "in", "out", "keep", "offset"]),
        number=NUMBER,
        lead=NUMBER,
        spare=NUMBER,
        where=st.integers(0, 2),
        how=HOW,
    )
    def leads(self, kind: str, number: int, lead: int, spare: int, where: int, how: tuple[int, int]) -> None:
        """One of the smaller steps about leads."""
        if kind == "swap":
            self.swap_lead(number, lead, spare, where, how)
        elif kind == "in":
            self.wire_in(number, spare, how)
        elif kind == "out":
            self.wire_out(number, lead, how)
        elif kind == "keep":
            self.keep_spare(number, where, how)
        else:
            self.give_offset(number, (lead - 30) * 17, spare, how)

    def swap_lead(self, number: int, lead: int, spare: int, where: int, how: tuple[int, int]) -> None:
        kit = pick(number, self.oracle.kits_at("installed"), self.world.kits)
        old = self.lead_of(kit, lead)
        new = pick(spare, list(self.oracle.spares), self.world.sensors)
        technician = self.world.technicians[number % 2]
        act = self.based(self.act(how, technician), kit, number)
        may = old in self.oracle.kits[kit].wired.values() and new in self.oracle.spares
        done = self.take(
            placements.swap_lead,
            act,
            may=may,
            kit=world_of.kit(kit),
            old=world_of.sensor(old),
            new=world_of.sensor(new),
            why="chewed through",
            old_goes_to=PLACES[where],
            technician=technician if PLACES[where] == KeptAt.TRUCK else None,
        )
        if done:
            holder = technician.pk if PLACES[where] == KeptAt.TRUCK else None
            terminal = self.oracle.unwired(kit, old, PLACES[where].value, holder)
            self.oracle.wired_in(kit, new, terminal)
            at = min(act.happened_at, act.recorded_at)
            self.oracle.swapped[new] = max(self.oracle.swapped.get(new, at), at)
            out = self.oracle.out(kit)
            if out and old in out[1].sits:
                out[1].sits[new] = out[1].sits.pop(old)

    def wire_in(self, number: int, spare: int, how: tuple[int, int]) -> None:
        kit = self.world.kits[number // 6 % len(self.world.kits)]
        sensor = pick(spare, list(self.oracle.spares), self.world.sensors)
        act = self.based(self.act(how, self.world.office), kit, number)
        free = [terminal for terminal in range(1, 6) if terminal not in self.oracle.kits[kit].wired]
        may = sensor in self.oracle.spares and bool(free)
        done = self.take(
            sensor_actions.wire_in, act, may=may, kit=world_of.kit(kit), sensor=world_of.sensor(sensor)
        )
        if done:
            self.oracle.wired_in(kit, sensor, free[0])

    def wire_out(self, number: int, lead: int, how: tuple[int, int]) -> None:
        kit = self.world.kits[number // 6 % len(self.world.kits)]
        sensor = self.lead_of(kit, lead)
        act = self.based(self.act(how, self.world.office), kit, number)
        out = self.oracle.out(kit)
        measures = out is not None and sensor in out[1].sits
        may = sensor in self.oracle.kits[kit].wired.values() and not measures
        done = self.take(
            sensor_actions.wire_out, act, may=may, kit=world_of.kit(kit), sensor=world_of.sensor(sensor)
        )
        if done:
            self.oracle.unwired(kit, sensor, "bench", None)

    def keep_spare(self, number: int, where: int, how: tuple[int, int]) -> None:
        sensor = pick(number, list(self.oracle.spares), self.world.sensors)
        technician = self.world.technicians[0]
        act = self.act(how, self.world.office)
        done = self.take(
            sensor_actions.keep_spare,
            act,
            may=sensor in self.oracle.spares,
            sensor=world_of.sensor(sensor),
            place=PLACES[where],
            technician=technician,
        )
        if done:
            holder = technician.pk if PLACES[where] == KeptAt.TRUCK else None
            self.oracle.spares[sensor] = PLACES[where].value, holder

    def give_offset(self, number: int, millikelvin: int, hours_ago: int, how: tuple[int, int]) -> None:
        sensor = self.world.sensors[number % len(self.world.sensors)]
        act = self.act(how, self.world.office)
        instant = self.now - timedelta(hours=hours_ago)
        known = self.oracle.offsets.setdefault(sensor, {})
        done = self.take(
            sensor_actions.give_offset,
            act,
            may=instant not in known,
            sensor=world_of.sensor(sensor),
            offset_kelvin=Decimal(millikelvin) / 1000,
            in_force_from=instant,
        )
        if done:
            known[instant] = millikelvin
            self.forget(instant, set(self.world.kits))
