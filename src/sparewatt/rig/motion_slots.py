"""Where each number of the moving rig stands in the kernel's arrays, as plain integers: rows of constants from their
enumerations, and slots of the states that only the kernel knows. The kernel reads them as `ix.NAME`.
"""

from __future__ import annotations

from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.motion_layout import Act, Chan, Event, Geo, Move, Out, Shared, Sum
from sparewatt.rig.outcome import Mode

(Q_K, Q_R, Q_RSPEED, Q_DROP, Q_TC, Q_B, Q_DIODE, Q_KIND, Q_SLEEP, Q_LOSS, Q_HELD, Q_PHELD, Q_LIMIT, Q_L0, Q_L1, Q_L2,
 Q_A, Q_G, Q_P, Q_QUIT, Q_STORE, Q_REST, Q_SET) = tuple(int(x) for x in Param)  # fmt: skip
(M_IND, M_CAP, M_BLEED, M_VCLAMP, M_RCLAMP, M_WAKE, M_SOFT, M_LEAD, M_FREE, M_ISET, M_RATED, M_BRUSH, M_RCOLD, M_KCOLD,
 M_MAGNET, M_RTHIN, M_RTHOUT, M_CWIND, M_CCASE, M_AIR, M_MSHARE, M_HEATS, M_WTOP, M_WSPRINT, M_CP, M_WORK, M_PEAK,
 M_REACT, M_RIPPLE, M_TIRES, M_RNOW, M_BACKFEED) = tuple(int(x) for x in Move)  # fmt: skip
(G_RATIO, G_GAIN, G_DB, G_SB, G_DA, G_SA, G_JC, G_JS) = tuple(int(x) for x in Geo)
(O_BATTERY, O_VREST, O_RSTORE, O_RBW, O_CAP, O_SOC, O_FULL, O_TAIL, O_FIELD, O_LA, O_LG, O_LP, O_LWATTS, O_QUIT, O_UMAX,
 O_SURGE, O_TSURGE, O_RETRY, O_MOTOR, O_MK, O_MR, O_ML, O_MSAT, O_MJ, O_MTC, O_MFAN, O_MTOOL, O_MON, O_OSET, O_OAMPS,
 O_OIN, O_OL0, O_OL1, O_OL2, O_ETA, O_MBRUSH, O_RISE, O_RSLOPE, O_RAMPS,
 O_SAG, O_SAMPS, O_TIRING, O_RLOAD, O_ETATAIL, O_VGAS, O_IGAS, O_VHIGH, O_VHIGHBACK, O_VLOW, O_VLOWBACK, O_IOPEN,
 O_RESTART) = tuple(int(x) for x in Out)  # fmt: skip
(C_WC, C_WS, C_AMPS, C_VBUS, C_AOUT, C_PRIDER, C_TCRANK, C_RESERVE, C_TW, C_TM, C_PCLAMP, C_LABEL) = tuple(
    int(x) for x in Chan
)
(H_VOUT, H_ABATT, H_PLOAD, H_SOC, H_TAMPS, H_TSPEED, H_SERVED, H_PBATT, H_VBATT) = tuple(
    int(x) for x in Shared
)
(S_RIDER, S_DRIVE, S_FRICTION, S_COPPER, S_DROPS, S_WIRE, S_BLEED, S_CLAMP, S_BOARD, S_LEAD, S_BWIRE, S_BATTERY, S_LOAD,
 S_CLUTCH, S_LEGS, S_FIELD, S_SWITCHED, S_GAS) = tuple(int(x) for x in Sum if x is not Sum.COUNT)  # fmt: skip
NONE, BUCK, BOOST, BOTH = (int(x) for x in Kind)
(ASLEEP, REGULATES, LIMITED, PASSES, DROPS_OUT, DIRECT, CHATTERS, DRIVEN) = tuple(int(x) for x in Mode)

# whole-number states of one rig
(
    D_ENGAGED,
    D_CONDUCTS,
    D_AWAKE,
    D_GEAR,
    D_PEDALS,
    D_HERE,
    D_HOLDS,
    D_DIODE,
    D_LABEL,
    D_CLAMP,
    D_MOVING,
    D_EMPTY,
) = range(12)
N_DU = 12
# slow states of one rig
(U_PUSH1, U_PUSH, U_TRIM, U_WAVG, U_PAVG, U_LEFT, U_TW, U_TC, U_SOFT, U_K, U_R, U_WANT, U_HELD, U_PHELD, U_FUSE, U_POWER,
 U_FULLWAS) = range(17)  # fmt: skip
