// Clips lines to regions with Clipper2 (npm clipper2-wasm), which cuts open
// paths. Reads from standard input a JSON list of {region, lines}: region is a
// list of rings, a ring a flat list x, y, x, y…, read under the nonzero rule; a
// line is [x1, y1, x2, y2]. Answers for each case the list of pieces inside,
// each [x1, y1, x2, y2], in no order.
import { readFileSync } from "node:fs";
import factory from "./node_modules/clipper2-wasm/dist/es/clipper2z.js";

const c = await factory({ wasmBinary: readFileSync("node_modules/clipper2-wasm/dist/es/clipper2z.wasm") });

function paths(list) {
  const out = new c.Paths64();
  for (const flat of list) {
    const path = c.MakePath64(flat);
    out.push_back(path);
    path.delete();
  }
  return out;
}

function run({ region, lines }) {
  const rings = paths(region), open = paths(lines);
  const closed = new c.Paths64(), pieces = new c.Paths64();
  const engine = new c.Clipper64();
  engine.AddOpenSubject(open);
  engine.AddClip(rings);
  engine.ExecutePath(c.ClipType.Intersection, c.FillRule.NonZero, closed, pieces);
  const answer = [];
  for (let i = 0; i < pieces.size(); i++) {
    const path = pieces.get(i);
    for (let k = 1; k < path.size(); k++) {
      const p = path.get(k - 1), q = path.get(k);
      answer.push([Number(p.x), Number(p.y), Number(q.x), Number(q.y)]);
      p.delete?.();
      q.delete?.();
    }
    path.delete?.();
  }
  for (const x of [engine, rings, open, closed, pieces]) x.delete();
  return answer;
}

process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(run)));
