"""The words for every refusal and every way out. Nothing else words them."""

from __future__ import annotations

import re
from typing import Any

from planner.errors import Refusal, WayOut

REFUSALS = {
    "bevel-past-spine": (
        "the bevel of face {face} is {bevel_height_mm:.2f} mm high, "
        "the blade only {width_mm:.2f} mm wide"
    ),
    "lands-overlap": (
        "the lands of face {face}, {edge_land_mm:.2f} and {shoulder_land_mm:.2f} mm, overlap by "
        "{overlap_mm:.2f} mm: the bevel face is {face_width_mm:.2f} mm wide"
    ),
    "path-needs-cross": (
        "the edge follows a {path}, and to follow it the wheel must go across too: the machine has "
        "no powered cross"
    ),
    "row-on-path": (
        "the edge follows a {path}, and the wheel follows one blade from its own zero; the fixture "
        "holds a row of blades"
    ),
    "platen-on-path": (
        "the axes follow a {path}: a platen is flat along the edge too, and wheel {wheel} is one"
    ),
    "flat-leans-on-path": (
        "wheel {wheel} keeps the direction of its axis: {x_mm:.2f} mm from the heel, where the "
        "{path} is turned {heading_deg:.1f} deg, the flat that it leaves on face {face} leans "
        "{lean_deg:.3f} deg and comes out {off_mm:.4f} mm off; {allowed_mm:.4f} mm are allowed for "
        "the {operation}"
    ),
    "lines-over-path": (
        "wheel {wheel} keeps the direction of its axis: {x_mm:.2f} mm from the heel, where the "
        "{path} is turned {heading_deg:.1f} deg, what its lines leave on face {face} is too flat "
        "for the arc of {arc_mm:.2f} mm radius, or the wheel does not fit the edge"
    ),
    "path-too-far-round": (
        "the run-off of the {path} ends {end_deg:.1f} deg round from its middle: the straight axes "
        "follow an arc up to {most_deg:.0f} deg"
    ),
    "wheel-over-path": (
        "wheel {wheel} does not fit the edge {x_mm:.2f} mm from the heel: the {path} bends round "
        "it there"
    ),
    "contact-off-rim": (
        "wheel {wheel} keeps the direction of its axis, and {x_mm:.2f} mm from the heel, turned "
        "{heading_deg:.1f} deg, it touches so far aside that its rim would have to be "
        "{needed_mm:.2f} mm wide; it is {width_mm:.2f} mm"
    ),
    "rim-digs-on-path": (
        "the flat rim of wheel {wheel}, {width_mm:.1f} mm wide, keeps the direction of its axis: "
        "{x_mm:.2f} mm from the heel, where the {path} is turned {heading_deg:.1f} deg, its corner "
        "digs {dig_mm:.4f} mm deeper than its middle; {allowed_mm:.4f} mm are allowed"
    ),
    "rim-digs-in-hollow": (
        "{x_mm:.2f} mm from the heel the {path} is hollow and bends up to the wheel with a radius "
        "of {bend_mm:.1f} mm on face {face}: the corners of the flat rim of wheel {wheel}, "
        "{width_mm:.1f} mm wide, dig {dig_mm:.4f} mm deeper than its middle there; "
        "{allowed_mm:.4f} mm are allowed"
    ),
    "no-room-to-lift": (
        "lifted {lift_mm:.2f} mm off one place of the inside of the {path}, as in its air run, "
        "wheel {wheel} would be {meets_mm:.2f} mm deep in another"
    ),
    "path-lands": (
        "wheel {wheel} keeps the direction of its axis and leaves a radius of {radius_mm:.2f} mm "
        "instead of {square_radius_mm:.2f} mm on face {face} {x_mm:.2f} mm from the heel, where "
        "the {path} is turned {heading_deg:.1f} deg: each land is off by {error_mm:+.3f} mm there, "
        "and {land_tolerance_mm:.3f} mm are allowed"
    ),
    "steps-too-coarse-for-path": (
        "whole steps of the axes put the depth of face {face} off by up to {rounding_mm:.4f} mm "
        "along the {path}: {allowed_mm:.4f} mm are allowed, and twice as much must leave a step of "
        "the finish infeed of {finish_mm:.4f} mm"
    ),
    "steps-too-coarse-for-lands": (
        "whole steps of the axes move the relief of face {face} by up to {beside_mm:.4f} mm along "
        "the face, from one place of the {path} to the next: {allowed_mm:.4f} mm are allowed, a "
        "tenth of the land tolerance"
    ),
    "row-on-turn": "a {path} is turned about its own axis; the fixture holds a row of blades",
    "thicker-than-arc": "the blade is thicker than the radius of its {path}",
    "flat-inside-comes-through": (
        "a flat inside comes through the outside of the gouge {through_deg:.1f} deg from the "
        "middle of its sweep, which goes to {half_deg:.1f} deg"
    ),
    "flat-inside-too-thin": (
        "a flat inside leaves a wall of {least_mm:.3f} mm at the ends of the sweep, "
        "{middle_mm:.3f} mm in its middle: under the relief {left_mm:.3f} mm of steel would be "
        "left, and {allowed_mm:.3f} mm is the least allowed"
    ),
    "flat-inside-takes-land": (
        "a flat inside leaves a wall of {least_mm:.3f} mm at the ends of the sweep, "
        "{middle_mm:.3f} mm in its middle, and takes {lost_mm:.3f} mm from the edge land there; "
        "the land tolerance is {land_tolerance_mm:.3f} mm"
    ),
    "bend-dishes-enough": (
        "the bend after the grind alone dishes face {face} by {dish_mm:.4f} mm, and "
        "{depth_mm:.4f} mm are asked for: there is nothing to grind"
    ),
    "bend-crowns-hollow": (
        "the bend after the grind crowns face {face} by {crown_mm:.4f} mm in the middle of its "
        "relief, which is {depth_mm:.4f} mm deep: nothing of the hollow would be left"
    ),
    "wheel-over-inside": (
        "wheel {wheel} of {diameter_mm:.1f} mm does not fit into the inside of the {path}, whose "
        "radius is {inside_mm:.2f} mm"
    ),
    "platen-inside-arc": (
        "the platen of {wheel} is flat along the edge and would dig its ends into the inside of "
        "the {path} (radius {inside_mm:.2f} mm)"
    ),
    "corners-dig": (
        "the corners of wheel {wheel}, {width_mm:.1f} mm wide, would dig {dig_mm:.4f} mm deeper "
        "than its middle on the inside of the {path} (radius {inside_mm:.2f} mm); "
        "{allowed_mm:.4f} mm are allowed"
    ),
    "spindle-meets-arc": (
        "the spindle of wheel {wheel} lies along the edge and would meet the blade "
        "{free_deg:.0f} deg from the contact; the {path} goes {angle_deg:.0f} deg round"
    ),
    "no-land-on-bulge": (
        "the relief of the convex face {face} leaves an edge land of {edge_land_mm:.2f} mm and a "
        "shoulder land of {shoulder_land_mm:.2f} mm: on a face that bulges both are needed"
    ),
    "wheel-too-small": (
        "a wheel of {diameter_mm:.1f} mm cannot make a relief {chord_mm:.2f} mm wide on face {face}"
    ),
    "wheel-too-large": (
        "the wheel is too large for the depth on face {face}: at {depth_mm:.4f} mm a wheel of "
        "{diameter_mm:.1f} mm opens {chord_mm:.2f} mm, and beside the land given there are "
        "{room_mm:.2f} mm; the largest wheel that fits is {largest_diameter_mm:.2f} mm"
    ),
    "no-room-for-depth": (
        "no wheel makes a relief {depth_mm:.4f} mm deep in the {room_mm:.2f} mm that face {face} "
        "has beside the land given"
    ),
    "reliefs-meet": (
        "the reliefs of the two faces meet: the web would be {steel_left_mm:.3f} mm at "
        "{at_mm:.2f} mm from the edge (wheel {diameter_mm:.1f} mm)"
    ),
    "breaks-through": (
        "the relief breaks through the blade: the web would be {steel_left_mm:.3f} mm at "
        "{at_mm:.2f} mm from the edge (wheel {diameter_mm:.1f} mm)"
    ),
    "too-little-steel": (
        "only {steel_left_mm:.3f} mm of steel would be left at {at_mm:.2f} mm from the edge; "
        "the least allowed is {least_mm:.3f} mm (wheel {diameter_mm:.1f} mm)"
    ),
    "edge-angle-too-small": (
        "the hollow runs out at the edge and leaves {edge_angle_deg:.1f} deg there instead of "
        "{flat_angle_deg:.1f} deg; the least allowed is {least_deg:.1f} deg "
        "(wheel {diameter_mm:.1f} mm)"
    ),
    "over-marked-speed": (
        "wheel {wheel} would turn at {speed_rpm:.0f} rpm ({surface_speed_m_s:.1f} m/s); its mark "
        "allows {marked_rpm:.0f} rpm"
    ),
    "travel-too-short": (
        "axis {axis} ({role}) must go from {needs_from:.3f} to {needs_to:.3f} {unit}; its travel "
        "is {has_from:.3f} to {has_to:.3f} {unit}"
    ),
    "travel-span-too-short": (
        "axis {axis} ({role}) must move {needs:.3f} {unit} in all, wherever its zero stands; its "
        "whole travel is {has:.3f} {unit}"
    ),
    "lands-out-of-place": (
        "with the settings that exist the lands of face {face} come out {edge_land_mm:.3f} and "
        "{shoulder_land_mm:.3f} mm instead of {asked_edge_land_mm:.3f} and "
        "{asked_shoulder_land_mm:.3f} mm; {land_tolerance_mm:.3f} mm either way is allowed, and "
        "no end of the face ground away. The wheel bares {place_mm:.3f} mm from the edge, "
        "{asked_place_mm:.3f} mm would be right; at a tilt of {tilt_deg:.3f} deg instead of "
        "{asked_tilt_deg:.3f} deg it drifts {drift_mm:.3f} mm on the way down"
    ),
    "lands-short-and-aside": (
        "the settings that exist put the {land} land of face {face} {aside_mm:.3f} mm too wide, "
        "and whole steps and the deflection left, {shortfall_mm:.4f} mm short of the "
        "{depth_mm:.4f} mm, another {wider_mm:.3f} mm: {land_tolerance_mm:.3f} mm are allowed"
    ),
    "tilt-out-of-reach": (
        "the bevel needs a tilt of {wanted_deg:.2f} deg; the nearest this machine has is "
        "{has_deg:.2f} deg"
    ),
    "wheel-meets-jaws": (
        "the wheel of {diameter_mm:.1f} mm would run {overlap_mm:.2f} mm into the jaws, which "
        "begin {from_edge_mm:.1f} mm from the edge and stand {above_flank_mm:.1f} mm proud"
    ),
    "row-too-close": (
        "stations {station:.0f} and {next_station:.0f} of the row stand {apart_mm:.2f} mm apart; "
        "with an edge of {edge_length_mm:.2f} mm that leaves {gap_mm:.2f} mm between two blades, "
        "and the wheel takes {reach_mm:.2f} mm for itself and a run-off of {run_off_mm:.2f} mm"
    ),
    "tool-meets-obstacle": (
        "the {part} would run {overlap_mm:.2f} mm into the {obstacle}, on a {move} at traverse "
        "{traverse_mm:.2f}, cross {cross_mm:.2f}, infeed {infeed_mm:.3f} mm"
    ),
    "step-over-depth": (
        "the relief is {depth_mm:.4f} mm deep; one step of the infeed axis is {step_mm:.4f} mm"
    ),
    "step-over-infeed": (
        "one step of the infeed axis, {step_mm:.4f} mm, is more than the {kind} infeed "
        "of {infeed_mm:.4f} mm; the step is the least that its resolution and the decimals of the "
        "controller both have"
    ),
    "no-pass-light-enough": (
        "no passes within {force_limit_n:.1f} N and {power_limit_w:.0f} W get deeper than "
        "{reached_mm:.4f} of {depth_mm:.4f} mm, in steps of {step_mm:.4f} mm, at any feed"
    ),
    "clamp-over-relief": (
        "the clamp, {overhang_mm:.2f} mm from the edge, covers the relief of face {face}, which "
        "ends at {relief_end_mm:.2f} mm"
    ),
    "overhang-under-thickness": (
        "the blade stands out {overhang_mm:.2f} mm from its clamp and is {thickness_mm:.2f} mm "
        "thick there: a stub bends in no way that a plate can tell"
    ),
    "edge-too-short": (
        "an edge of {edge_length_mm:.2f} mm that stands {overhang_mm:.2f} mm out of its clamp is a "
        "post: how it bends is not known here"
    ),
    "limit-at-ambient": (
        "the edge may not pass {soak_c:.0f} deg C and the shop has {ambient_c:.0f} deg C: that "
        "leaves no room for grinding"
    ),
    "wears-too-fast": (
        "wheel {wheel} loses {worn_mm:.4f} mm of radius within one blade; made up for in steps of "
        "{step_mm:.4f} mm that comes to {share:.0%} of what is allowed ({limit})"
    ),
    "wears-step-a-pass": (
        "wheel {wheel} loses {worn_mm:.4f} mm of radius in one pass at the lightest, more than the "
        "step of {step_mm:.4f} mm that makes up for it"
    ),
    "new-wheel-too-heavy": (
        "a new wheel for pass {from_pass:.0f} of set-up {setup} also takes what the worn one stood "
        "back, {stood_back_mm:.4f} mm, and that is more than is allowed ({limit})"
    ),
    "uneven-along-path": (
        "whole steps of the axes may put a block along the edge {uneven_mm:.4f} mm deeper than its "
        "pass, which then comes to {share:.0%} of what is allowed ({limit})"
    ),
    "rounded-too-far": (
        "the steps of the infeed axis, {step_mm:.4f} mm, are no multiples of the last decimal that "
        "the controller reads, {decimal_mm:.4f} mm; so rounded, a pass comes to {share:.0%} of "
        "what is allowed ({limit})"
    ),
    "wheel-used-up": (
        "at a G ratio of {g_ratio:g} wheel {wheel} falls below {least_mm:.1f} mm within the "
        "{quantity:.0f} blades of the job"
    ),
    "spark-out-endless": (
        "after {passes:.0f} passes {deflection_mm:.4f} mm of deflection is still left; "
        "{allowed_mm:.4f} mm is allowed (stiffness {stiffness_n_mm:.0f} N/mm)"
    ),
    "threshold-leaves-too-much": (
        "the wheel stops cutting below {threshold_n:.1f} N, which at {stiffness_n_mm:.0f} N/mm "
        "leaves {left_mm:.4f} mm that no spark-out takes; {allowed_mm:.4f} mm is allowed"
    ),
    "too-hot": (
        "set-up {setup}, wheel {wheel}: no pass is cool enough: with {heat_share:.0%} of the "
        "heat going into a blade of {ambient_c:.0f} deg C, the edge would pass its limits "
        "of {soak_c:.0f} deg C (built up) or {flash_c:.0f} deg C (under the wheel) "
        "at every infeed and feed this machine has"
    ),
    "lines-need-cross": (
        "wheel {wheel} can generate the relief in lines only on a machine with a powered cross axis"
    ),
    "bulge-needs-cross": (
        "wheel {wheel} leaves an arc, and makes a bevel that bulges in lines side by side: that "
        "needs a powered cross axis"
    ),
    "facets-too-coarse": (
        "face {face} bulges with a radius of {radius_mm:.2f} mm: ridges of at most "
        "{ridge_mm:.4f} mm want flats turned by at most {turn_deg:.3f} deg from one to the next, "
        "and no {most} of them at tilts that this machine can hold do"
    ),
    "sweep-too-rough": (
        "the tilt is swept from one touch-off, and the depth of facet {facet} of face {face}, at "
        "{tilt_deg:.3f} deg, strays by {sd_mm:.4f} mm (one sigma: {touch_mm:.4f} of touch-off and "
        "infeed, {tilt_mm:.4f} of the tilt, {axis_mm:.4f} of the place of its axis): "
        "{share:.1%} of the blades have it within {tolerance_mm:.4f} mm, and {asked:.1%} are asked "
        "for"
    ),
    "sweep-step-too-coarse": (
        "the infeed goes in steps of {step_mm:.4f} mm, and {off_mm:.4f} mm off its tangent facet "
        "{facet} of face {face} does not come down to what the facet before it leaves"
    ),
    "facet-stands-high": (
        "facet {facet} of face {face} is left up to {high_mm:.4f} mm over its tangent ("
        "{off_mm:.4f} by whole steps of the infeed, {spring_mm:.4f} by the spring, {lag_mm:.4f} "
        "by wear short of a step), and {tolerance_mm:.4f} mm may stand"
    ),
    "sweep-leaves-flat": (
        "no axis moves the cross, and with the tilt swept to {tilt_deg:.3f} deg the middle of "
        "wheel {wheel} stands {beside_mm:.2f} mm beside facet {facet} of face {face}: a flat of "
        "{needed_mm:.2f} mm would cover it, this one is {flat_mm:.2f} mm"
    ),
    "wheel-over-arc": (
        "the arc through both lands at the depth has a radius of {arc_mm:.2f} mm, and wheel "
        "{wheel} of {radius_mm:.2f} mm cannot generate it"
    ),
    "arcs-differ": (
        "bevels of {angle_a_deg:.2f} and {angle_b_deg:.2f} deg have faces of different shape: "
        "the same lands and depth ask for two different arcs"
    ),
    "no-hollow-in-bulge": (
        "between its lands face {face} stands {bulge_mm:.4f} mm out: a relief {depth_mm:.4f} mm "
        "deep there is no hollow"
    ),
    "deeper-than-wide": (
        "a relief {depth_mm:.3f} mm deep between lands {chord_mm:.3f} mm apart is more than half a "
        "circle"
    ),
    "flat-for-relief": (
        "wheel {wheel} is flat in the section (contact {contact}), and a relief is an arc"
    ),
    "round-for-flat": "wheel {wheel} leaves an arc, and the operation {operation} grinds a flat",
    "lines-beside-flat": (
        "wheel {wheel} leaves an arc: it makes the bevel that bulges in lines, and the flat one of "
        "face {face} not at all, and one wheel grinds both"
    ),
    "turn-off-zero": (
        "the nearest setting of the turn is {has_deg:.3f} deg, and a straight edge stands at 0 deg"
    ),
    "tilt-off-for-flat": (
        "face {face} is held at {has_deg:.3f} deg and lies at {wanted_deg:.3f} deg: a flat wheel "
        "would stand off by {off_mm:.4f} mm at the end of the face, and {allowed_mm:.4f} mm are "
        "allowed"
    ),
    "flat-too-narrow": (
        "wheel {wheel} grinds {flat_mm:.2f} mm flat, and face {face} with its setting needs "
        "{needed_mm:.2f} mm"
    ),
    "form-too-narrow": (
        "wheel {wheel}, {width_mm:.2f} mm wide, makes an arc of at most {widest_mm:.2f} mm, and "
        "face {face} takes {chord_mm:.2f} mm of it"
    ),
    "allowance-too-large": (
        "with {allowance_mm:.4f} mm left for the lands, the relief of face {face} is so wide that "
        "its lands would be {edge_land_mm:.3f} and {shoulder_land_mm:.3f} mm"
    ),
    "scatter-of-form": "no blades can be drawn of the faces of this section, {form}",
    "cannot-hold-edge": (
        "about {share:.0%} of the blades would have their edge thickness within {tolerance_mm:.3f} "
        "mm (one sigma is {sd_mm:.4f} mm), and the job asks for {least_share:.0%}"
    ),
    "nothing-is-ground": (
        "the passes would leave face {face} as it is: of the {depth_mm:.4f} mm of relief they "
        "reach {reached_mm:.4f} mm, the rest is spring and whole steps"
    ),
    "lands-fall-short": (
        "whole steps and the deflection left end {shortfall_mm:.4f} mm short of the "
        "{depth_mm:.4f} mm on face {face}: with a wheel of {diameter_mm:.1f} mm the lands come out "
        "{wider_mm:.3f} mm too wide, and {land_tolerance_mm:.3f} mm are allowed"
    ),
    "lands-left-standing": (
        "whole steps and the deflection left leave the lands of face {face} {left_mm:.4f} mm too "
        "high: they come out {narrower_mm:.3f} mm too narrow beside a deeper relief, and "
        "{land_tolerance_mm:.3f} mm are allowed"
    ),
    "cannot-hold-lands": (
        "this machine cannot hold these lands: about {share:.0%} of the blades would be in "
        "tolerance, and the job asks for {least_share:.0%}. The wheel of {diameter_mm:.1f} mm "
        "moves each land {land_change_per_depth:.1f} mm for every mm of depth, so "
        "{land_tolerance_mm:g} mm of land is {depth_tolerance_mm:.2g} mm of depth; the lands "
        "would spread by {land_sd_mm:.3f} mm (one sigma), mostly from {dominant}"
    ),
}

