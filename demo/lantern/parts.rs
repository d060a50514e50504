//! The lantern itself: every part, from the feet up, with its measures in cm.
//!
//! y is up, the front looks along +z, the foot stands on y = 0 and the handle's grip tops out just under 40. Measures
//! that a planted fault is computed from are constants; the rest stands where it is used.

use std::f64::consts::PI;

use glam::{DVec2, DVec3, dvec3};

use super::solid::{Flat, Frame, Part, bearing, plaque, rectangle, span, toothed};

/// Facets round the large turned parts. A multiple of four, so that seams and silhouettes fall on vertices.
pub const FACETS: usize = 44;
/// Radius of the drum's wall, cm.
pub const DRUM_RADIUS: f64 = 6.2;
/// Height of the drum's wall, cm.
pub const DRUM_WALL: f64 = 6.4;
/// Rows of the chimney's outer wall, all equally high.
pub const CHIMNEY_ROWS: usize = 8;
/// The handle's uprights: thickness, depth and height, cm.
pub const UPRIGHT: (f64, f64, f64) = (0.5, 1.0, 3.6);
/// The cap's cone: radius at its foot and its head, and its rise, cm.
pub const CAP_CONE: (f64, f64, f64) = (6.35, 2.2, 3.8);

/// Where feet, base screws and guard rods stand: name, and bearing in degrees from the front towards +x.
const CORNERS: [(&str, f64); 4] =
    [("front_right", 45.0), ("back_right", 135.0), ("back_left", 225.0), ("front_left", 315.0)];
/// Facets round a guard rod.
const ROD_FACETS: usize = 12;
/// Radius of a guard rod, cm.
const ROD_RADIUS: f64 = 0.2;
/// How far the chimney's middle stands out from its ends, cm.
const CHIMNEY_BULGE: f64 = 0.6;
/// Radius and height of the chimney's lower end, and its height in all, cm.
const CHIMNEY_END: (f64, f64, f64) = (4.45, 12.3, 12.4);
/// Thickness of the glass, cm.
const GLASS: f64 = 0.22;
/// Half the distance between the handle's two ends, cm.
const HANDLE_REACH: f64 = 7.0;

/// All parts, in the order they are written.
pub fn parts() -> Vec<Part> {
    let mut parts = vec![base()];
    for (side, degrees) in CORNERS {
        parts.push(foot(side, degrees));
        parts.push(screw(&format!("base_screw_{side}"), Frame::upright(bearing(degrees) * 7.42 + DVec3::Y * 2.2), 0.3));
    }
    parts.extend([drum(), bead("bead_lower", 4.95), bead("bead_upper", 10.45)]);
    parts.extend(nameplate());
    parts.extend([gallery(), burner(), wick(), wick_shaft(), wick_wheel(), chimney()]);
    for (side, degrees) in CORNERS {
        parts.push(rod(side, degrees));
    }
    parts.extend([hoop(), crown(), vent_ring(), cap(), cowl(), finial()]);
    parts.extend(hinge());
    parts.extend(latch());
    for (side, sign) in [("left", -1.0), ("right", 1.0)] {
        parts.extend(lug(side, sign));
    }
    parts.extend([handle(), grip()]);
    parts
}

fn centred() -> Frame {
    Frame::upright(DVec3::ZERO)
}

/// Seen from the front of the lantern: outlines are in x and y, the front is +z.
fn facing_front(origin: DVec3) -> Frame {
    Frame::new(origin, DVec3::Y, DVec3::Z)
}

/// Outlines are a floor plan (right = +x, up the plan = the back), pushed upward.
fn floor_plan(origin: DVec3) -> Frame {
    Frame::new(origin, DVec3::NEG_Z, DVec3::Y)
}

fn base() -> Part {
    let mut part = Part::new("base", "enamel");
    let cove: Vec<(f64, f64)> = (0..=3)
        .map(|i| PI / 2.0 * f64::from(i) / 3.0)
        .map(|turn| (6.7 - 0.8 * turn.sin(), 4.3 - 1.1 * turn.cos()))
        .collect();
    part.lathe(
        centred(),
        FACETS,
        &[
            span("base_bottom", Flat::Disc, &[(8.0, 0.5), (8.2, 0.7)]),
            span("base_wall", Flat::Strip, &[(8.2, 0.7), (8.2, 2.0)]),
            span("base_step", Flat::Ring, &[(8.2, 2.0), (8.0, 2.2), (7.1, 2.2)]),
            span("base_riser", Flat::Strip, &[(7.1, 2.2), (7.1, 3.0)]),
            span("base_tread", Flat::Ring, &[(7.1, 3.0), (6.9, 3.2), (6.7, 3.2)]),
            span("base_cove", Flat::Strip, &cove),
            span("base_top", Flat::Roof, &[(5.9, 4.3)]),
        ],
    );
    part
}

