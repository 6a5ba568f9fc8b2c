"""The faults by name: one table. A new fault is one record and one line here."""

from regscan.simulator.press.faults.drives import Backlash, GearRunOut, ServoDelay, WindUp
from regscan.simulator.press.faults.fault import Fault
from regscan.simulator.press.faults.plates import (
    CockedCylinder,
    Impression,
    PlateCreep,
    PlateMounting,
    PlateRunOut,
    PlateSlip,
    SideLayDrift,
)
from regscan.simulator.press.faults.reel import BaggyEdge, GuideHunting, RollChange, Splice
from regscan.simulator.press.faults.sight import FlashTiming, RollingShutter, TriggerLatency
from regscan.simulator.press.faults.tension import (
    AirFilm,
    IdlerDrag,
    RollerRunOut,
    TensionStep,
    UnwindInertia,
)
from regscan.simulator.press.faults.warming import ChillDrum, FilmShrink, LampWarmUp, Moisture

FAULTS: dict[str, type[Fault]] = {
    kind.name: kind
    for kind in (
        Backlash,
        WindUp,
        GearRunOut,
        PlateRunOut,
        RollerRunOut,
        TensionStep,
        UnwindInertia,
        IdlerDrag,
        AirFilm,
        ServoDelay,
        TriggerLatency,
        FlashTiming,
        RollingShutter,
        LampWarmUp,
        ChillDrum,
        FilmShrink,
        Impression,
        PlateSlip,
        PlateCreep,
        PlateMounting,
        CockedCylinder,
        GuideHunting,
        SideLayDrift,
        Moisture,
        Splice,
        BaggyEdge,
        RollChange,
    )
}
