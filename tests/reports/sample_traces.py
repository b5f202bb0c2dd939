"""Worlds worth drawing: a small one, one with rework and a tank, one with many lots."""

from tests.books.making_world import MakingWorld


def small_world() -> MakingWorld:
    """Beans of two cooperatives become bars; some are sold, returned, spilt."""
    world = MakingWorld()
    world.receive({"PE-01": 500_000}, seller="north")
    world.receive({"EC-01": 300_000}, seller="south", on=2)
    world.make(
        {"PE-01": 200_000},
        {"RO-1": 198_000},
        on=5,
        step="roast",
        losses={"moisture": 2_000},
        about={"form": "roasted bean"},
    )
    world.make(
        {"EC-01": 120_000},
        {"RO-2": 118_500},
        on=6,
        step="roast",
        losses={"moisture": 1_500},
        about={"form": "roasted bean"},
    )
    world.make(
        {"RO-1": 198_000},
        {"NI-1": 158_400},
        on=7,
        step="winnow",
        losses={"shell": 39_600},
        about={"form": "nib"},
    )
    world.make(
        {"RO-2": 118_500},
        {"NI-2": 95_000},
        on=8,
        step="winnow",
        losses={"shell": 23_500},
        about={"form": "nib"},
    )
    world.make(
        {"NI-1": 150_000, "NI-2": 60_000},
        {"CO-1": 208_000},
        on=9,
        step="conche",
        losses={"machine hold-up": 2_000},
    )
    world.make({"CO-1": 208_000}, {"TA-1": 208_000}, on=10, about={"place": "tank-1"})
    world.make(
        {"TA-1": 90_000},
        {"BAR-1": 89_100},
        on=12,
        step="mould",
        about={"form": "bar", "recipe": "dark", "pieces": 891},
    )
    world.make({"NI-2": 35_000, "BAR-1": 4_000}, {"CO-2": 38_700}, on=14, step="conche")
    world.make({"CO-2": 38_700, "TA-1": 50_000}, {"TA-2": 88_700}, on=15)
    world.make(
        {"TA-2": 88_000},
        {"BAR-2": 87_000},
        on=16,
        step="mould",
        about={"form": "bar", "recipe": "dark", "pieces": 870},
    )
    world.sell("S-1", {"BAR-1": 40_000}, customer="ann", on=20)
    world.sell("S-2", {"BAR-1": 30_000, "BAR-2": 20_000}, customer="ben", on=21)
    world.sell("S-3", {"BAR-2": 50_000}, customer="cy", on=22)
    world.take_back("S-3", {"BAR-2": 5_000}, on=25)
    world.write_off("BAR-1", 1_000, on=26)
    return world


def busy_world(*, fills: int = 60) -> MakingWorld:
    """A tank that is never cleaned, filled from many roasts, emptied into many bars."""
    world = MakingWorld()
    world.receive({"PE-01": 2_000_000, "PE-02": 900_000}, seller="north")
    world.receive({"EC-01": 1_500_000}, seller="south")
    tank = None
    for fill in range(1, fills + 1):
        beans = ("PE-01", "PE-02", "EC-01")[fill % 3]
        taken = 12_000 + 10 * fill
        world.make(
            {beans: taken},
            {f"RO-{fill}": taken - 300},
            on=fill,
            step="roast",
            losses={"moisture": 300},
            about={"form": "roasted bean"},
        )
        world.make(
            {f"RO-{fill}": taken - 300},
            {f"NI-{fill}": taken - 3_000},
            on=fill,
            step="winnow",
            losses={"shell": 2_700},
            about={"form": "nib"},
        )
        inputs = {f"NI-{fill}": taken - 3_000}
        if tank is not None:
            inputs[tank] = 2_000
        tank = f"TA-{fill}"
        world.make(inputs, {tank: sum(inputs.values())}, on=fill)
        bars = sum(inputs.values()) - 2_000
        world.make(
            {tank: bars},
            {f"BAR-{fill}": bars - 100},
            on=fill,
            step="mould",
            about={"form": "bar", "recipe": "dark"},
        )
        customer = ("ann", "ben", "cy")[fill % 3]
        world.sell(f"S-{fill}", {f"BAR-{fill}": bars - 500}, customer=customer, on=fill)
    return world