fn foot(side: &str, degrees: f64) -> Part {
    let mut part = Part::new(&format!("foot_{side}"), "steel");
    part.lathe(
        Frame::upright(bearing(degrees) * 6.4),
        20,
        &[
            span("foot_sole", Flat::Disc, &[(0.8, 0.0), (0.9, 0.1)]),
            span("foot_side", Flat::Strip, &[(0.9, 0.1), (0.9, 0.55)]),
            span("foot_top", Flat::Roof, &[(0.9, 0.55)]),
        ],
    );
    rename(&mut part, "foot", &format!("foot_{side}"));
    part
}

/// A lens-headed screw of that radius, standing on the frame's origin.
fn screw(name: &str, frame: Frame, radius: f64) -> Part {
    let mut part = Part::new(name, "steel");
    let rim = radius * 0.3;
    part.lathe(
        frame,
        12,
        &[
            span("screw_seat", Flat::Floor, &[(radius, -0.04)]),
            span("screw_side", Flat::Strip, &[(radius, -0.04), (radius, rim)]),
            span("screw_head", Flat::Disc, &[(radius, rim), (radius * 0.6, rim + radius * 0.2)]),
        ],
    );
    rename(&mut part, "screw", name);
    part
}

fn rename(part: &mut Part, from: &str, to: &str) {
    for shell in &mut part.shells {
        if let Some(rest) = shell.name.strip_prefix(from).filter(|rest| rest.starts_with('_')) {
            shell.name = format!("{to}{rest}");
        }
    }
}

fn drum() -> Part {
    let mut part = Part::new("drum", "brass");
    let wall: Vec<(f64, f64)> = (0..=2).map(|i| (DRUM_RADIUS, 4.5 + DRUM_WALL * f64::from(i) / 2.0)).collect();
    part.lathe(
        centred(),
        FACETS,
        &[
            span("drum_bottom", Flat::Disc, &[(6.0, 4.3), (6.2, 4.5)]),
            span("drum_wall", Flat::Strip, &wall),
            span("drum_top", Flat::Disc, &[(6.2, 10.9), (6.11, 11.11), (5.9, 11.2), (4.6, 11.2)]),
        ],
    );
    part
}

/// A half-round moulding about the drum, closed inside it.
fn bead(name: &str, height: f64) -> Part {
    let mut part = Part::new(name, "brass");
    let arc = (0..=4).map(|i| PI * (f64::from(i) / 4.0 - 0.5));
    let mut profile: Vec<(f64, f64)> =
        arc.map(|turn| (DRUM_RADIUS - 0.02 + 0.22 * turn.cos(), height + 0.22 * turn.sin())).collect();
    profile.push(profile[0]);
    part.lathe(centred(), FACETS, &[span(&format!("{name}_ring"), Flat::Strip, &profile)]);
    part
}

fn nameplate() -> Vec<Part> {
    let middle = DVec3::Y * 7.7;
    let mut boss = Part::new("nameplate_boss", "brass");
    let seat = [(0.0, 5.0)];
    boss.prism(facing_front(middle), &plaque(6.7, 3.2, 0.7, 3), &seat, &[(0.0, 6.31), (0.12, 6.36)]);
    let mut plate = Part::new("nameplate", "brass");
    let front = [(0.0, 6.56), (0.08, 6.6), (0.17, 6.6), (0.3, 6.56)];
    plate.prism(facing_front(middle), &plaque(6.2, 2.7, 0.65, 3), &[(0.0, 6.3)], &front);
    let at = |x: f64| Frame::new(dvec3(x, middle.y, 6.56), DVec3::Z, DVec3::NEG_Y);
    vec![boss, plate, screw("nameplate_screw_left", at(-2.45), 0.2), screw("nameplate_screw_right", at(2.45), 0.2)]
}