WAYS_OUT = {
    "wider-blade": "a blade at least {width_mm:.2f} mm wide",
    "narrower-lands": "lands that add up to less than {room_mm:.2f} mm",
    "turn-axis": "a machine with an axis of role turn",
    "relief-alone": "the relief alone and in one piece: operations and relief.scallop left out",
    "cross-axis": "a machine with a powered cross axis",
    "flat-across": "a flat wheel across the edge (contact: across_edge)",
    "edge-tolerance-for-lean": "an edge_thickness_tolerance of {tolerance_mm:.2f} mm",
    "shorter-edge": "a shorter edge, or one that is turned less",
    "smaller-wheel-follows": "a smaller wheel",
    "less-clearance": "a smaller clearance, or a smaller wheel",
    "wider-rim": "a wider wheel",
    "form-across": "a wheel across the edge with a form radius, whose contact may wander",
    "rim-as-wheel": "a form radius of {radius_mm:g} mm, as large as the wheel's own: such a rim "
    "leaves the same radius however it is turned",
    "crown-as-wheel": "a rim crowned to {radius_mm:g} mm (crown_radius), as large as the wheel's "
    "own: such a rim leaves the same radius however it is turned",
    "gentler-hollow": "an edge that is hollow to a larger radius there",
    "shorter-arc": "an arc of at most {angle_deg:.0f} deg",
    "finer-axes": "axes with finer steps, or more controller.decimals if they lack",
    "larger-arc": "an arc of a larger radius, or thinner stock",
    "wheel-across": "a small wheel across the edge (contact: across_edge), its axis along that of "
    "the arc",
    "narrower-rim": "a wheel of at most {width_mm:.2f} mm width",
    "crowned-rim": "a rim crowned to a radius of at most {radius_mm:.2f} mm (crown_radius)",
    "larger-wheel-inside": "a wheel over {diameter_mm:.1f} mm, whose spindle clears the blade",
    "leave-both-lands": "leave a land at the edge and one at the shoulder",
    "narrower-land": "a narrower land",
    "larger-wheel": "a wheel over {diameter_mm:.2f} mm, its belt included",
    "larger-form": "a form radius over {radius_mm:.2f} mm",
    "smaller-form": "a form radius of at most {radius_mm:.2f} mm",
    "smaller-wheel": "a wheel of at most {diameter_mm:.2f} mm, its belt included",
    "less-depth": "less depth",
    "more-depth": "a depth of {depth_mm:.3f} mm or more",
    "less-depth-of": "a depth of at most {depth_mm:.4f} mm with this wheel",
    "larger-wheel-flatter": "a larger wheel, which makes a shallower relief",
    "wider-lands": "wider lands",
    "thicker-stock": "thicker stock",
    "leave-edge-land": "an edge land, so that the flat bevel reaches the edge",
    "slower-spindle": "a spindle speed of at most {speed_rpm:.0f} rpm",
    "slower-belt": "a belt speed of at most {speed_m_s:.1f} m/s",
    "move-fixture": "moving the fixture along {axis}, or a shorter run-off or clearance",
    "move-cross": "moving the fixture along the cross axis",
    "longer-cross": "a cross axis with more travel",
    "powered-tilt": "a tilt axis with more travel",
    "less-way": "an axis with more travel, or a shorter run-off or clearance",
    "wedge": "a wedge or stop of {wanted_deg:.3f} deg",
    "shim": (
        "a shim of {shim_mm:.3f} mm under one end of each {base_mm:.0f} mm of base, which brings "
        "the setting of {has_deg:.3f} deg to {wanted_deg:.3f} deg"
    ),
    "turned-wedge": (
        "the wedge of {has_deg:.3f} deg turned round, and {wanted_deg:.3f} deg listed with it in "
        "fixture.hand_tilt.settings"
    ),
    "cross-setting": (
        "a stop or mark of the cross at {place_mm:.3f} mm from the edge for face {face}"
    ),
    "lower-jaws": "lower jaws, or jaws further from the edge",
    "smaller-wheel-clears": "a smaller wheel",
    "smaller-part": "a smaller {part}, or one that stands further from the blade",
    "move-obstacle": "moving the {obstacle} out of the way of every move, or a smaller one",
    "less-run-off": "a run-off shorter than {run_off_mm:g} mm",
    "smaller-wheel-deepens": "a smaller wheel, which makes a deeper relief",
    "finer-axis": "an infeed axis with a finer step, or more controller.decimals if they lack",
    "more-decimals": "more controller.decimals, or units that the axis steps in",
    "freer-wheel": "a freer-cutting wheel (less specific energy)",
    "longer-overhang": "clamping the blade nearer to its spine",
    "no-overhang": "leaving fixture.overhang out, which takes so short a blade as rigid",
    "shorter-overhang": "clamping the blade nearer to its edge",
    "smaller-margin": "a smaller limits.temper_margin, if the tempering temperature is well known",
    "cooler-shop": "a lower ambient temperature",
    "flat-for-bulge": "a flat wheel or a platen, which makes it in facets",
    "higher-ridge": "a ridge of {ridge_mm:.3f} mm or more",
    "measure-tilt-axis": (
        "finding the tilt's axis to {error_mm:.4f} mm or better (fixture.tilt_axis.error)"
    ),
    "no-tilt-axis": (
        "leaving fixture.tilt_axis out: each facet is then a set-up with its own touch-off"
    ),
    "finer-tilt": "a tilt that repeats better, or an axis nearer to the edge",
    "higher-ridge-alone": "a higher ridge",
    "lines-for-bulge": (
        "a round wheel on a machine with a powered cross axis, which makes it in lines at one tilt"
    ),
    "no-scallop": "leaving relief.scallop out, with a wheel of the arc's own radius",
    "one-face": "one face a job, or equal bevels",
    "turn-stop": "a stop of the turn at 0 deg",
    "round-wheel": "a wheel with contact along_edge, or across_edge with a form_radius",
    "flat-wheel": "a wheel with contact across_edge and no form_radius, or a platen",
    "wider-flat": "a flat of {width_mm:.2f} mm or more",
    "wider-form": "a wider wheel",
    "less-allowance": "a smaller allowance for the lands",
    "wider-edge-tolerance": "a wider edge_thickness_tolerance",
    "harder-wheel": "a wheel with a higher G ratio",
    "wider-wheel": "a wider or larger wheel, which wears less",
    "from-other-pass": "going on from pass {passes}",
    "same-wheel": "going on with the worn wheel, its zero untouched",
    "fewer-blades": "fewer blades a wheel",
    "more-coolant": "more coolant",
    "deeper-than-dish": "a depth of more than {depth_mm:.4f} mm",
    "ground-after-bend": (
        "grinding after the bend, without relief.before_bend, or making up for less of it"
    ),
    "matched-inside": "inside: matched, which leaves an even wall",
    "narrower-sweep": "a sweep of at most {angle_deg:.0f} deg",
    "narrower-sweep-any": "a narrower sweep, or a thicker wall",
    "wider-edge-land": "a wider edge land, where the steel is thicker",
    "larger-infeed": "a larger infeed limit",
    "wider-tolerance-any": "a wider land tolerance, or a larger residual share",
    "stiffer-machine": "a stiffer machine or fixture",
    "smaller-wheel-holds": (
        "a wheel of {diameter_mm:.0f} mm, its belt included, for the same lands"
    ),
    "smaller-form-holds": "a form radius of {radius_mm:g} mm, for the same lands",
    "wider-tolerance": "a land tolerance of {land_tolerance_mm:.2f} mm or more",
    "stations-apart": "stations at least {apart_mm:.2f} mm apart",
    "shorter-run-off": "a run-off of at most {run_off_mm:.2f} mm",
    "narrower-wheel": "a wheel that touches at most {reach_mm:.2f} mm along the edge",
    "one-blade-a-clamping": (
        "one blade a clamping (--skip the other stations), so that each is touched off itself"
    ),
    "touch-off-each-blade": "touching off each blade instead of one in the batch",
    "better-cause": "a better {cause}: without that error {share:.0%} would be in tolerance",
    "less-residual": (
        "more spark-out: relief.residual_share under the {residual_share:.2f} of this job"
    ),
    "finish-by-hand": "grinding short of the depth and finishing the lands by hand on the stone",
}


