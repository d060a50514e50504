// How long the main thread is blocked: what the browser calls a long task (over 50 ms), and the longest pause between two
// beats of a timer, which sees shorter tasks too. A pause holds several short tasks where nothing came between them.

/** To be given to `page.addInitScript`; `heldSince` reads what it notes. */
export function watchThread() {
  const BEAT_MS = 4;
  const notes = { tasks: [], pauses: [] };
  new PerformanceObserver((list) => {
    for (const { startTime, duration } of list.getEntries()) notes.tasks.push([startTime, duration]);
  }).observe({ type: 'longtask', buffered: true });
  let last = performance.now();
  const beat = () => {
    const now = performance.now();
    if (now - last > 2 * BEAT_MS) notes.pauses.push([last, now - last - BEAT_MS]);
    last = now;
    setTimeout(beat, BEAT_MS);
  };
  beat();
  Object.defineProperty(window, 'threadNotes', { value: notes });
}

/**
 * The longest task and the longest pause that began at or after `since` (ms of the page's clock, 0 for its start), and
 * the page's clock now. A task of 50 ms or less is not reported and counts as 0.
 */
export async function heldSince(page, since = 0) {
  // Long tasks are reported a moment after they end.
  await page.waitForTimeout(150);
  return page.evaluate((from) => {
    const longest = (notes) => notes.reduce((most, [start, duration]) => (start >= from ? Math.max(most, duration) : most), 0);
    const { tasks, pauses } = window.threadNotes;
    return { task: longest(tasks), pause: longest(pauses), now: performance.now() };
  }, since);
}

/**
 * Watches a page's main thread through the browser's own trace, which knows how long a task computed and how long it took
 * with waiting. Returns a function that ends it and gives the maximum of both, ms, the number of tasks, and what the
 * task did that computed longest. Tasks that the test causes through the debugger's session do not count.
 */
export async function traceThread(page) {
  // The trace covers the whole browser with its own windows; a mark of the page identifies the page's thread.
  const MARK = 'thread-watched';
  const client = await page.context().newCDPSession(page);
  const events = [];
  client.on('Tracing.dataCollected', ({ value }) => events.push(...value));
  await client.send('Tracing.start', {
    transferMode: 'ReportEvents',
    traceConfig: { includedCategories: ['toplevel', 'devtools.timeline', 'blink.user_timing'] },
  });
  return async () => {
    await page.evaluate((name) => performance.mark(name), MARK);
    const complete = new Promise((resolve) => client.once('Tracing.tracingComplete', resolve));
    await client.send('Tracing.end');
    await complete;
    await client.detach();
    const own = events.find(({ name }) => name === MARK);
    const ofPage = events.filter(({ ph, pid, tid }) => ph === 'X' && pid === own?.pid && tid === own?.tid);
    const ordered = ofPage.filter(({ args }) => args?.chrome_mojo_event_info?.mojo_interface_tag === 'blink.mojom.DevToolsSession');
    const tasks = ofPage.filter((task) => /RunTask$/.test(task.name) && !ordered.some((order) => isWithin(order, task)));
    // The browser has processor time only where the system reports it.
    const most = (of) => tasks.reduce((longest, task) => Math.max(longest, (of(task) ?? 0) / 1000), 0);
    return { computed: most(({ tdur }) => tdur), taken: most(({ dur }) => dur), tasks: tasks.length, did: workOf(tasks, ofPage) };
  };
}

const isWithin = (part, task) => part.ts >= task.ts && part.ts < task.ts + task.dur;

/** What the task with the most processor time did, longest first: the browser's names of it, ms, and the script where it was one. */
function workOf(tasks, events) {
  const computed = ({ tdur = 0 }) => tdur / 1000;
  const [longest] = tasks.toSorted((a, b) => computed(b) - computed(a));
  const parts = events.filter((event) => event !== longest && isWithin(event, longest)).toSorted((a, b) => computed(b) - computed(a));
  return parts.slice(0, 6).map((part) => {
    const { functionName, url, lineNumber } = part.args?.data ?? {};
    const script = [functionName, url?.split('/').at(-1), lineNumber].filter(Boolean).join(':');
    return `${[part.name, script].filter(Boolean).join(' ')} ${computed(part).toFixed(0)}`;
  }).join(', ');
}
