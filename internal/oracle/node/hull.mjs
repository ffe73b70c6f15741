// Volumes and areas of convex hulls by manifold-3d (npm). Reads from standard
// input a JSON list of lists of points [x, y, z]; answers a list of {volume, area}.
import { readFileSync } from "node:fs";
import factory from "./node_modules/manifold-3d/manifold.js";

const wasm = await factory();
wasm.setup();
const { Manifold } = wasm;
const out = JSON.parse(readFileSync(0)).map((points) => {
  const hull = Manifold.hull(points);
  const answer = { volume: hull.volume(), area: hull.surfaceArea() };
  hull.delete();
  return answer;
});
process.stdout.write(JSON.stringify(out));