FLAT_MM = 9e4
"""A section radius that is told as none."""

_NO_DRIFT_MM = 0.0005
"""A drift that its words give as nothing."""

_MINUS_NOTHING = re.compile(r"(?<![\w.])-(?=0(?:\.0+)?(?![\d.]))")


_OF_FORM = (
    ("(wheel {diameter_mm:.1f} mm)", "(form radius {form_radius_mm:.2f} mm)"),
    ("a wheel of {diameter_mm:.1f} mm", "a form of {form_radius_mm:.2f} mm radius"),
    ("The wheel of {diameter_mm:.1f} mm", "The form of {form_radius_mm:.2f} mm radius"),
    (
        "the largest wheel that fits is {largest_diameter_mm:.2f} mm",
        "the largest form radius that fits is {largest_form_radius_mm:.2f} mm",
    ),
)
"""What is said of a circle, and in its place of a form: the radius that it is dressed to."""


def refusal_words(refusal: Refusal) -> str:
    """One refusal as a sentence without its ways out."""
    template = _template(refusal)
    words = _MINUS_NOTHING.sub("", template.format(**refusal.facts))
    wheel = refusal.facts.get("wheel")
    if wheel is not None and "{wheel}" not in template:
        return f"with wheel {wheel}: {words}"
    return words


