// Holds regions against Clipper2 (npm clipper2-wasm). Reads from standard input
// a JSON list of {op, a, b, d, join, arc}: op is nonzero, union, intersect,
// subtract, xor or offset; a and b are lists of rings, a ring a flat list
// x, y, x, y…; join is round, mitre or square. Every operand is read under the
// nonzero rule. Answers a list of {area, rings, points}.
import { readFileSync } from "node:fs";
import factory from "./node_modules/clipper2-wasm/dist/es/clipper2z.js";

const c = await factory({ wasmBinary: readFileSync("node_modules/clipper2-wasm/dist/es/clipper2z.wasm") });
const nonzero = c.FillRule.NonZero;
const joins = { round: c.JoinType.Round, mitre: c.JoinType.Miter, square: c.JoinType.Square };
const clips = {
  union: c.ClipType.Union, intersect: c.ClipType.Intersection,
  subtract: c.ClipType.Difference, xor: c.ClipType.Xor,
};

function paths(rings) {
  const out = new c.Paths64();
  for (const ring of rings ?? []) {
    const path = c.MakePath64(ring);
    out.push_back(path);
    path.delete();
  }
  return out;
}

function run({ op, a, b, d, join, arc }) {
  const p = paths(a), q = paths(b);
  let out;
  if (op === "nonzero") {
    out = c.UnionSelf64(p, nonzero);
  } else if (op === "offset") {
    const clean = c.UnionSelf64(p, nonzero);
    out = c.InflatePaths64(clean, d, joins[join], c.EndType.Polygon, 2, arc);
    clean.delete();
  } else {
    const x = c.UnionSelf64(p, nonzero), y = c.UnionSelf64(q, nonzero);
    out = c.BooleanOp64(clips[op], nonzero, x, y);
    x.delete();
    y.delete();
  }
  let points = 0;
  for (let i = 0; i < out.size(); i++) {
    const path = out.get(i);
    points += path.size();
    path.delete?.();
  }
  const answer = { area: c.AreaPaths64(out), rings: out.size(), points };
  out.delete();
  p.delete();
  q.delete();
  return answer;
}

process.stdout.write(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(run)));