fn gallery() -> Part {
    let mut part = Part::new("gallery", "brass");
    part.lathe(
        centred(),
        FACETS,
        &[
            span("gallery_under", Flat::Ring, &[(4.3, 11.15), (5.1, 11.15)]),
            span("gallery_wall", Flat::Strip, &[(5.1, 11.15), (4.8, 11.8), (5.0, 12.55)]),
            span("gallery_lip", Flat::Ring, &[(5.0, 12.55), (4.92, 12.65), (4.3, 12.65)]),
            span("gallery_bore", Flat::Strip, &[(4.3, 12.65), (4.3, 11.15)]),
        ],
    );
    part
}

fn burner() -> Part {
    let mut part = Part::new("burner", "brass");
    part.lathe(
        centred(),
        24,
        &[
            span("burner_under", Flat::Floor, &[(1.8, 11.15)]),
            span("burner_wall", Flat::Strip, &[(1.8, 11.15), (1.8, 12.6)]),
            span("burner_cone", Flat::Cone, &[(1.8, 12.6), (0.7, 13.6)]),
            span("burner_top", Flat::Roof, &[(0.7, 13.6)]),
        ],
    );
    part
}

fn wick() -> Part {
    let mut part = Part::new("wick", "enamel");
    let frame = floor_plan(DVec3::Y * 13.5);
    part.prism(frame, &rectangle(0.9, 0.22), &[(0.0, 0.0)], &[(0.0, 0.78), (0.05, 0.8)]);
    part
}

/// Turned about an axis towards +x; its seam looks down.
fn towards_right(x: f64) -> Frame {
    Frame::new(dvec3(x, 11.9, 0.0), DVec3::X, DVec3::Y)
}

fn wick_shaft() -> Part {
    let mut part = Part::new("wick_shaft", "steel");
    let frame = towards_right(0.0);
    part.lathe(
        frame,
        12,
        &[
            span("wick_shaft_start", Flat::Floor, &[(0.17, 4.5)]),
            span("wick_shaft_side", Flat::Strip, &[(0.17, 4.5), (0.17, 7.35)]),
            span("wick_shaft_end", Flat::Disc, &[(0.17, 7.35), (0.13, 7.38)]),
        ],
    );
    part
}

fn wick_wheel() -> Part {
    let mut part = Part::new("wick_wheel", "brass");
    let frame = Frame::new(dvec3(6.8, 11.9, 0.0), DVec3::Z, DVec3::X);
    let outline = toothed(18, 0.86, 0.97);
    part.prism(frame, &outline, &[(0.0, 0.0)], &[(0.0, 0.36)]);
    part
}

fn chimney() -> Part {
    let mut part = Part::new("chimney", "glass");
    let (end, foot, height) = CHIMNEY_END;
    let half = height / 2.0;
    let arc = (half * half + CHIMNEY_BULGE * CHIMNEY_BULGE) / (2.0 * CHIMNEY_BULGE);
    let reach = (half / arc).asin();
    let on_arc = |step: usize, steps: usize, inset: f64| {
        let turn = reach * (2.0 * step as f64 / steps as f64 - 1.0);
        (end + CHIMNEY_BULGE - arc + (arc - inset) * turn.cos(), foot + half + (arc - inset) * turn.sin())
    };
    let outer: Vec<_> = (0..=CHIMNEY_ROWS).map(|i| on_arc(i, CHIMNEY_ROWS, 0.0)).collect();
    let inner: Vec<_> = (0..=4).rev().map(|i| on_arc(i, 4, GLASS)).collect();
    part.lathe(
        centred(),
        FACETS,
        &[
            span("chimney_outside", Flat::Even, &outer),
            span("chimney_top", Flat::Ring, &[outer[CHIMNEY_ROWS], inner[0]]),
            span("chimney_inside", Flat::Strip, &inner),
            span("chimney_foot", Flat::Ring, &[inner[4], outer[0]]),
        ],
    );
    part
}

fn rod(side: &str, degrees: f64) -> Part {
    let mut part = Part::new(&format!("rod_{side}"), "brass");
    let frame = Frame::new(bearing(degrees) * 5.6, DVec3::Y, bearing(degrees));
    let (low, high) = (11.1, 24.7);
    part.lathe(
        frame,
        ROD_FACETS,
        &[
            span("rod_foot", Flat::Floor, &[(ROD_RADIUS, low)]),
            span("rod_side", Flat::Strip, &[(ROD_RADIUS, low), (ROD_RADIUS, 18.5), (ROD_RADIUS, high)]),
            span("rod_head", Flat::Roof, &[(ROD_RADIUS, high)]),
        ],
    );
    rename(&mut part, "rod", &format!("rod_{side}"));
    part
}

