// A course site's side of the protocol `gridproof-embed/1`. `?page=` names the page to show; without it, the one of the
// site that this example lies in.

const protocol = "gridproof-embed/1";
const page = new URL(new URLSearchParams(location.search).get("page") ?? "..", location.href);
const [frame, form, file, lens, small, answer] = ["frame", "form", "file", "lens", "small", "answer"].map((id) => document.getElementById(id));
let handed = 0;

/** Sends one message to the frame, and to nobody else who might be shown in it. */
function send(message, transfer = []) {
  frame.contentWindow.postMessage({ protocol, ...message }, page.origin, transfer);
}

async function hand(blob, name) {
  const bytes = await blob.arrayBuffer();
  handed += 1;
  send({ type: "open", id: `hand-in-${handed}`, name, bytes, brief: brief() }, [bytes]);
}

function brief() {
  return small.checked ? { map: { width_px: 1024, height_px: 1024 } } : {};
}

const heard = {
  // A message is called by its own name, never by one that every object has.
  __proto__: null,
  ready({ lenses }) {
    lens.replaceChildren(...lenses.map((name) => new Option(name, name)));
    answer.textContent = "Ready. Choose a model.";
  },
  progress({ text, share }) {
    answer.textContent = share === null ? `${text} …` : `${text}, ${Math.round(share * 100)} %`;
  },
  report({ report }) {
    const stops = report.findings.filter(({ severity }) => severity === "must-fix").length;
    answer.textContent = `${report.file.name}: ${report.verdict}, ${report.findings.length} findings, ${stops} of which must be fixed.`;
  },
  failed({ message, place }) {
    answer.textContent = `${place}: ${message}`;
  },
  refused({ message }) {
    answer.textContent = `Refused: ${message}`;
  },
};

addEventListener("message", ({ data, origin, source }) => {
  if (source === frame.contentWindow && origin === page.origin && data?.protocol === protocol) heard[data.type]?.(data);
});
file.addEventListener("change", () => file.files[0] && hand(file.files[0], file.files[0].name));
document.getElementById("draft").addEventListener("click", async () => {
  const response = await fetch("lantern-draft.obj");
  await hand(await response.blob(), "lantern-draft.obj");
});
lens.addEventListener("change", () => send({ type: "lens", lens: lens.value }));
small.addEventListener("change", () => send({ type: "brief", brief: brief() }));
form.addEventListener("submit", (event) => event.preventDefault());
frame.src = page.href;
