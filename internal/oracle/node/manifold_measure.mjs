// Reads {"files": [path, …]}, STL files, and answers what manifold-3d makes of
// each: {"status", "volume", "area", "genus", "facets"}, volume and area only
// where status is "NoError".
import { readFileSync } from 'node:fs';
import Module from 'manifold-3d';

const wasm = await Module();
wasm.setup();
const { Manifold, Mesh } = wasm;

function corners(data) {
  const n = data.length >= 84 ? data.readUInt32LE(80) : 0;
  const out = [];
  if (n > 0 && data.length >= 84 + 50 * n) {
    for (let i = 0; i < n; i++)
      for (let k = 0; k < 9; k++) out.push(data.readFloatLE(84 + 50 * i + 12 + 4 * k));
    return out;
  }
  for (const m of data.toString('latin1').matchAll(/vertex\s+(\S+)\s+(\S+)\s+(\S+)/g))
    out.push(Math.fround(m[1]), Math.fround(m[2]), Math.fround(m[3]));
  return out;
}

// One vertex for equal coordinates, then Mesh.merge for what is nearly equal on open edges.
function build(xyz) {
  const index = new Map(), vertices = [], facets = [];
  for (let i = 0; i < xyz.length; i += 3) {
    const key = `${xyz[i] + 0},${xyz[i + 1] + 0},${xyz[i + 2] + 0}`;
    let v = index.get(key);
    if (v === undefined) {
      v = index.size;
      index.set(key, v);
      vertices.push(xyz[i], xyz[i + 1], xyz[i + 2]);
    }
    facets.push(v);
  }
  const whole = [];
  for (let i = 0; i < facets.length; i += 3) {
    const [a, b, c] = facets.slice(i, i + 3);
    if (a !== b && b !== c && c !== a) whole.push(a, b, c);
  }
  const mesh = new Mesh({ numProp: 3, vertProperties: new Float32Array(vertices), triVerts: new Uint32Array(whole) });
  mesh.merge();
  return mesh;
}

const { files } = JSON.parse(readFileSync(0, 'utf8'));
const answers = files.map((file) => {
  try {
    const solid = new Manifold(build(corners(readFileSync(file))));
    const status = solid.status();
    const answer = { status: String(status), volume: 0, area: 0, genus: 0, facets: solid.numTri() };
    if (answer.facets > 0) {
      answer.volume = solid.volume();
      answer.area = solid.surfaceArea();
      answer.genus = solid.genus();
    }
    solid.delete();
    return answer;
  } catch (e) {
    return { status: String(e.message ?? e), volume: 0, area: 0, genus: 0, facets: 0 };
  }
});
console.log(JSON.stringify(answers));