fn hoop() -> Part {
    let mut part = Part::new("hoop", "brass");
    let profile: Vec<(f64, f64)> = (0..=8)
        .map(|i| PI * f64::from(i % 8) / 4.0)
        .map(|turn| (5.86 - 0.17 * turn.cos(), 18.5 - 0.17 * turn.sin()))
        .collect();
    part.lathe(centred(), FACETS, &[span("hoop_ring", Flat::Strip, &profile)]);
    part
}

fn crown() -> Part {
    let mut part = Part::new("crown", "brass");
    part.lathe(
        centred(),
        FACETS,
        &[
            span("crown_under", Flat::Ring, &[(4.0, 24.4), (6.1, 24.4), (6.3, 24.6)]),
            span("crown_wall", Flat::Strip, &[(6.3, 24.6), (6.3, 25.7)]),
            span("crown_top", Flat::Ring, &[(6.3, 25.7), (6.1, 25.9), (4.0, 25.9)]),
            span("crown_bore", Flat::Strip, &[(4.0, 25.9), (4.0, 24.4)]),
        ],
    );
    part
}

/// The draught's way out: a toothed ring between crown and cap. Its n-gons are far from convex.
fn vent_ring() -> Part {
    let mut part = Part::new("vent_ring", "steel");
    let outline: Vec<DVec2> = toothed(20, 4.3, 4.8);
    part.prism(floor_plan(DVec3::ZERO), &outline, &[(0.0, 25.85)], &[(0.0, 27.65)]);
    part
}

fn cap() -> Part {
    let mut part = Part::new("cap", "brass");
    let (foot, head, rise) = CAP_CONE;
    let cone: Vec<(f64, f64)> =
        (0..=2).map(|i| f64::from(i) / 2.0).map(|t| (foot + (head - foot) * t, 28.2 + rise * t)).collect();
    part.lathe(
        centred(),
        FACETS,
        &[
            span("cap_under", Flat::Disc, &[(4.5, 27.6), (6.35, 27.6)]),
            span("cap_rim", Flat::Strip, &[(6.35, 27.6), (6.5, 27.75), (6.5, 28.05), (6.35, 28.2)]),
            span("cap_cone", Flat::Cone, &cone),
            span("cap_top", Flat::Roof, &[(2.2, 32.0)]),
        ],
    );
    part
}

fn cowl() -> Part {
    let mut part = Part::new("cowl", "enamel");
    part.lathe(
        centred(),
        28,
        &[
            span("cowl_under", Flat::Floor, &[(1.8, 31.95)]),
            span("cowl_neck", Flat::Strip, &[(1.8, 31.95), (1.8, 33.0)]),
            span("cowl_eaves", Flat::Ring, &[(1.8, 33.0), (2.6, 33.0)]),
            span("cowl_rim", Flat::Strip, &[(2.6, 33.0), (2.68, 33.1), (2.68, 33.25), (2.6, 33.35)]),
            span("cowl_roof", Flat::Cone, &[(2.6, 33.35), (0.6, 34.75)]),
            span("cowl_top", Flat::Roof, &[(0.6, 34.75)]),
        ],
    );
    part
}

fn finial() -> Part {
    let mut part = Part::new("finial", "brass");
    part.lathe(
        centred(),
        16,
        &[
            span("finial_under", Flat::Floor, &[(0.36, 34.7)]),
            span("finial_neck", Flat::Strip, &[(0.36, 34.7), (0.32, 34.9), (0.36, 35.1)]),
            span("finial_flare", Flat::Ring, &[(0.36, 35.1), (0.56, 35.22)]),
            span("finial_knob", Flat::Strip, &[(0.56, 35.22), (0.62, 35.4), (0.62, 35.6), (0.56, 35.78)]),
            span("finial_tip", Flat::Disc, &[(0.56, 35.78), (0.36, 35.9)]),
        ],
    );
    part
}

