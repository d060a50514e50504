/**
 * How much of the surface is of which kind: the bits of a triangle's words (src/lens.rs) that make it so. The worker asks
 * the module; legends say the shares in numbers.
 *
 * @import {Area, Areas, Session} from "../core/messages.js"
 */

// Flags; above bit 8, states.
const [MAPPED, REVERSED, FLIPPED, FOLDED, STRETCHED, MIRRORED, STACKED, PARTIAL_OVERLAP] = /** @type {const} */ ([1, 2, 4, 8, 16, 32, 64, 128]);
const [COLLAPSED, TILTED, UNSAFE] = /** @type {const} */ ([1 << 8, 64 << 8, 128 << 8]);

/** @type {Readonly<Record<Area, number>>} */
const MASKS = {
  mapped: MAPPED,
  reversed: REVERSED,
  flipped: FLIPPED,
  folded: FOLDED,
  stretched: STRETCHED | COLLAPSED,
  mirrored: MIRRORED,
  stacked: STACKED,
  partial_overlap: PARTIAL_OVERLAP,
  shared: MIRRORED | STACKED | PARTIAL_OVERLAP,
  tilted: TILTED,
  unsafe: UNSAFE,
};

/**
 * @param {Session} session
 * @returns {Areas}
 */
export function areasOf(session) {
  const shares = session.area_shares(Uint32Array.from(Object.values(MASKS)));
  return /** @type {Areas} */ (Object.fromEntries(Object.keys(MASKS).map((name, at) => [name, shares[at] ?? 0])));
}
