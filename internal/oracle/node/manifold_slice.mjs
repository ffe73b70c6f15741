// Cuts a mesh with manifold-3d and times it. Reads from standard input
// {stl: path of a binary STL, z: [heights in the file's own numbers]} and
// answers {status, areas, ms: {load, build, cut}}. Manifold keeps
// float32 vertices, as the file does, and takes a solid by positive winding; an
// area is in the file's own units squared. Vertices of equal coordinates are
// made one while loading, as a reader of STL has to.
import { readFileSync } from "node:fs";
import factory from "./node_modules/manifold-3d/manifold.js";

const { stl, z } = JSON.parse(readFileSync(0, "utf8"));
const lib = await factory();
lib.setup();
const { Manifold, Mesh } = lib;

function load(path) {
  const file = readFileSync(path);
  const view = new DataView(file.buffer, file.byteOffset, file.byteLength);
  const n = view.getUint32(80, true);
  const verts = new Float32Array(9 * n), tris = new Uint32Array(3 * n);
  const bits = new Uint32Array(verts.buffer);
  // Open addressing over the bits of the three coordinates.
  let size = 1024;
  while (size < 6 * n) size *= 2;
  const slot = new Int32Array(size).fill(-1);
  let count = 0;
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < 3; k++) {
      const at = 84 + 50 * i + 12 + 12 * k;
      const x = view.getFloat32(at, true) + 0, y = view.getFloat32(at + 4, true) + 0, w = view.getFloat32(at + 8, true) + 0;
      verts[3 * count] = x;
      verts[3 * count + 1] = y;
      verts[3 * count + 2] = w;
      const a = bits[3 * count], b = bits[3 * count + 1], c = bits[3 * count + 2];
      let h = Math.imul(Math.imul(a, 73856093) ^ Math.imul(b, 19349663) ^ Math.imul(c, 83492791), 0x9e3779b1);
      h = (h ^ (h >>> 15)) & (size - 1);
      for (;;) {
        const v = slot[h];
        if (v < 0) {
          slot[h] = tris[3 * i + k] = count++;
          break;
        }
        if (bits[3 * v] === a && bits[3 * v + 1] === b && bits[3 * v + 2] === c) {
          tris[3 * i + k] = v;
          break;
        }
        h = (h + 1) & (size - 1);
      }
    }
  }
  return new Mesh({ numProp: 3, vertProperties: verts.slice(0, 3 * count), triVerts: tris });
}

const t0 = performance.now();
const mesh = load(stl);
const t1 = performance.now();
let solid, status = "NoError";
try {
  solid = new Manifold(mesh);
  status = solid.status();
} catch (e) {
  status = String(e.code ?? e.message ?? e);
}
const t2 = performance.now();
const areas = [];
if (solid) {
  for (const h of z) {
    const s = solid.slice(h);
    areas.push(s.area());
    s.delete();
  }
}
const t3 = performance.now();
process.stdout.write(JSON.stringify({ status, areas, ms: { load: t1 - t0, build: t2 - t1, cut: t3 - t2 } }));