/// At the back: one leaf on the crown, one on the cap's rim, the barrel lying across between them.
fn hinge() -> Vec<Part> {
    let back = |y: f64| Frame::new(dvec3(0.0, y, 0.0), DVec3::Y, DVec3::NEG_Z);
    let leaf = |name: &str, y: f64, height: f64| {
        let mut part = Part::new(name, "brass");
        part.prism(back(y), &rectangle(3.0, height), &[(0.0, 6.0)], &[(0.0, 6.54), (0.1, 6.58)]);
        part
    };
    let mut barrel = Part::new("hinge_barrel", "steel");
    let across = Frame::new(dvec3(0.0, 26.72, -6.62), DVec3::X, DVec3::NEG_Z);
    barrel.lathe(
        across,
        16,
        &[
            span("hinge_barrel_left", Flat::Disc, &[(0.2, -1.72), (0.34, -1.67)]),
            span("hinge_barrel_side", Flat::Strip, &[(0.34, -1.67), (0.34, 1.67)]),
            span("hinge_barrel_right", Flat::Disc, &[(0.34, 1.67), (0.2, 1.72)]),
        ],
    );
    vec![leaf("hinge_leaf_lower", 25.65, 1.7), leaf("hinge_leaf_upper", 27.55, 1.3), barrel]
}

/// At the front: a hasp from the cap's rim down over the crown, with a knob to lift it by.
fn latch() -> Vec<Part> {
    let mut hasp = Part::new("latch_hasp", "steel");
    let middle = dvec3(0.0, 26.6, 0.0);
    hasp.prism(facing_front(middle), &plaque(1.1, 2.9, 0.22, 3), &[(0.0, 6.15)], &[(0.0, 6.59), (0.08, 6.63)]);
    let mut knob = Part::new("latch_knob", "brass");
    let frame = Frame::new(dvec3(0.0, 25.75, 6.6), DVec3::Z, DVec3::NEG_Y);
    knob.lathe(
        frame,
        12,
        &[
            span("latch_knob_seat", Flat::Floor, &[(0.2, 0.0)]),
            span("latch_knob_stem", Flat::Strip, &[(0.2, 0.0), (0.2, 0.2)]),
            span("latch_knob_shoulder", Flat::Ring, &[(0.2, 0.2), (0.36, 0.24)]),
            span("latch_knob_side", Flat::Strip, &[(0.36, 0.24), (0.38, 0.32), (0.38, 0.42), (0.36, 0.5)]),
            span("latch_knob_face", Flat::Disc, &[(0.36, 0.5), (0.2, 0.55)]),
        ],
    );
    vec![hasp, knob]
}

/// What carries the handle on one side: a block on the crown, an upright, and a socket for the handle's end.
fn lug(side: &str, sign: f64) -> Vec<Part> {
    let mut block = Part::new(&format!("lug_block_{side}"), "brass");
    block.prism(
        floor_plan(dvec3(sign * 6.65, 0.0, 0.0)),
        &rectangle(1.4, 1.5),
        &[(0.0, 24.65), (0.12, 24.6)],
        &[(0.0, 25.65), (0.12, 25.7)],
    );
    let mut upright = Part::new(&format!("lug_upright_{side}"), "brass");
    upright.prism(
        floor_plan(dvec3(sign * HANDLE_REACH, 0.0, 0.0)),
        &rectangle(UPRIGHT.0, UPRIGHT.1),
        &[(0.0, 25.5)],
        &[(0.0, 25.5 + UPRIGHT.2)],
    );
    let mut socket = Part::new(&format!("lug_socket_{side}"), "steel");
    let frame = Frame::new(dvec3(sign * HANDLE_REACH, 0.0, 0.0), DVec3::Y, DVec3::X * sign);
    socket.lathe(
        frame,
        20,
        &[
            span("socket_under", Flat::Disc, &[(0.54, 28.8), (0.62, 28.88)]),
            span("socket_side", Flat::Strip, &[(0.62, 28.88), (0.62, 30.0)]),
            span("socket_top", Flat::Disc, &[(0.62, 30.0), (0.54, 30.08)]),
        ],
    );
    rename(&mut socket, "socket", &format!("lug_socket_{side}"));
    vec![block, upright, socket]
}

/// Ring radius of the handle and the height of its middle, cm.
const HANDLE: (f64, f64) = (7.3, 31.75);

fn handle() -> Part {
    let mut part = Part::new("handle", "brass");
    let below = (HANDLE_REACH / HANDLE.0).acos();
    part.tube(facing_front(dvec3(0.0, HANDLE.1, 0.0)), HANDLE.0, 0.42, (PI + below, -below), (32, 10));
    part
}

/// The turned grip on the handle's crest.
fn grip() -> Part {
    let mut part = Part::new("grip", "enamel");
    let half = 26_f64.to_radians();
    let spread = (PI / 2.0 + half, PI / 2.0 - half);
    part.tube(facing_front(dvec3(0.0, HANDLE.1, 0.0)), HANDLE.0, 0.68, spread, (10, 12));
    part
}
