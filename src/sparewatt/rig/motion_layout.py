"""Rows and codes of the moving rig: what its constants, states, channels and happenings are called."""

from __future__ import annotations

import enum

__all__ = ["Act", "Chan", "Event", "Geo", "Move", "Out", "Shared", "Sum"]


class Geo(enum.IntEnum):
    """Numbers of the drive in one gear."""

    RATIO = 0  # machine turns per crank turn, creep included
    GAIN = 1  # crank torque per machine torque
    DRAG_BEFORE = 2  # N*m at the crank, ahead of the freewheel
    SLOPE_BEFORE = 3  # N*m*s/rad at the crank
    DRAG_AFTER = 4  # N*m at the machine's shaft, behind the freewheel
    SLOPE_AFTER = 5  # N*m*s/rad at the machine's shaft
    J_CRANK = 6  # kg*m^2 at the crank, ahead of the freewheel
    J_SHAFT = 7  # kg*m^2 at the machine's shaft, behind the freewheel


class Move(enum.IntEnum):
    """Constants of one rig and its rider that only matter while things change."""

    INDUCTANCE = 0  # H
    CAPACITANCE = 1  # F across the bus
    G_BLEED = 2  # S
    V_CLAMP = 3  # V, inf: none
    R_CLAMP = 4  # ohm
    V_WAKE = 5  # V
    T_SOFT = 6  # s
    R_LEAD = 7  # ohm to a shared bus
    FREEWHEEL = 8  # 1 or 0
    I_SET = 9  # A, the board's amps screw (inf: none)
    V_RATED = 10  # V, lowest rating on the bus (inf: none)
    V_BRUSH = 11  # V: what is lost when the battery drives the machine
    R_COLD = 12  # ohm: winding at 20 degC
    K_COLD = 13  # V*s/rad
    MAGNET_SLOPE = 14  # 1/K
    R_TH_IN = 15  # K/W winding to case
    R_TH_OUT = 16  # K/W case to air
    C_WIND = 17  # J/K
    C_CASE = 18  # J/K
    T_AIR = 19  # K
    MAGNET_SHARE = 20  # of the case's warm-up that reaches the magnets
    HEATS = 21  # 1: temperatures move
    W_TOP = 22  # rad/s
    W_SPRINT = 23
    CRITICAL = 24  # W
    RESERVE = 25  # J
    PEAK = 26  # W
    REACTION = 27  # s
    RIPPLE = 28  # share: torque in the turn is mean*(1 + ripple*cos 2(theta - pi/2))
    TIRES = 29  # 1: the reserve limits the legs
    R_WIND_NOW = 30  # ohm: winding part of Param.R_SOURCE
    V_BACK_FEED = 31  # V: step-down board's body diode; inf: no way back


class Out(enum.IntEnum):
    """Constants of what hangs on the output."""

    HAS_BATTERY = 0
    V_REST = 1  # V of the rested battery at the start
    R_STORE = 2  # ohm of cells and wire: what answers at once
    R_BATTERY_WIRE = 3
    CAPACITY = 4  # C
    SOC = 5
    V_FULL = 6  # V, charging volts
    TAIL = 7  # s
    FIELD = 8  # W
    LOAD_A = 9
    LOAD_G = 10
    LOAD_P = 11  # W drawn at the output (its own board's loss included)
    LOAD_WATTS = 12  # W that reach the appliance while LOAD_P is drawn (0: compute from a, g, p)
    QUIT = 13  # V
    U_MAX = 14  # V that may kill it
    SURGE = 15  # start amps over running amps
    T_SURGE = 16  # s
    T_RETRY = 17  # s
    MOTOR = 18  # 0 none, 1 series, 2 permanent magnet
    MOTOR_K = 19
    MOTOR_R = 20
    MOTOR_L = 21
    MOTOR_SAT = 22  # A
    MOTOR_J = 23
    MOTOR_TC = 24
    MOTOR_FAN = 25
    MOTOR_TOOL = 26  # N*m at work share 1
    MOTOR_ON = 27  # where: 0 on the rig's board, 1 on a board of its own, 2 straight on the output
    OWN_SET = 28  # V of its own board
    OWN_AMPS = 29  # A
    OWN_IN = 30  # A
    OWN_L0 = 31
    OWN_L1 = 32
    OWN_L2 = 33
    ETA_FILL = 34  # charge stored per charge put in
    MOTOR_BRUSH = 35  # V
    RISE = 36  # V and
    RISE_SLOPE = 37  # ohm: the line by which a charge lifts the volts within a minute or so
    RISE_AMPS = 38  # A, from which on the line holds
    SAG = 39  # V and
    SAG_AMPS = 40  # A: on load they sink by sag*asinh(amps/sag_amps), as slowly
    TIRING = 41  # share by which an empty battery sinks more than a full one
    R_LOAD_WIRE = 42  # ohm on the way to a load that follows the volts
    ETA_TAIL = 43  # the same as ETA_FILL at the end of a charge
    V_GAS = 44  # V for each e-fold of gassing, and
    I_GAS = 45  # A of it at the charging volts
    V_HIGH = 46  # V at which a pack's protection opens on charge (0: it has none), and
    V_HIGH_BACK = 47  # V below which it lets charge in again
    V_LOW = 48  # the same on load
    V_LOW_BACK = 49
    I_OPEN = 50  # A either way
    RESTART = 51  # V at which a board of the load's own tries again (0: where it quits)


