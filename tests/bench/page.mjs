import * as THREE from 'three';
import { OBJLoader } from 'three/addons/loaders/OBJLoader.js';

const ROUNDS = 3;
const SIDE = 900;
const FRAMES = 5;
const STEP_RAD = 0.05;
const LENSES = ['grid', 'stretch', 'density', 'flipped', 'overlaps'];

globalThis.benchmark = async () => {
  const blob = await (await fetch('/model.obj')).blob();
  console.log(`file: ${(blob.size / 1e6).toFixed(1)} MB`);
  const best = {};
  let last;
  for (let round = 0; round < ROUNDS; round += 1) {
    const ours = await inWorker(blob);
    const start = performance.now();
    const group = new OBJLoader().parse(await blob.text());
    const three = performance.now() - start;
    // Interleaved, since the machine's load changes.
    const command = await globalThis.timedCommand();
    for (const [key, time] of Object.entries({ ...ours.times, three, command })) {
      best[key] = Math.min(best[key] ?? Infinity, time);
    }
    last = { ours, group };
  }
  console.log(`three's OBJLoader: ${ms(best.three)}`);
  console.log(`reading:           ${ms(best.fed)}, 1/${(best.three / best.fed).toFixed(1)} of it (joined into shells: ${ms(best.read)})`);
  console.log(`whole report:      ${ms(best.report)}, ${(best.report / best.three).toFixed(2)} of it`);
  for (const [key, time] of Object.entries(best)) {
    if (key.startsWith('stage ')) console.log(`  ${key.slice(6)}: ${ms(time)}`);
  }
  console.log(`the command's report, with its start: ${ms(best.command)}, ${(best.command / best.three).toFixed(2)} of it`);
  console.log(`peak wasm memory:  ${(last.ours.memory / 1e6).toFixed(0)} MB, ${(last.ours.memory / blob.size).toFixed(2)} of the file`);
  const three = await drawThree(last.group);
  const ours = await drawOurs(last.ours);
  console.log(`a picture, three with one texture: ${ms(three)}`);
  for (const [lens, { full, moving }] of Object.entries(ours)) {
    console.log(`a picture, lens ${lens}: ${ms(full)}, ${(full / three).toFixed(2)} of it; a draft while moving: ${ms(moving)}, ${(moving / three).toFixed(2)}`);
  }
};

const ms = (value) => `${value.toFixed(0)} ms`;

function inWorker(blob) {
  return new Promise((resolve, reject) => {
    const worker = new Worker('worker.mjs', { type: 'module' });
    worker.onerror = reject;
    worker.onmessage = ({ data }) => {
      worker.terminate();
      resolve(data);
    };
    worker.postMessage(blob);
  });
}

function canvas() {
  const element = document.createElement('canvas');
  element.width = SIDE;
  element.height = SIDE;
  document.body.replaceChildren(element);
  return element;
}

/** Yields to the browser's events, such as a signalled fence. */
const breathe = () => new Promise((resolve) => setTimeout(resolve, 0));

/** Median time of a frame, finished by reading one pixel of it. */
async function pictures(gl, draw) {
  const pixel = new Uint8Array(4);
  const times = [];
  for (let frame = 0; frame < FRAMES; frame += 1) {
    await breathe();
    const start = performance.now();
    draw(frame);
    gl.readPixels(SIDE / 2, SIDE / 2, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
    times.push(performance.now() - start);
  }
  return times.sort((a, b) => a - b)[FRAMES >> 1];
}

/** Where the eye is in a frame, for both: a step around the model. */
function eyeAt(frame, radius) {
  const angle = frame * STEP_RAD;
  return [Math.sin(angle), 0.3, Math.cos(angle)].map((part) => part * radius * 4);
}

async function drawThree(group) {
  const renderer = new THREE.WebGLRenderer({ canvas: canvas(), antialias: true });
  renderer.setSize(SIDE, SIDE, false);
  const texels = new Uint8Array(2048 * 2048 * 4).map((_, index) => (index * 2654435761) >>> 24);
  const map = new THREE.DataTexture(texels, 2048, 2048);
  map.generateMipmaps = true;
  map.minFilter = THREE.LinearMipmapLinearFilter;
  map.magFilter = THREE.LinearFilter;
  map.anisotropy = renderer.capabilities.getMaxAnisotropy();
  map.needsUpdate = true;
  group.traverse((child) => {
    if (child.isMesh) child.material = new THREE.MeshLambertMaterial({ map, side: THREE.DoubleSide });
  });
  const scene = new THREE.Scene();
  scene.add(group, new THREE.HemisphereLight(), new THREE.DirectionalLight());
  const sphere = new THREE.Box3().setFromObject(group).getBoundingSphere(new THREE.Sphere());
  const camera = new THREE.PerspectiveCamera(30, 1, sphere.radius / 100, sphere.radius * 20);
  const time = await pictures(renderer.getContext(), (frame) => {
    camera.position.set(...eyeAt(frame, sphere.radius)).add(sphere.center);
    camera.lookAt(sphere.center);
    renderer.render(scene, camera);
  });
  renderer.dispose();
  return time;
}

async function drawOurs({ mesh, triangles, lines }) {
  const engine = await import('/site/wasm/gridproof.js');
  await engine.default();
  const { openContext } = await import('/site/www/base/context.js');
  const element = canvas();
  const gl = openContext(element);
  const view = new engine.View();
  const painter = new engine.Painter(gl);
  view.set_layout(SIDE, SIDE, 1, Float64Array.of(0, 0, SIDE, SIDE), null);
  view.set_map(2048, 2048);
  view.set_extent(mesh);
  painter.set_grid(2048, 2048, 64, '', 96);
  painter.set_model(mesh);
  painter.set_triangles(triangles);
  painter.set_lines(lines);
  const frame = () => {
    const now = performance.now();
    const sight = view.sight(now);
    if (sight.length > 0) painter.set_sight(sight);
    return painter.frame(now);
  };
  const times = {};
  for (const lens of LENSES) {
    painter.set_lens(lens);
    while (frame()) await breathe();
    // A camera set by a flight of zero duration does not move: the frame has full quality.
    const full = await pictures(gl, (turn) => {
      view.fly_to({ eye: eyeAt(turn, mesh.radius), target: [0, 0, 0] }, 0, performance.now());
      frame();
    });
    const moving = await pictures(gl, () => {
      view.orbit(9, 0);
      frame();
    });
    times[lens] = { full, moving };
  }
  return times;
}
