// Files that are dragged over a page and dropped on it, through the browser's own drag events.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** `DragOperationsMask` of the DevTools protocol: copying is allowed. */
const COPY = 1;

/** Drags files, by name and content, over the page. */
export async function hand(t, page, context, files) {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-drop-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const paths = Object.entries(files).map(([name, content]) => {
    writeFileSync(join(folder, name), content);
    return join(folder, name);
  });
  const devtools = await context.newCDPSession(page);
  const data = { items: [], files: paths, dragOperationsMask: COPY };
  const send = (type, at = { x: 400, y: 300 }) => devtools.send('Input.dispatchDragEvent', { type, ...at, data });
  return {
    over: async () => {
      await send('dragEnter');
      await send('dragOver');
    },
    away: async () => {
      // The drag leaves the page past its edge; cancelling alone sends the page no event.
      await send('dragOver', { x: -5, y: -5 });
      await send('dragCancel', { x: -5, y: -5 });
    },
    drop: () => send('drop'),
  };
}