class Act(enum.IntEnum):
    """What a script may do."""

    ON = 0
    OFF = 1
    UNPLUG = 2
    PLUG = 3
    UNHOOK = 4
    HOOK = 5
    SHIFT = 6
    EFFORT = 7
    CADENCE = 8
    POWER = 9
    STOP = 10
    PEDAL = 11
    WORK = 12
    LEAVE = 13
    JOIN = 14
    DIODE_SHORT = 15
    DIODE_OPEN = 16
    DIODE_GOOD = 17
    CLAMP_OFF = 18
    CLAMP_ON = 19
    DIODE_BACK = 20


class Event(enum.IntEnum):
    """What the rig may do by itself."""

    FREEWHEEL_OPENS = 0
    FREEWHEEL_TAKES = 1
    DIODE_CONDUCTS = 2
    DIODE_BLOCKS = 3
    SLEEPS = 4
    WAKES = 5
    LIMITED = 6
    UNLIMITED = 7
    PASSES = 8
    HOLDS_AGAIN = 9
    DROPS_OUT = 10
    CLAMP_STARTS = 11
    CLAMP_ENDS = 12
    LOAD_QUITS = 13
    LOAD_RESTARTS = 14
    FUSE_OPENS = 15
    STALLS = 16
    MOVES_AGAIN = 17
    RESERVE_EMPTY = 18
    OVER_VOLTS = 19
    OVER_LOAD_VOLTS = 20
    FULL_VOLTS = 21
    BATTERY_DRIVES = 22
    SCRIPT = 23
    BATTERY_FULL = 24
    BATTERY_EMPTY = 25
    PROTECTS_FULL = 26
    PROTECTS_EMPTY = 27
    PROTECTS_AMPS = 28
    PROTECTION_CLOSES = 29


class Chan(enum.IntEnum):
    """Channels of one rig, written at every sample; a block of them for each rig on the bus."""

    W_CRANK = 0
    W_SHAFT = 1
    AMPS = 2
    V_BUS = 3
    AMPS_OUT = 4
    P_RIDER = 5
    T_CRANK = 6
    RESERVE = 7
    WINDING = 8
    MAGNET = 9
    P_CLAMP = 10
    LABEL = 11


class Shared(enum.IntEnum):
    """Channels of what all rigs feed, after the blocks of the rigs."""

    V_OUT = 0
    AMPS_BATTERY = 1
    P_LOAD = 2
    CHARGE = 3
    TOOL_AMPS = 4
    TOOL_SPEED = 5
    SERVED = 6
    P_BATTERY = 7  # at its posts
    V_BATTERY = 8  # at its posts


class Sum(enum.IntEnum):
    """Lines of the energy ledger (J)."""

    RIDER = 0
    DRIVE = 1
    FRICTION = 2
    COPPER = 3
    DROPS = 4
    WIRE = 5
    BLEEDER = 6
    CLAMP = 7
    BOARD = 8
    LEAD = 9
    BATTERY_WIRE = 10
    BATTERY = 11
    LOAD = 12
    CLUTCH = 13
    LEGS = 14  # what the legs' own stopping takes out
    FIELD = 15
    SWITCHED = 16  # lost at a switching: arc of a coil, a capacitor joined
    GAS = 17  # into the battery, and lost there: charge that makes gas and heat
    COUNT = 18
