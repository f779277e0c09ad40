"""The texts of new sheets."""

from __future__ import annotations

LEG_SERVO = """\
[servo.leg]
about = "Placeholder: put your servo's data here"
invented = true
rated_voltage = "11.1 V"
lowest_voltage = "8.4 V"
highest_voltage = "12.8 V"
stall_torque = "3.0 N*m"
no_load_speed = "6.5 rad/s"
continuous_torque = "1.2 N*m"                   # at 25 degC ambient
stall_current = "2.43 A"
no_load_current = "0.18 A"
idle_current = "0.04 A"
gear_ratio = 250.0
gear_efficiency = 0.78
winding_resistance = "4.64 ohm"
thermal_resistance = "14 K/W"
thermal_time = "420 s"
highest_winding = "110 degC"
mass = "72 g"
backlash = "0.4 deg"
encoder_step = "0.088 deg"
size = ["46 mm", "24 mm", "36 mm"]

[servo.leg.mount]                               # from the horn's axis, along the body and across
shaft = "11 mm"
holes = [["-17 mm", "-8 mm"], ["-17 mm", "8 mm"], ["39 mm", "-8 mm"], ["39 mm", "8 mm"]]
screw = "M3"
horn_circle = "16 mm"
horn_screw = "M2"
horn_bore = "8 mm"
bearing = "10 mm"
pin = "4 mm"
"""

WALKER = """\
# Build sheet of {name}. Quantities are text with a unit: "85 mm", "2.2 N*m", "35 degC".
# x points forward, y to the left, z up; the body frame lies in the middle of the trunk.
# Whatever is left out makes the findings that need it unknown, never a silent pass.

schema = 1
name = "{name}"
about = ""
owner = ""
revision = "A"

# ---- What it must be able to do ---------------------------------------------------------

[requirements]
gaits = {gaits}
speed_forward = "{speed:.3f} m/s"
payload = "0.3 kg"
payload_at = ["0 mm", "0 mm", "45 mm"]
ground_clearance = "40 mm"
stability_margin = "5 mm"
joint_reserve = "3 deg"
friction = 0.6
ambient = "30 degC"
torque_reserve = 1.2
# Also known: speed_sideways, turn_rate, slope, obstacle, reach_reserve, link_clearance,
# probe_push, run_time.

[stance]
body_height = "105 mm"
foot_distance = "125 mm"
cycle = "{cycle:.1f} s"
lift = "25 mm"

# ---- Shape: the URDF is generated from it -------------------------------------------------

[dimensions]
legs = {legs}
{layout}
coxa = "50 mm"
femur = "85 mm"
tibia = "130 mm"                                # to the centre of the foot's ball

[dimensions.zero]                               # where the segments point at servo zero
femur = "0 deg"                                 # level
tibia = "-90 deg"                               # square to the femur, downward

[dimensions.travel]
coxa = {{ lower = "-{coxa_travel} deg", upper = "{coxa_travel} deg" }}
femur = {{ lower = "-60 deg", upper = "85 deg" }}
tibia = {{ lower = "-58 deg", upper = "80 deg" }}

[dimensions.plates]                             # the trunk: two plates
length = "{length} mm"
width = "{width} mm"
gap = "50 mm"
thickness = "3 mm"
density = "1850 kg/m^3"
filled = {filled}                                  # what cut-outs leave; see making.plates
cargo = "0.3 kg"                                # hub, computer, wiring, screws

# A camera mast with pan and tilt; give its joints a servo under [fit].
# [dimensions.mast]
# at = ["60 mm", "0 mm", "28 mm"]
# height = "150 mm"
# camera = "85 g"

[foot]
radius = "9 mm"
friction = 0.8

# ---- Servos -------------------------------------------------------------------------------

{servo}

[fit]                                           # joint, or pattern of joints -> servo
"*_coxa" = "leg"
"*_femur" = "leg"
"*_tibia" = "leg"

# ---- Power --------------------------------------------------------------------------------
# Lithium cells: charge attended, store at half charge, never below cut-off.

[battery]
chemistry = "lithium-polymer"
series = 3
capacity = "5 A*h"
cell_resistance = "6 mohm"
continuous_current = "50 A"
mass = "0.36 kg"

# ---- Making -------------------------------------------------------------------------------

[making]
kerf = "0.2 mm"                                 # of the laser

[making.tolerance]
general = "m"                                   # ISO 2768-1, medium
foot_error = "5 mm"
body_tilt = "1 deg"

[making.plates]                                 # length, width, gap, … are those of dimensions
outline = "{outline}"
standoffs = {standoffs}
upper_windows = {windows}
lower_windows = {windows}
# Once they are drawn as you want them, `legwright parts` prints what the plates weigh, as lines
# for [dimensions.plates]. Cable passages: see robots/rook.

# Also known: [making.bracket], [protection], [hub], [harness], [load.NAME], [lights], [pad],
# [bus], [sensors], [shell.NAME]; docs/sheet.md lists every key.
"""

ADOPTED = """\
# Build sheet around an existing URDF. Quantities are text with a unit: "85 mm", "2.2 N*m".
# Fill in what you know: whatever is left out makes the findings that need it unknown.

schema = 1
name = {name}
urdf = {urdf}
about = ""
owner = ""
revision = "A"

# Body link found: {body}
# {count} legs found, joints from body to foot:
{legs}
# Where that is wrong, name the legs yourself, or say what is none:
# not_legs = ["LINK"]
# [legs.left-front]
# foot = "LINK"

# ---- What it must be able to do ---------------------------------------------------------

[requirements]
# speed_forward = "0.05 m/s"
# turn_rate = "10 deg/s"
# slope = "10 deg"
# payload = "0.5 kg"
# payload_at = ["0 mm", "0 mm", "40 mm"]
# ground_clearance = "40 mm"
# stability_margin = "15 mm"
# friction = 0.6
# ambient = "30 degC"
# torque_reserve = 1.3

[stance]                                        # found by the program where left out
# body_height = "100 mm"
# foot_distance = "120 mm"
# cycle = "1.2 s"
# lift = "30 mm"

[held]                                          # joints of no leg: where they are kept
{held}

# ---- Servos: without them the URDF's effort and velocity limits are taken -----------------

# [servo.leg]
# rated_voltage = "11.1 V"
# stall_torque = "3.0 N*m"
# no_load_speed = "6.5 rad/s"
# continuous_torque = "1.2 N*m"                 # at 25 degC ambient
# stall_current = "2.4 A"
# no_load_current = "0.18 A"
# winding_resistance = "4.6 ohm"
# thermal_resistance = "14 K/W"
# thermal_time = "420 s"
# highest_winding = "110 degC"

[fit]                                           # joint, or pattern of joints -> servo
{fit}

# ---- Power --------------------------------------------------------------------------------
# Lithium cells: charge attended, store at half charge, never below cut-off.

# [battery]
# series = 3
# capacity = "5 A*h"
# mass = "0.36 kg"

# ---- Making -------------------------------------------------------------------------------

# [making.tolerance]
# general = "m"                                 # ISO 2768-1, medium
# foot_error = "5 mm"
# body_tilt = "1 deg"
"""
