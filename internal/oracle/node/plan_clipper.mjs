// Holds shells against Clipper2 (npm clipper2-wasm). Reads from standard input
// a JSON list of {rings, width, shells}, a ring being a flat list x, y, x, y…
// in microns. Answers, for each, the length in mm of the outline offset inward
// by half a width and then by whole ones, and the area in mm² of what is left.
import { readFileSync } from "node:fs";
import factory from "./node_modules/clipper2-wasm/dist/es/clipper2z.js";

const c = await factory({ wasmBinary: readFileSync("node_modules/clipper2-wasm/dist/es/clipper2z.wasm") });

function around(paths) {
  let length = 0;
  for (let i = 0; i < paths.size(); i++) {
    const path = paths.get(i);
    for (let k = 0; k < path.size(); k++) {
      const p = path.get(k), q = path.get((k + 1) % path.size());
      length += Math.hypot(Number(p.x - q.x), Number(p.y - q.y));
    }
    path.delete?.();
  }
  return length / 1000;
}

function run({ rings, width, shells }) {
  const raw = new c.Paths64();
  for (const ring of rings) {
    const path = c.MakePath64(ring);
    raw.push_back(path);
    path.delete();
  }
  const clean = c.UnionSelf64(raw, c.FillRule.NonZero);
  const inset = (d) => c.InflatePaths64(clean, -d, c.JoinType.Miter, c.EndType.Polygon, 2, 0);
  const lengths = [];
  for (let k = 0; k < shells; k++) {
    const line = inset((k + 0.5) * width);
    lengths.push(around(line));
    line.delete();
  }
  const inner = inset(shells * width);
  const left = c.AreaPaths64(inner) / 1e6;
  inner.delete();
  clean.delete();
  raw.delete();
  return { lengths, left };
}

process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(run)));