def _template(refusal: Refusal) -> str:
    """The words of a rule, less what would say nothing with these facts."""
    full, facts = REFUSALS[refusal.rule], refusal.facts
    if "form_radius_mm" in facts:
        for of_circle, of_form in _OF_FORM:
            full = full.replace(of_circle, of_form)
    if refusal.rule == "lands-out-of-place":
        drifts = abs(float(facts["drift_mm"])) >= _NO_DRIFT_MM
        tilted = drifts and facts["tilt_deg"] != facts["asked_tilt_deg"]
        return full if tilted else full.partition("; at a tilt of")[0]
    if refusal.rule == "path-lands" and float(facts["radius_mm"]) >= FLAT_MM:
        return (
            "wheel {wheel} keeps the direction of its axis and leaves no hollow on face {face} "
            "{x_mm:.2f} mm from the heel, where the {path} is turned {heading_deg:.1f} deg: the "
            "width of its rim takes the steel off flat there"
        )
    if refusal.rule == "travel-too-short" and facts["needs_from"] == facts["needs_to"]:
        return full.replace("go from {needs_from:.3f} to", "stand at")
    return full


def way_out_words(way: WayOut) -> str:
    """One way out as a phrase."""
    return WAYS_OUT[way.rule].format(**way.facts)


def refusal_data(refusal: Refusal) -> dict[str, Any]:
    """One refusal as JSON data."""
    return {
        "rule": refusal.rule,
        "facts": dict(refusal.facts),
        "text": refusal_words(refusal),
        "ways_out": [
            {"rule": w.rule, "facts": dict(w.facts), "text": way_out_words(w)}
            for w in refusal.ways_out
        ],
    }
