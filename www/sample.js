/**
 * OBJ text to practise on: browsers make code fast only once it has run for a while, and the first file of a visit should not
 * be the one that waits for it. Wavy patches of quads, every other one mirrored onto the one before.
 */

const PATCHES = 12;
/** Quads along each side of a patch. */
const SIDE = 20;
/** Columns of patches on the sheet, and a patch's share of its cell. */
const COLUMNS = 3;
const FILLED = 0.9;

/** @returns {string} */
export function sample() {
  const lines = [];
  for (let patch = 0; patch < PATCHES; patch += 1) {
    const cell = patch >> 1;
    lines.push(`o patch${patch}`);
    for (let row = 0; row <= SIDE; row += 1) {
      for (let column = 0; column <= SIDE; column += 1) {
        const [x, y] = [column / SIDE, row / SIDE];
        const height = 0.2 * Math.sin(5 * x + patch) * Math.cos(4 * y);
        const across = FILLED * (patch % 2 ? 1 - x : x);
        lines.push(`v ${x + 2 * patch} ${y} ${height}`, `vt ${((cell % COLUMNS) + across) / COLUMNS} ${(Math.floor(cell / COLUMNS) + FILLED * y) / COLUMNS}`, `vn ${-height} ${height} 1`);
      }
    }
    const corner = (/** @type {number} */ row, /** @type {number} */ column) => {
      const index = 1 + patch * (SIDE + 1) ** 2 + row * (SIDE + 1) + column;
      return `${index}/${index}/${index}`;
    };
    for (let row = 0; row < SIDE; row += 1) {
      for (let column = 0; column < SIDE; column += 1) {
        lines.push(`f ${corner(row, column)} ${corner(row, column + 1)} ${corner(row + 1, column + 1)} ${corner(row + 1, column)}`);
      }
    }
  }
  return lines.join("\n");
}