N_SU = 17
# whole-number states shared by all rigs
(
    I_SWITCH,
    I_RUNS,
    I_HOOKED,
    I_PLUGGED,
    I_FULL,
    I_FUSE_BOARD,
    I_FUSE_BATTERY,
    I_FUSE_LOAD,
    I_CLIP,
    I_GUARD,
    I_ENDS,
) = range(11)
N_GI = 11
# float states shared by all rigs
(F_TON, F_TQUIT, F_WORK, F_OCV, F_ETA, F_SOC, F_A, F_G, F_P, F_DBOARD, F_DBATTERY, F_DLOAD, F_SURGE, F_LONGEST,
 F_OCV0, F_RISE, F_OVER, F_STOOD, F_IWAS, F_YIELD) = range(20)  # fmt: skip
N_GF = 20
N_SUMS = int(Sum.COUNT)
BLEND = 1.002  # a step-down board passes from holding to dropping out over this ratio of volts
STILL = 0.5  # rad/s of a shaft below which its dry friction fades to nothing
CLAMP_BAND = 0.02  # of its volts: the clamp switches so fast that it conducts in proportion over this band
AMPS_BAND = 0.01  # of its amps: how sharply a board's amps screw holds
LEGS_STOP = 0.25  # s in which legs bring the pedals to rest (common practice, no source)
LEAST_VOLTS = 0.3
BODY = 0.02  # ohm of a step-down board's body diode, backwards

(A_ON, A_OFF, A_UNPLUG, A_PLUG, A_UNHOOK, A_HOOK, A_SHIFT, A_EFFORT, A_CADENCE, A_POWER, A_STOP, A_PEDAL, A_WORK,
 A_LEAVE, A_JOIN, A_SHORT, A_OPEN, A_GOOD, A_CLAMPOFF, A_CLAMPON, A_BACK) = tuple(int(x) for x in Act)  # fmt: skip
(E_OPENS, E_TAKES, E_CONDUCTS, E_BLOCKS, E_SLEEPS, E_WAKES, E_LIMITED, E_UNLIMITED, E_PASSES, E_HOLDS, E_DROPS,
 E_CLAMPS, E_CLAMPENDS, E_QUITS, E_RESTARTS, E_FUSE, E_STALLS, E_MOVES, E_EMPTY, E_OVER, E_OVERLOAD, E_FULL,
 E_DRIVES, E_SCRIPT, E_BFULL, E_BEMPTY, E_GFULL, E_GEMPTY, E_GAMPS, E_GCLOSES) = tuple(int(x) for x in Event)  # fmt: skip
GAUGES, COMMON = 8, 3  # of one rig; shared ones follow
N_SHARED = 9  # channels after those of the rigs
# How a pack's protection stands (I_GUARD): closed; open because it is full, and then letting out only; open because it is
# empty, and then letting in only; open because of its amps
CLOSED, FULL_OPEN, GIVES, EMPTY_OPEN, TAKES, AMPS_OPEN = range(6)
# s over its amps until it opens, and until it tries again; s of rest until a full pack lets charge in again (common
# practice, no source)
TRIP, WAIT, REST = 0.2, 30.0, 300.0
TRICKLE = 0.01  # A the wrong way at which it opens again
CLIFF = 0.005  # of its charge: below it the rested volts fall away to nothing
FULL, EMPTIED, REARM = (
    0.99,
    0.01,
    0.02,
)  # of its charge: where it is told as full or empty, and how far back before it is again
STOPPED, STARTED = 0.3, 0.6  # rad/s of the crank: below it stands, above it turns again
TURN_STEP = (
    0.6  # rad of the crank in one step where the push pulses: the work of the legs is summed by threes
)
TABLE_STEP = 0.25  # the same where the push is a table, whose straight lines bend
SHORTEST = 1e-9  # s, of a step that ends where something happens
FILTER_W = 0.25  # s: how smoothly the rider feels cadence
EMPTY = 0.05  # of the reserve: below it hardly more than critical power is left, and the rest is never quite spent
SETTLE = 60.0  # s in which a battery's volts follow its amps, beyond what follows at once (common practice, no source)
RESTART = 1.05  # of the volts at which a load quits: where it tries again when nothing regulates
LEDGER = 2e-4  # of the watts that turn over in a step: what its ledger may leave before it is taken in halves
LEDGER_STEP = 1e-4  # s: shorter steps are not halved for that
OK, BUDGET, STUCK = 0, 1, 2
